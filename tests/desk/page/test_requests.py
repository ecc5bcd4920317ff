"""Every route of the page, asked in every way that a hostile or broken sender may: never a 500.

Hypothesis makes the requests: as many as `COWLNOTE_FUZZ` says, 150 in the suite.
"""

from __future__ import annotations

import json
import os
import shutil
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.routing import Route

from tests.desk.page.conftest import client_of, fill

EXAMPLES = int(os.environ.get("COWLNOTE_FUZZ", "0")) or 150
# answered as long as somebody listens, or by work that is tested by itself and takes minutes
LONG = ("/intake/events", "/keep/models", "/keep/check", "/phone/told")

KEYS = """id act value shown although first replaces name position words files to by because defect
state until in entry withdraw seen size key type began modified on text aircraft registration kind
date hours from q since field page px of path folder zone units number oil tach_time job report lab
metals iron copper what after months model role say heard meant""".split()  # noqa: SIM905
ODD = [
    None, True, False, 0, 1, -1, 2, 3.5, 1e300, -1e300, 2**31, 2**53, 2**63, 2**64, 10**40, "", " ",
    "1", "-1", "999999999999999999999", "\u00b2", "\u0663", "\x00", "\ud800", "a" * 5000, "../../x",
    "N0417Q", "new", "confirm", "amend", "reject", "undo", "move", "split", "aside", "back",
    "clock", "join", "kind", "aircraft", "oil_added", "tach_time", "2345.6", "1e999", "NaN",
    "Infinity", "2026-03-14", "9999-12-31", "0001-01-01", "+70000000h", "+1h", "1.1", "2.7",
    "cleared", "$", "%",
    "<script>", "\u202e", "Ines Invented", "memo.wav", "x.exe", [], [1], [[]], ["a"], {},
    {"a": 1},
]  # fmt: skip
SHOWN = {"value": "62", "unit": "psi", "position": 3, "version": "", "doubts": []}

value = st.one_of(
    st.sampled_from(ODD),
    st.text(max_size=20),
    st.integers(),
    st.floats(),
    st.just(SHOWN),
    st.lists(st.sampled_from(ODD), max_size=3),
)
sane = st.sampled_from(["1", 1, "Ines Invented", "confirm", "amend", "7", "2026-03-14", SHOWN])
body = st.dictionaries(st.sampled_from(KEYS), st.one_of(value, sane), max_size=8)
raw = st.one_of(
    body.map(lambda made: json.dumps(made).encode("utf-8", "surrogatepass")),
    st.sampled_from(
        [b"", b"{", b"[]", b"null", b"[" * 60_000, b'{"id":' + b"9" * 5000 + b"}", b"\xff\xfe"]
    ),
    st.binary(max_size=200),
)
part = st.sampled_from(
    ["1", "2", "0", "7", "999999999", "99999999999999999999", "-1", "1.0", "%00", "%FF", "..", "x",
     "0" * 32, "%D9%A3", "%C2%B2"]
)  # fmt: skip
query = st.dictionaries(
    st.sampled_from([*KEYS, "at", "px", "size", "part", "across", "photos", "wav", "later"]),
    st.one_of(
        st.text(alphabet=st.characters(codec="utf-8"), max_size=20),
        st.sampled_from([one for one in ODD if isinstance(one, str) and one != "\ud800"]),
    ),
    max_size=4,
)


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A desk with a job, and a client that is let in."""
    home = tmp_path_factory.mktemp("fuzz") / "home"
    filled = fill(home)
    filled.desk.runner.wake = lambda: 1
    client = client_of(filled.desk)
    client.get(f"/open/{filled.desk.doors.invite('desk')}")
    doors = filled.desk.doors
    client.headers["x-cowlnote-token"] = doors.token(client.cookies[doors.cookie])
    yield client, [r for r in client.app.routes if isinstance(r, Route) and r.path not in LONG]
    filled.desk.store.close()
    shutil.rmtree(home)


def address(route: Route, parts: list[str]) -> str:
    """Give the address of a route, its names filled in."""
    made = route.path
    for name, filled in zip(route.param_convertors, parts, strict=False):
        for form in (f"{{{name}:int}}", f"{{{name}}}"):
            made = made.replace(form, filled)
    return made


@settings(
    max_examples=EXAMPLES,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(data=st.data())
def test_no_request_is_answered_with_a_fault(asked, data):
    client, routes = asked
    route = data.draw(st.sampled_from(routes))
    method = data.draw(st.sampled_from(sorted(route.methods or {"GET"})))
    parts = data.draw(st.lists(st.one_of(st.just("1"), part), min_size=2, max_size=2))
    where = address(route, parts)
    sent = data.draw(raw) if method == "POST" else None
    headers = {"content-type": data.draw(st.sampled_from(["application/json", "image/png", "x"]))}
    answer = client.request(
        method, where, params=data.draw(query), content=sent, headers=headers,
        follow_redirects=False,
    )  # fmt: skip
    assert answer.status_code != 500, answer.text


@pytest.mark.parametrize("header", ["x-cowlnote-token", "cookie", "origin", "host", "content-type"])
def test_no_header_makes_a_fault(asked, header):
    client, _ = asked
    answer = client.post("/upload", content=b"{}", headers={header.encode(): b"\xe9\xb2\xff"})
    assert answer.status_code in (400, 403, 411, 415, 421)


@pytest.mark.parametrize(
    "given",
    [{"modified": 1e300}, {"modified": -1e300}, {"began": 1e300}, {"size": 2**64}, {"name": 5},
     {"name": "\ud800.wav"}, {"size": True}, {"key": ["a"]}],
)  # fmt: skip
def test_what_cannot_be_is_refused_and_leaves_nothing_behind(asked, given):
    client, _ = asked
    inbox = client.app.state.desk.inbox
    before = inbox.of("")
    text = json.dumps({"name": "memo.wav", "size": 10, **given})
    answer = client.post("/upload", content=text.encode())
    assert answer.status_code == 400
    assert "cannot be read" in answer.text
    assert inbox.of("") == before
    fine = client.post("/upload", json={"name": "memo.wav", "size": 10, "modified": 1.7e12})
    assert fine.status_code == 200
