"""Every way of the page, asked as a hostile or broken sender may, by whoever may: never a 500.

Hypothesis makes the requests: as many as `COWLNOTE_FUZZ` says, 150 in the suite, and of each way a
few more. What a way asks for (`desk.web.asks`) is what is made wrong.
"""

from __future__ import annotations

import io
import json
import os
import shutil
import threading
from itertools import cycle
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image
from pydantic import BaseModel
from starlette.routing import Mount
from starlette.testclient import TestClient

from desk.web.doors import PHONE_PATHS
from desk.web.ways import Way, ways
from tests.desk.page.conftest import client_of, fill

EXAMPLES = int(os.environ.get("COWLNOTE_FUZZ", "0")) or 150
WAYS = ways()
ROLES = ("desk", "phone", "")  # the owner, a paired phone, and one that never came in

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
in_address = st.one_of(
    st.text(alphabet=st.characters(codec="utf-8"), max_size=20),
    st.sampled_from([one for one in ODD if isinstance(one, str) and one != "\ud800"]),
    st.sampled_from(["1", "2", "yes", "N0417Q", "memo.wav", "2026-03-14", "Ines Invented", "7"]),
)
FILES = [
    b"",
    b"lab,date,Fe,Cu\nInvented Labs,2026-04-01,12,3\n",
    b"lab;date\n\xff\n",
    b"RIFF0000WAVE",
]
# what each thing that is asked for can be, so that a request gets as far in as one can
SOUND: dict[str, list[Any]] = {
    "id": [1, 2, 3, 6], "act": ["confirm", "amend", "reject", "undo", "move", "join", "kind",
    "aircraft", "aside", "back", "clock"], "by": ["Ines Invented"], "because": ["invented"],
    "value": ["62", "2345.6", "oil-only", "N0655X", "+1h"], "although": ["", "looked twice"],
    "first": ["62", None], "shown": [SHOWN, None], "name": ["oil_added", "Ines Invented", "a.csv",
    "page.jpg", "memo.wav"], "position": [None, "3"], "words": ["six quarts"], "files": [[1], [3]],
    "to": ["new", 1, 2], "defect": ["1.1"], "state": ["cleared", "deferred", "open"], "in": [1,
    "new"], "until": ["", "2026-12-01"], "entry": [2, "2"], "seen": [[]], "size": [10, 1000],
    "type": ["audio/mp4"], "began": [1.7e12], "modified": [1.7e12], "key": ["a1b2c3d4-e5"],
    "registration": ["N0417Q", "N0655X"], "zone": ["America/Chicago"], "heard": ["tacks"],
    "meant": ["tach"], "text": ["put in six quarts"], "days": ["7"], "kept": ["5"], "role":
    ["pilot"], "what": ["annual"], "hours": ["25"], "months": ["12"], "date": ["2026-03-14"],
    "which": ["the tach", "the hour meter"], "old": ["2345.6"], "new": ["0"], "on": ["2026-03-14"],
    "lab": ["Invented Labs"], "tach": ["2345.6"], "number": ["7"], "Fe": ["12", "<1"], "Cu": ["3"],
    "folder": [""], "against": ["", "1-000000000000"], "page": ["1"], "since": ["0", "1"],
    "wait": ["0"], "at": ["0"], "of": ["photo_00.jpg"], "px": ["720"],
    "aircraft": ["N0417Q", "N0655X"], "last_date": ["2026-01-31"], "last_hours": ["2000"],
}  # fmt: skip
folders: list[str] = ["", "x", "../x", "~", "/dev/null", "/proc/self/mem", "\u202e"]


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A desk with a job, and a client of each role."""
    home = tmp_path_factory.mktemp("fuzz") / "home"
    filled = fill(home)
    desk = filled.desk
    FILES[4:] = [picture()]
    desk.runner.wake = lambda: 1
    # what listens for as long as the desk is open hears one round of it
    rounds = cycle((False, True))
    desk.runner.ended = lambda: next(rounds)
    folders[:] = [*folders[:7], str(home.parent / "out"), str(home), str(home / "aircraft.toml")]
    clients = {}
    for role in ROLES:
        client = clients[role] = client_of(desk)
        if role:
            come_in(client, role)
    clients["desk"].post("/upload", json={"name": "memo.wav", "size": 1000})
    yield clients
    for thread in threading.enumerate():
        if thread.name in desk.tasks._by_name:
            thread.join()
    desk.store.close()
    shutil.rmtree(home)


def come_in(client: TestClient, role: str) -> None:
    """Come in by a link, and send the token with every change from then on."""
    doors = client.app.state.desk.doors
    client.get(f"/open/{doors.invite(role)}")
    client.headers["x-cowlnote-token"] = doors.token(client.cookies[doors.cookie])


def picture() -> bytes:
    """Give a small photo."""
    made = io.BytesIO()
    Image.new("RGB", (32, 24), (9, 9, 9)).save(made, "JPEG")
    return made.getvalue()


def address(way: Way, parts: list[str]) -> str:
    """Give the address of a way, its names filled in."""
    made = way.path
    for name, filled in zip(way.param_convertors, parts, strict=False):
        for form in (f"{{{name}:int}}", f"{{{name}}}"):
            made = made.replace(form, filled)
    return made


def names(schema: type[BaseModel]) -> list[str]:
    """Give what a schema asks for, by the names of a request."""
    return [field.alias or name for name, field in schema.model_fields.items()]


def fill_in(draw: Any, schema: type[BaseModel], kinds: Any) -> dict[str, Any]:
    """Make an answer to what a schema asks for: sound but for a few values, or wild."""
    known = names(schema)
    sound = {k: draw(st.sampled_from(SOUND[k])) for k in known if k in SOUND}
    if draw(st.booleans()):
        made = {k: v for k, v in sound.items() if draw(st.integers(0, 9))}
        wrong = draw(st.lists(st.sampled_from([*known, *KEYS]), max_size=2))
    else:
        made = {}
        wrong = draw(st.lists(st.sampled_from([*known, *known, *KEYS]), max_size=8, unique=True))
    made |= {k: draw(kinds) for k in wrong}
    # a folder is written to: only where nothing is harmed
    return made | ({"folder": draw(st.sampled_from(folders))} if "folder" in made else {})


def ask(clients: Any, data: st.DataObject, way: Way, role: str) -> None:
    """Ask one way once, and hold the answer to what no answer may be."""
    client, method = clients[role], sorted(way.methods - {"HEAD"})[0]
    comes = "".join(one.id for one in client.app.state.desk.inbox.of(""))[-32:] or "x"
    parts = data.draw(st.lists(st.one_of(st.sampled_from(["1", comes]), part), min_size=1))
    kinds = ["application/json", "image/png", "x"] if way.file else ["application/json"]
    kind, sent = data.draw(st.sampled_from(kinds)), None
    if method == "POST":
        made = fill_in(data.draw, way.body, st.one_of(value, sane))
        wild = data.draw(st.one_of(st.none(), st.none(), st.none(), raw))
        sent = json.dumps(made).encode("utf-8", "surrogatepass") if wild is None else wild
        if way.file and wild is None:
            sent = data.draw(st.sampled_from([sent, *FILES]))
    schema = way.file if way.file and not kind.startswith("application/json") else way.address
    where = fill_in(data.draw, schema, in_address)
    doors = client.app.state.desk.doors
    if role == "phone" and doors.role(client.cookies[doors.cookie]) is None:
        come_in(client, role)  # all phones were unpaired meanwhile
    answer = client.request(
        method, address(way, parts), params=where, content=sent, headers={"content-type": kind},
        follow_redirects=False,
    )  # fmt: skip
    assert answer.status_code != 500, answer.text
    if role != "desk" and not way.path.startswith(("/open/", *(PHONE_PATHS if role else ()))):
        assert answer.status_code in (403, 404)
    for name, task in client.app.state.desk.tasks._by_name.items():
        assert not task.words.startswith("a fault"), (name, task.words)


few = settings(
    max_examples=max(6, EXAMPLES // 25),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@pytest.mark.parametrize("role", ROLES, ids=lambda role: role or "unpaired")
@pytest.mark.parametrize("way", WAYS, ids=lambda w: f"{sorted(w.methods)[-1]} {w.path}")
def test_no_way_is_answered_with_a_fault(asked, way, role):
    few(given(data=st.data())(lambda data: ask(asked, data, way, role)))()


@settings(few, max_examples=EXAMPLES)
@given(data=st.data())
def test_no_request_is_answered_with_a_fault(asked, data):
    ask(asked, data, data.draw(st.sampled_from(WAYS)), data.draw(st.sampled_from(ROLES)))


def test_every_way_of_the_page_is_asked(asked):
    routes = [r for r in asked["desk"].app.routes if not isinstance(r, Mount)]
    assert all(isinstance(route, Way) for route in routes)  # so each names its schemas
    assert {(r.path, *r.methods) for r in routes} == {(w.path, *w.methods) for w in WAYS}


@pytest.mark.parametrize("header", ["x-cowlnote-token", "cookie", "origin", "host", "content-type"])
def test_no_header_makes_a_fault(asked, header):
    client = asked["desk"]
    answer = client.post("/upload", content=b"{}", headers={header.encode(): b"\xe9\xb2\xff"})
    assert answer.status_code in (400, 403, 411, 415, 421)


@pytest.mark.parametrize(
    "given",
    [{"modified": 1e300}, {"modified": -1e300}, {"began": 1e300}, {"size": 2**64}, {"name": 5},
     {"name": "\ud800.wav"}, {"size": True}, {"key": ["a"]}],
)  # fmt: skip
def test_what_cannot_be_is_refused_and_leaves_nothing_behind(asked, given):
    client = asked["desk"]
    inbox = client.app.state.desk.inbox
    before = inbox.of("")
    text = json.dumps({"name": "memo.wav", "size": 10, **given})
    answer = client.post("/upload", content=text.encode())
    assert answer.status_code == 400
    assert "cannot be read" in answer.text
    assert inbox.of("") == before
    fine = client.post("/upload", json={"name": "memo.wav", "size": 10, "modified": 1.7e12})
    assert fine.status_code == 200
