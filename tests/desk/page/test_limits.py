"""What one connection may take, what one address may hold, and what the terminal is told of it."""

from __future__ import annotations

import http.client
import logging
import os
import re
import socket
import subprocess
import sys
import time

import pytest

from desk.web import limits
from desk.web.gate import Gate, listen
from tests.desk.page.conftest import open_home


def closed_after(held: socket.socket, within: float) -> float:
    """Wait until the other side closes; give the seconds that it took, or infinity."""
    begin = time.monotonic()
    held.settimeout(within)
    try:
        while held.recv(4096):
            pass
    except TimeoutError:
        return float("inf")
    except OSError:
        pass
    return time.monotonic() - begin


def connect(port: int) -> socket.socket:
    return socket.create_connection(("127.0.0.1", port), timeout=5)


def test_an_address_holds_so_many_connections_and_gets_one_back_when_it_lets_one_go():
    door = listen("127.0.0.1", 0, Gate(here=3))
    door.setblocking(False)
    outside = [connect(door.getsockname()[1]) for _ in range(5)]
    time.sleep(0.05)
    inside = [door.accept()[0] for _ in range(3)]
    with pytest.raises(BlockingIOError):
        door.accept()
    assert [closed_after(one, 0.5) < 0.5 for one in outside] == [False] * 3 + [True] * 2
    inside.pop().close()
    outside.append(connect(door.getsockname()[1]))
    time.sleep(0.05)
    inside.append(door.accept()[0])
    for one in (*inside, *outside, door):
        one.close()


def test_strangers_together_hold_no_more_than_their_share_and_this_machine_is_not_counted():
    gate, held = Gate(each=2, everyone=3, here=9), [socket.socket() for _ in range(9)]
    came = ["192.0.2.1", "192.0.2.1", "192.0.2.1", "192.0.2.2", "192.0.2.3", "127.0.0.1"]
    assert [gate.admits(one, of) for one, of in zip(held, came, strict=False)] == [
        True, True, False, True, False, True,
    ]  # fmt: skip
    for one in held:
        one.close()
    again = socket.socket()
    assert gate.admits(again, "192.0.2.3")
    again.close()


@pytest.mark.parametrize("sent", [b"", b"G", b"GET / HTTP/1.1\r\nhost: x"])
def test_a_head_that_does_not_come_whole_in_time_ends_the_connection(
    tmp_path, serve, monkeypatch, sent
):
    monkeypatch.setattr(limits, "HEAD_S", 0.4)
    held = connect(serve(open_home(tmp_path / "home")).port)
    held.sendall(sent)
    time.sleep(0.2)
    held.sendall(sent[-1:])  # a byte now and then does not lengthen it
    assert closed_after(held, 3) < 2


def test_a_body_that_does_not_come_whole_in_time_ends_the_connection(tmp_path, serve, monkeypatch):
    monkeypatch.setattr(limits, "BODY_S", 0.4)
    served = serve(open_home(tmp_path / "home"))
    held = connect(served.port)
    head = f"POST /upload HTTP/1.1\r\nhost: 127.0.0.1:{served.port}\r\ncontent-length: 900\r\n\r\n"
    held.sendall(head.encode() + b"{")
    assert closed_after(held, 3) < 2


def test_nonsense_from_a_neighbour_is_one_line_of_the_terminal_and_no_fault(tmp_path, serve, capfd):
    port = serve(open_home(tmp_path / "home")).port
    for _ in range(40):
        held = connect(port)
        held.sendall(b"\x16\x03\x01 nonsense\r\n\r\n")
        assert closed_after(held, 5) < 5
    assert capfd.readouterr().err.splitlines() == ["Invalid HTTP request received."]


def test_a_fault_is_one_line_with_its_place_and_is_counted_when_it_comes_again(caplog, monkeypatch):
    brief = limits.Brief()
    clock = iter((0.0, 1.0, 2.0, 100.0))
    monkeypatch.setattr(limits.time, "monotonic", lambda: next(clock))
    told = []
    for _ in range(4):
        try:
            {}["no such key"]
        except KeyError:
            record = logging.LogRecord(
                "uvicorn.error", 40, "", 1, "Exception in\nmany", (), sys.exc_info()
            )
        if brief.filter(record):
            told.append(logging.Formatter().format(record))
    first, later = told
    assert "\n" not in first + later
    assert first.startswith("Exception in (KeyError: 'no such key', ")
    assert f"{os.path.basename(__file__)}:" in first  # noqa: PTH119
    assert later == f"{first} (2 times more before)"


# A neighbour, as a program of its own: holds as many connections as it can, each with one byte.
NEIGHBOUR = """
import resource, socket, sys
hard = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
resource.setrlimit(resource.RLIMIT_NOFILE, (2200 if hard < 0 else min(hard, 9000), hard))
held = []
for _ in range(2000):
    one = socket.socket()
    one.settimeout(0.5)
    held.append(one)
    try:
        one.connect((sys.argv[1], int(sys.argv[2])))
        one.sendall(b"G")
    except OSError:
        pass
print("held", flush=True)
sys.stdin.read()
"""


@pytest.fixture
def started(tmp_path):
    """Start a program with pipes to it; it is ended when the test is."""
    running = []

    def start(*program: object, **more: object) -> subprocess.Popen:
        pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
        running.append(subprocess.Popen([*map(str, program)], **pipes, **more))
        return running[-1]

    yield start
    for one in running:
        one.terminate()
        one.communicate(timeout=20)


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="needs limits on open files")
def test_the_owner_is_answered_within_a_second_under_two_thousand_idle_connections(
    tmp_path, started
):
    open_home(tmp_path / "home").store.close()
    err = tmp_path / "err"
    # as many open files as most systems give a program
    run = ["sh", "-c", 'ulimit -Sn 1024; exec "$@"', "sh", sys.executable, "-m", "desk"]
    run += ["--home", tmp_path / "home", "desk", "--lan", "--no-open", "--port", "0"]
    calm = {**os.environ, "PYTHONUNBUFFERED": "1", "COWLNOTE_MODELS": str(tmp_path / "none")}
    with err.open("wb") as told_wrong:
        desk = started(*run, env=calm, stderr=told_wrong)
        told = ""
        while not (lan := re.search(r"must reach (?:https?://)?([\d.]+):(\d+)", told)):
            line = desk.stdout.readline()
            if not line and "in no network" in err.read_text("utf-8"):
                pytest.skip("this machine is in no network")
            told += line
    port, link = re.search(r"127\.0\.0\.1:(\d+)(/open/\S+)", told).groups()

    def ask(path: str, **headers: str) -> http.client.HTTPResponse:
        owner = http.client.HTTPConnection("127.0.0.1", int(port), timeout=20)
        owner.request("GET", path, headers=headers)
        answer = owner.getresponse()
        answer.read()
        return answer

    cookie = ask(link).getheader("set-cookie").split(";")[0]
    neighbour = started(sys.executable, "-c", NEIGHBOUR, *lan.groups())
    assert neighbour.stdout.readline() == "held\n"
    for _ in range(5):
        begin = time.monotonic()
        assert ask("/", cookie=cookie).status == 200
        assert time.monotonic() - begin < 1.0
    assert len(err.read_text("utf-8").splitlines()) <= 3
