"""Who may come in. Rules: OWASP's cheat sheets on CSRF and DNS rebinding, as remembered."""

from __future__ import annotations

import time

import pytest

from desk.web import doors
from tests.desk.page.conftest import client_of

PAGES = ("/", "/job/1", "/record", "/record/1", "/search", "/media/1/sound", "/intake/events")


def test_without_the_link_nothing_is_served(filled):
    stranger = client_of(filled.desk)
    for page in (*PAGES, "/static/desk.css", "/phone", "/pair"):
        answer = stranger.get(page)
        assert answer.status_code == 403, page
        assert "N0417Q" not in answer.text


def test_another_address_gets_nothing_at_all(filled):
    filled.desk.doors.lan = True
    elsewhere = client_of(filled.desk, "198.51.100.7")
    for page in (*PAGES, "/open/guess"):
        answer = elsewhere.get(page)
        assert (answer.status_code, answer.content) == (404, b""), page


def test_a_desk_link_does_not_work_from_another_address(filled):
    filled.desk.doors.lan = True
    elsewhere = client_of(filled.desk, "198.51.100.7")
    answer = elsewhere.get(f"/open/{filled.desk.doors.invite('desk')}", follow_redirects=False)
    assert (answer.status_code, answer.content) == (404, b"")


def test_a_link_opens_once(filled):
    key = filled.desk.doors.invite("desk")
    first, second = client_of(filled.desk), client_of(filled.desk)
    assert first.get(f"/open/{key}").status_code == 200
    assert second.get(f"/open/{key}").status_code == 403


def test_a_link_dies_after_ten_minutes(filled, monkeypatch):
    key = filled.desk.doors.invite("desk")
    later = time.monotonic() + doors.INVITE_S + 1
    monkeypatch.setattr(doors.time, "monotonic", lambda: later)
    assert client_of(filled.desk).get(f"/open/{key}").status_code == 403


@pytest.mark.parametrize("host", ["evil.example", "evil.example:8140", "127.0.0.1", "127.0.0.1:99"])
def test_a_host_that_is_not_ours_is_turned_away(client, host):
    answer = client.get("/", headers={"host": host})
    assert (answer.status_code, answer.content) == (421, b"")


def test_a_change_needs_the_token_and_our_own_origin(client, filled):
    shown = client.get("/draft/6").json()["seen"]
    body = {"act": "confirm", "id": 6, "by": "Ines Invented", "shown": shown}
    url = f"/job/{filled.job}/decide"
    assert client.post(url, json=body, headers={"x-cowlnote-token": "x"}).status_code == 403
    other = {"origin": "http://evil.example"}
    assert client.post(url, json=body, headers=other).status_code == 403
    assert client.get("/draft/6").json()["state"] == "waiting"
    ours = {"origin": "http://127.0.0.1:8140"}
    assert client.post(url, json=body, headers=ours).status_code == 200


def test_a_phone_can_send_and_see_nothing(filled):
    filled.desk.doors.lan = True
    phone = client_of(filled.desk, "198.51.100.7")
    assert phone.get(f"/open/{filled.desk.doors.invite('phone')}").status_code == 200
    for page in PAGES:
        assert phone.get(page).status_code == 404, page
    assert phone.get("/phone").status_code == 200


def test_every_answer_is_hardened(client):
    for page in ("/", "/static/desk.js", "/nowhere"):
        headers = client.get(page).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["x-content-type-options"] == "nosniff"


def test_the_session_cookie_stays_with_the_browser(filled):
    answer = client_of(filled.desk).get(
        f"/open/{filled.desk.doors.invite('desk')}", follow_redirects=False
    )
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


@pytest.mark.parametrize(
    ("address", "ours"),
    [
        ("127.0.0.1", True),
        ("::1", True),
        ("::ffff:127.0.0.1", True),
        ("10.0.0.2", False),
        ("", False),
    ],
)
def test_loopback_addresses_are_told_from_others(address, ours):
    assert doors.is_loopback(address) is ours


def test_two_desks_on_one_machine_do_not_put_each_other_out(filled):
    one, other = doors.Doors(doors.hosts(8140)), doors.Doors(doors.hosts(8141))
    assert one.cookie != other.cookie


def test_a_body_that_does_not_say_how_long_it_is_is_refused(client, filled):
    def endless():
        yield b"{" * 1000

    answer = client.post("/upload", content=endless())
    assert answer.status_code == 411


def test_a_body_that_is_longer_than_may_be_is_refused(client):
    assert client.post("/upload", content=b" " * (64 * 1024 + 1)).status_code == 400
    long = {"content-length": str(doors.MAX_BODY + 1)}
    assert client.post("/upload", content=b"x", headers=long).status_code == 413


def test_the_square_leads_one_phone_in_and_a_second_square_another(filled):
    """The square is read by ZXing, independent of what drew it."""
    filled.desk.doors.lan = True
    filled.desk.address = "192.0.2.10:8140"
    filled.desk.doors.hosts |= {"192.0.2.10:8140"}
    desk = client_of(filled.desk)
    desk.get(f"/open/{filled.desk.doors.invite('desk')}")
    links = [read_square(desk.get("/pair").text) for _ in range(2)]
    assert links[0] != links[1]
    for number, link in enumerate(links):
        phone = client_of(filled.desk, f"192.0.2.{20 + number}")
        phone.headers["host"] = "192.0.2.10:8140"
        path = link.removeprefix("http://192.0.2.10:8140")
        assert path.startswith("/open/")
        assert "Snap" in phone.get(path).text
        again = client_of(filled.desk, "192.0.2.30")
        again.headers["host"] = "192.0.2.10:8140"
        assert again.get(path).status_code == 404
        token = filled.desk.doors.token(phone.cookies[filled.desk.doors.cookie])
        sent = phone.post(
            "/upload", json={"name": "a.wav", "size": 5}, headers={"x-cowlnote-token": token}
        )
        assert sent.json()["have"] == 0


def read_square(page: str) -> str:
    """Draw the page's square and read it."""
    import re

    import numpy as np
    import zxingcpp

    row = re.search(r'<path[^>]* d="([^"]+)"', page)
    size = int(re.search(r'<svg width="(\d+)"', page)[1]) // 6
    grid = np.full((size, size), 255, np.uint8)
    x = y = 0
    # segno draws runs of dark modules: moves and horizontal lines, half a module down
    for kind, numbers in re.findall(r"([Mmh])\s*([-\d. ]*)", row[1]):
        given = [float(n) for n in numbers.replace("-", " -").split()]
        if kind == "M":
            x, y = int(given[0]), int(given[1])
        elif kind == "m":
            x, y = x + int(given[0]), y + int(given[1])
        else:
            grid[y, x : x + int(given[0])] = 0
            x += int(given[0])
    (found,) = zxingcpp.read_barcodes(np.kron(grid, np.ones((6, 6), np.uint8)))
    return found.text


def test_a_phone_that_is_paired_again_stays_who_it_is_until_all_are_forgotten(filled):
    doors = filled.desk.doors
    doors.lan = True
    phone = client_of(filled.desk, "198.51.100.7")
    phone.get(f"/open/{doors.invite('phone')}")
    secret = phone.cookies[doors.cookie]
    assert phone.get(f"/open/{doors.invite('phone')}").status_code == 200
    assert phone.cookies[doors.cookie] == secret
    # the square gives a phone no more than a phone's rights, whatever it comes with
    assert phone.get(f"/open/{doors.invite('desk')}").status_code == 404
    desk = client_of(filled.desk)
    desk.get(f"/open/{doors.invite('desk')}")
    assert phone.post("/pair/forget", json={}).status_code == 404
    token = {"x-cowlnote-token": doors.token(desk.cookies[doors.cookie])}
    assert desk.post("/pair/forget", json={}, headers=token).json() == {"phones": 1}
    assert phone.get("/phone").status_code == 404
