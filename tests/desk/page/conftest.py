"""A desk with one invented job on it: memos that sound, a photo, drafts with and without doubts."""

from __future__ import annotations

import shutil
import threading
import time
import warnings
import wave
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import uvicorn
from PIL import Image
from starlette.testclient import TestClient

from capture.observed import Hearing, Instant, PhotoText, Reading, Transcript, Word
from desk.opening import Opened
from desk.settings import load
from desk.web.app import create_app
from desk.web.certificate import provide
from desk.web.serve import config, listen, make_desk
from extract.values.draft import Alternative, Draft
from record import jobs, media, queue
from record.store import Store

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--autoplay-policy=no-user-gesture-required",
]
# what every file of browser tests has as its `pytestmark`
IN_A_BROWSER = [pytest.mark.slow]
if CHROMIUM is None:
    warnings.warn("no Chromium on this machine: the page is NOT tested in a browser", stacklevel=1)
    IN_A_BROWSER.append(pytest.mark.skip(reason="no Chromium; install Debian's `chromium`"))
WHO = "Ines Invented"
# this machine, what a page makes itself, and Chromium's own viewer of PDFs
OURS = ("http://127.0.0.1:", "data:", "blob:", "chrome-extension:", "chrome:")

ZONE = ZoneInfo("America/Chicago")
BEGAN = datetime(2026, 3, 14, 9, 12, 5, tzinfo=ZONE)
PORT = 8140
QUAD = ((60.0, 60.0), (200.0, 60.0), (200.0, 110.0), (60.0, 110.0))
SENTENCE = "tach reads two three four five point six and it took six quarts with no leaks at all"


def sound(path: Path, seconds: float, pitch: float = 220.0) -> Path:
    """Write a tone as a 16 kHz WAV."""
    t = np.arange(int(16000 * seconds)) / 16000
    samples = (np.sin(2 * np.pi * pitch * t) * 9000).astype("<i2")
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(16000)
        out.writeframes(samples.tobytes())
    return path


def heard(name: str, began: datetime) -> Transcript:
    """Make a transcript of the invented sentence, two words a second."""
    words = tuple(
        Word(w, i * 0.5 + 1.0, i * 0.5 + 1.4, 0.95) for i, w in enumerate(SENTENCE.split())
    )
    instant = Instant(began, "container")
    return Transcript(name, 12.0, (Hearing("made", "", words),), ((1.0, 10.0),), instant)


def draft(name: str, value: Any, media: str, start: float, **other: Any) -> Draft:
    """Make a draft of two seconds of a memo."""
    given = {
        "unit": None,
        "position": None,
        "said_at": BEGAN + timedelta(seconds=start),
        "heard": f"{name} {value}",
        "confidence": 0.98,
    }
    given |= other
    return Draft(
        name=name,
        value=value,
        media=media,
        start=start,
        end=start + 2.0 if start else None,
        **given,
    )


@dataclass
class Filled:
    """An open desk, the number of its job, and the number of drafts that wait."""

    desk: Any
    job: int
    waiting: int


def open_home(home: Path) -> Opened:
    """Open a home of N0417Q with nothing in it and no models."""
    home.mkdir(parents=True, exist_ok=True)
    profile = 'registration = "N0417Q"\nzone = "America/Chicago"\n'
    (home / "aircraft.toml").write_text(profile, encoding="utf-8")
    from extract.values.catalogue import load as load_catalogue

    settings = load(home, {"COWLNOTE_MODELS": str(home / "none")})
    return Opened(settings, load_catalogue(), Store.open(home))


def fill(
    home: Path, *, memos: int = 2, photos: int = 1, drafts: int = 5, doubtful: int = 2
) -> Filled:
    """Make a home with a job of so many memos, photos and drafts."""
    here = open_home(home)
    desk = make_desk(here, port=PORT)
    made: list[Draft] = []
    with here.store.session() as session:
        job = jobs.job_for(session, BEGAN, aircraft="N0417Q")
        for i in range(memos):
            at = BEGAN + timedelta(minutes=3 * i)
            kept = desk.vault.keep(sound(home / f"memo_{i:02}.wav", 12.0, 200.0 + i))
            row = media.note(session, kept, Instant(at, "container"))
            media.join(session, row.id, job)
            media.keep_transcript(session, row.id, heard(row.name, at))
        for i in range(photos):
            at = BEGAN + timedelta(minutes=3 * i + 1)
            Image.new("RGB", (320, 240), (200, 190 - i, 170)).save(home / f"photo_{i:02}.jpg")
            kept = desk.vault.keep(home / f"photo_{i:02}.jpg")
            row = media.note(session, kept, Instant(at, "exif"))
            media.join(session, row.id, job)
            reading = Reading("drum", "2345.6", QUAD, 0.98)
            seen = PhotoText(row.name, (320, 240), "tach", (reading,), "made")
            media.keep_photo_text(session, row.id, seen)
        for i in range(drafts):
            doubts = ("two hearings differ",) if i < doubtful else ()
            others = (Alternative(Decimal(50 + i), 0.3, "other hearing"),) if i < doubtful else ()
            made.append(
                draft(
                    "cylinder_compression",
                    Decimal(60 + i % 20),
                    f"memo_{i % memos:02}.wav",
                    1.0 + (i % 8),
                    unit="psi",
                    position=i + 1,
                    doubts=doubts,
                    alternatives=others,
                )
            )
        if photos:
            made.append(
                draft("tach_time", Decimal("2345.6"), "photo_00.jpg", 0, unit="h", quad=QUAD)
            )
        queue.put(session, job, made)
    return Filled(desk, job, len(made))


@pytest.fixture
def filled(tmp_path: Path) -> Iterator[Filled]:
    """A desk with one job."""
    made = fill(tmp_path / "home")
    yield made
    made.desk.store.close()


def client_of(desk: Any, address: str = "127.0.0.1") -> TestClient:
    """A client that has not come in yet."""
    app = create_app(desk)
    return TestClient(
        app,
        base_url=f"http://127.0.0.1:{PORT}",
        client=(address, 50000),
        raise_server_exceptions=False,
    )


@pytest.fixture
def client(filled: Filled) -> TestClient:
    """A client that came in by the desk's link, and sends the token with every change."""
    made = client_of(filled.desk)
    made.get(f"/open/{filled.desk.doors.invite('desk')}")
    doors = filled.desk.doors
    made.headers["x-cowlnote-token"] = doors.token(made.cookies[doors.cookie])
    return made


class Served:
    """A desk that is served on a free port, with the link that opens it."""

    def __init__(self, desk: Any, port: int, server: Any, thread: threading.Thread) -> None:
        self.desk, self.port, self.server, self.thread = desk, port, server, thread

    def link(self, role: str = "desk") -> str:
        """Give a link that opens the page once."""
        return self.url(f"/open/{self.desk.doors.invite(role)}")

    def url(self, path: str) -> str:
        """Give the address of a page."""
        scheme = "https" if self.desk.certificate else "http"
        return f"{scheme}://127.0.0.1:{self.port}{path}"

    def stop(self) -> None:
        """End it as Ctrl-C does, without waiting for who is connected."""
        self.server.should_exit = self.server.force_exit = True
        self.thread.join(10)


@pytest.fixture
def serve() -> Iterator[Callable[..., Served]]:
    """Serve a home: `serve(filled.desk)` or `serve(open_home(folder), ear=…, eye=…)`.

    With `tls` it is served as to a phone, also under the name `desk.test`.
    """
    running = []

    def start(home: Any, *, tls: bool = False, port: int = 0, **engines: Any) -> Served:
        listening = listen("127.0.0.1", port)
        port = listening.getsockname()[1]
        here = Opened(home.settings, home.catalogue, home.store)
        if tls:
            names = ("127.0.0.1", "desk.test")
            engines |= {"lan_address": names[0], "names": names[1:]}
            engines["certificate"] = provide(home.settings.home, names)
        desk = make_desk(here, port=port, **engines)
        server = uvicorn.Server(config(desk, desk.certificate))
        thread = threading.Thread(
            target=server.run, kwargs={"sockets": [listening]}, name="page", daemon=True
        )
        thread.start()
        while not server.started:
            time.sleep(0.02)
        running.append(Served(desk, port, server, thread))
        return running[-1]

    yield start
    for served in running:
        served.stop()


@pytest.fixture(scope="session")
def play() -> Iterator[Any]:
    """What starts browsers, once for all tests: a second one in a process is refused."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as made:
        yield made


@pytest.fixture(scope="session")
def chromium(play: Any) -> Iterator[Any]:
    """One Chromium for all the tests of the page."""
    browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
    yield browser
    browser.close()


@pytest.fixture
def page(chromium: Any) -> Iterator[Any]:
    """A page of its own, that counts what it asks of other hosts and what goes wrong in it."""
    context = chromium.new_context(viewport={"width": 1280, "height": 800})
    made = context.new_page()
    made.strangers, made.faults = [], []

    def asked(request: Any) -> None:
        if not request.url.startswith(OURS):
            made.strangers.append(request.url)

    made.on("request", asked)
    made.on("pageerror", lambda e: made.faults.append(str(e)))
    made.on("console", lambda m: made.faults.append(m.text) if m.type == "error" else None)
    yield made
    assert made.strangers == []
    assert made.faults == []
    context.close()


def come_in(page: Any, served: Served, path: str) -> None:
    """Open a page by the link, in the invented person's name."""
    page.goto(served.link())
    page.evaluate(f"localStorage.setItem('who', '{WHO}')")
    page.goto(served.url(path))


def intercept(page: Any, addresses: str, answer: Callable[[Any], Any]) -> None:
    """Answer a page's requests in the desk's place, from when this returns.

    Chromium says that it intercepts a moment before an open page is told: one request in 200 of
    a busy machine passed by unseen. So what only the interception answers is asked for until it is.
    """
    page.route(addresses, answer)
    page.route("**/desk.css?intercepted", lambda route: route.fulfill(body="intercepted"))
    page.evaluate(
        """async () => {
          const asked = () => fetch("/static/desk.css?intercepted", { cache: "no-store" });
          while (await (await asked()).text() !== "intercepted");
        }"""
    )
