"""A desk with one invented job on it: memos that sound, a photo, drafts with and without doubts."""

from __future__ import annotations

import wave
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from PIL import Image
from starlette.testclient import TestClient

from capture.observed import Hearing, Instant, PhotoText, Reading, Transcript, Word
from desk.opening import Opened
from desk.settings import load
from desk.web.app import create_app
from desk.web.serve import make_desk
from extract.draft import Alternative, Draft
from record import jobs, media, queue
from record.store import Store

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


def fill(
    home: Path, *, memos: int = 2, photos: int = 1, drafts: int = 5, doubtful: int = 2
) -> Filled:
    """Make a home with a job of so many memos, photos and drafts."""
    home.mkdir(parents=True, exist_ok=True)
    profile = 'registration = "N0417Q"\nzone = "America/Chicago"\n'
    (home / "aircraft.toml").write_text(profile, encoding="utf-8")
    settings = load(home, {"COWLNOTE_MODELS": str(home / "none")})
    from extract.catalogue import load as load_catalogue

    here = Opened(settings, load_catalogue(), Store.open(home))
    desk = make_desk(here, port=PORT)
    made: list[Draft] = []
    with here.store.session() as session:
        job = jobs.job_for(session, BEGAN)
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
            others = (Alternative(Decimal(90 + i), 0.3, "other hearing"),) if i < doubtful else ()
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
