from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from capture.observed import Hearing, Instant, Kept, Transcript, Word
from extract.draft import Draft
from record.store import Store

ZONE = timezone(timedelta(hours=1))
BEGAN = datetime(2026, 3, 14, 9, 12, 5, tzinfo=ZONE)
WHO = "Ines Invented"


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


@pytest.fixture
def store(home: Path) -> Iterator[Store]:
    made = Store.open(home)
    yield made
    made.close()


def draft(name: str = "filter_torque", value: Any = "17", **other: Any) -> Draft:
    """Make a draft as reading would; text that is a number becomes one."""
    try:
        value = Decimal(value) if isinstance(value, str) else value
    except ArithmeticError:
        pass
    known = {
        "unit": "ft-lb",
        "position": None,
        "media": "memo_01.wav",
        "start": 12.4,
        "end": 15.1,
        "said_at": BEGAN + timedelta(seconds=12.4),
        "heard": f"torqued the filter to {value}",
        "confidence": 0.97,
    }
    return Draft(name, value, **{**known, **other})


def kept(name: str = "memo_01.wav", digit: str = "a", kind: str = "memo") -> Kept:
    return Kept(digit * 64, name, 1000, kind, datetime(2026, 3, 14, 8, 0, tzinfo=UTC))


def began(seconds: float = 0, **other: Any) -> Instant:
    return Instant(BEGAN + timedelta(seconds=seconds), "container", **other)


def spoken(text: str, media: str = "memo_01.wav", pause_after: int = 10**6) -> Transcript:
    """Make a transcript of words half a second apart, with a long pause after some of them."""
    words, at = [], 1.0
    for place, word in enumerate(text.split(), start=1):
        words.append(Word(word, at, at + 0.4, 0.9))
        at += 2.5 if place % pause_after == 0 else 0.5
    return Transcript(media, at, (Hearing("base", "beam 5", tuple(words)),), ((1.0, at),))


def postgres_url() -> str | None:
    return os.environ.get("COWLNOTE_TEST_POSTGRES")
