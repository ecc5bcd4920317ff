"""What the tests of the desk share: a home, and the program run in it."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from typer.testing import CliRunner

from extract.values.draft import Draft
from record import jobs, queue
from record.store import Store

MORNING = datetime(2026, 3, 14, 9, 12, 5, tzinfo=ZoneInfo("America/Chicago"))


@dataclass
class Ran:
    """How a command ended."""

    code: int
    out: str
    err: str

    @property
    def words(self) -> str:
        """What it printed, its words joined by single spaces."""
        return " ".join(self.out.split())

    @property
    def data(self) -> Any:
        """What it printed as one line of JSON."""
        return json.loads(self.out)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A home with the profile of an invented aircraft."""
    where = tmp_path / "home"
    where.mkdir()
    (where / "aircraft.toml").write_text(
        'registration = "N0417Q"\nzone = "America/Chicago"\nsump_capacity = 8\n'
        "filter_torque = [16, 18]\n[last]\ntach_time = 2298.1\ndate = 2025-11-02\n",
        "utf-8",
    )
    return where


@pytest.fixture
def cowlnote(home: Path) -> Callable[..., Ran]:
    """Run the program in process, in the home: `cowlnote("drafts", "--json")`."""

    def run(*args: object, input: str | None = None, at: Path | None = None) -> Ran:
        from desk.cli import app

        where = ["--home", str(at or home)]
        result = CliRunner().invoke(app, [*where, *map(str, args)], input=input)
        if result.exception and not isinstance(result.exception, SystemExit):
            raise result.exception
        return Ran(result.exit_code, result.stdout, result.stderr)

    return run


@pytest.fixture
def draft() -> Callable[..., Draft]:
    """Make a draft as reading would; a figure in text becomes exact where there is a unit."""

    def make(name: str, value: Any, unit: str | None = None, **other: Any) -> Draft:
        known = {
            "position": None,
            "media": "memo.wav",
            "start": 3.0,
            "end": 5.5,
            "said_at": MORNING,
            "heard": f"{name} {value}",
            "confidence": 0.97,
        }
        exact = Decimal(value) if unit and isinstance(value, str) else value
        return Draft(name, exact, unit, **{**known, **other})

    return make


@pytest.fixture
def queued(home: Path) -> Callable[[Sequence[Draft]], list[int]]:
    """Queue drafts as a job of the home; give their numbers."""

    def put(drafts: Sequence[Draft]) -> list[int]:
        store = Store.open(home)
        with store.session() as session:
            job = jobs.job_for(session, MORNING, aircraft="N0417Q")
            ids = queue.put(session, job, drafts)
        store.close()
        return ids

    return put


@pytest.fixture
def record(cowlnote: Any, home: Path, heard: Any, sound: Any, tmp_path: Path, draft: Any) -> None:
    """A memo and a photo with a position, kept, heard and decided, with an oil report."""
    from PIL import Image

    from capture.observed import Instant
    from capture.vault import Vault
    from record import media

    phone = tmp_path / "phone"
    memo, photo = sound(phone / "memo one.wav"), phone / "IMG_0001.jpg"
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({0x9003: "2026:03:14 09:12:30", 0x9011: "-05:00"})
    exif.get_ifd(0x8825).update({1: "N", 2: (47.0, 22.0, 11.5), 3: "E", 4: (8.0, 32.0, 30.25)})
    Image.new("RGB", (320, 240), (90, 90, 90)).save(photo, exif=exif)
    vault, store = Vault(home / "vault"), Store.open(home)
    with store.session() as session:
        job = jobs.job_for(session, MORNING, aircraft="N0417Q")
        for path in (memo, photo):
            row = media.note(session, vault.keep(path), Instant(MORNING, "name"))
            media.join(session, row.id, job)
            if path is memo:
                words = heard("torqued the filter to seventeen foot pounds")
                media.keep_transcript(session, row.id, words)
        made = draft("filter_torque", "17", "ft-lb", media="memo one.wav")
        queue.confirm(session, queue.put(session, job, [made]), "Ines Invented")
    store.close()
    cowlnote("add", "leak_check", "pass", "--by", "Ines Invented")
    day = ("--date", "2026-03-14", "--by", "Ines Invented")
    assert cowlnote("lab", "add", "Fe=22", "--lab", "North Lab", *day).code == 0


@pytest.fixture
def engines(monkeypatch: pytest.MonkeyPatch, ear: Any, eye: Any) -> Any:
    """Let the program hear and read by stand-ins: `engines.ear`, `engines.eye`, to be exchanged."""
    from types import SimpleNamespace

    from desk import engines as real

    used = SimpleNamespace(ear=ear, eye=eye)
    monkeypatch.setattr(real, "LateEar", lambda settings, **_: used.ear)
    monkeypatch.setattr(real, "LateEye", lambda settings: used.eye)
    return used


@pytest.fixture
def folder(tmp_path: Path, sound: Any, photo: Any, engines: Any) -> Path:
    """Two memos and a photo of one morning, and what is heard and read in them."""
    where = tmp_path / "phone"
    sound(where / "Recording 2026-03-14 09.12.05.wav", 220)
    sound(where / "Recording 2026-03-14 09.20.00.wav", 330)
    photo(where / "IMG_0001.jpg", "2026:03:14 09:12:30")
    engines.ear.says = {
        "Recording 2026-03-14 09.12.05.wav": "tach reads two three four five point six",
        "Recording 2026-03-14 09.20.00.wav": "torqued the filter to seventeen foot pounds",
    }
    engines.eye.shows = {"IMG_0001.jpg": ("tach", "drum", "2345.6")}
    return where
