"""The time that somebody says in a memo, against the clock of the recorder."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from capture.observed import Instant
from desk.observe import clock_error, recorder

ZONE = ZoneInfo("America/Chicago")


def right(heard, shown: str, source: str = "container") -> str | None:
    """Give when the memo began by the time said in it, to the minute; None: the clock is right."""
    began = Instant(datetime.fromisoformat(shown).replace(tzinfo=ZONE), source)
    error = clock_error(heard("time now is nine fifteen"), began)
    return error and (began.at + error.shift + timedelta(seconds=30)).strftime("%d %H:%M")


@pytest.mark.parametrize(
    ("shown", "expected"),
    [
        ("2026-03-14 09:15:10", None),  # right
        ("2026-03-14 09:16:00", None),  # people round
        ("2026-03-14 09:02:00", "14 09:15"),  # slow
        ("2026-03-14 21:10:00", "14 21:15"),  # an evening, nearly right
        ("2026-03-14 16:15:00", "14 09:15"),  # hours off: by day
        ("2026-03-14 00:30:00", "14 09:15"),
        ("2026-03-14 23:50:00", "15 09:15"),
    ],
)
def test_the_day_and_half_are_those_that_make_sense(heard, shown, expected):
    assert right(heard, shown) == expected


def test_a_clock_already_put_right_is_left_alone(heard):
    assert right(heard, "2026-03-14 12:00:00", "spoken") is None


def test_a_memo_that_says_no_time_says_nothing_of_its_clock(heard):
    began = Instant(datetime(2026, 3, 14, 9, tzinfo=ZONE), "container")
    assert clock_error(heard("torqued to seventeen"), began) is None


def test_files_of_one_recorder_are_known_by_their_names():
    assert recorder("REC_0012.WAV") == recorder("rec_0013.wav")
    assert recorder("REC_0012.WAV") != recorder("Voice 12.m4a")
