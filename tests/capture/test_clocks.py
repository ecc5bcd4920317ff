from __future__ import annotations

from datetime import UTC, datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from capture.clocks import began_at, name_time, spoken_clock
from capture.observed import Instant, Kept, Word

CHICAGO = ZoneInfo("America/Chicago")
HOUR = timedelta(hours=1)
MODIFIED = datetime(2026, 3, 22, 12, 0, tzinfo=UTC)


def _kept(name: str = "memo.m4a") -> Kept:
    return Kept("0" * 64, name, 1, "memo", MODIFIED)


def _began(name: str = "memo.m4a", **given: object) -> Instant:
    clocks = {"container": None, "exif": None, "zone": CHICAGO} | given
    return began_at(_kept(name), **clocks)  # type: ignore[arg-type]


def _words(text: str, step: float = 0.3) -> tuple[Word, ...]:
    return tuple(Word(w, n * step, n * step + step) for n, w in enumerate(text.split()))


@pytest.mark.parametrize(
    ("name", "at"),
    [
        ("20260321_104653.wav", (2026, 3, 21, 10, 46, 53)),
        ("Recording_20260321_104653.ogg", (2026, 3, 21, 10, 46, 53)),
        ("Voice 2026-03-21 10-46-53.m4a", (2026, 3, 21, 10, 46, 53)),
        ("Voice_2026-03-21-10-46-53.ogg", (2026, 3, 21, 10, 46, 53)),
        ("2026-03-21T10.46.53.wav", (2026, 3, 21, 10, 46, 53)),
        ("2026-03-21 at 10.46.53.jpg", (2026, 3, 21, 10, 46, 53)),
        ("Photo 2026-03-21 at 1.46.53 PM.jpg", None),  # an hour of one figure is not taken for two
        ("Photo 2026-03-21 at 01.46.53 PM.jpg", (2026, 3, 21, 13, 46, 53)),
        ("2026-03-21 12.05.00 AM.m4a", (2026, 3, 21, 0, 5, 0)),
        ("IMG_20260321_104653123.jpg", (2026, 3, 21, 10, 46, 53)),
        ("IMG-20260321-WA0003.jpg", None),
        ("260321_1046.mp3", (2026, 3, 21, 10, 46, 0)),
        ("REC_20260321104653.amr", (2026, 3, 21, 10, 46, 53)),
        ("21-03-2026 10.46.m4a", (2026, 3, 21, 10, 46, 0)),
        ("2026-02-30 10-46-53.m4a", None),
        ("20260321.m4a", None),
        ("New Recording 17.m4a", None),
        ("memo-d02.ogg", None),
        ("IMG_4711.jpg", None),
        ("1773505613.wav", None),
        ("20261399_999999.wav", None),
    ],
)
def test_a_time_is_read_from_names_as_devices_give_them(
    name: str, at: tuple[int, ...] | None
) -> None:
    assert name_time(name) == (datetime(*at) if at else None)  # noqa: DTZ001


@given(st.datetimes(datetime(2000, 1, 1), datetime(2099, 12, 31)))  # noqa: DTZ001
def test_every_second_comes_back_from_its_name(at: datetime) -> None:
    at = at.replace(microsecond=0)
    for form in ("%Y%m%d_%H%M%S", "Voice %Y-%m-%d %H-%M-%S", "%Y%m%d%H%M%S", "%Y-%m-%dT%H.%M.%S"):
        assert name_time(at.strftime(form) + ".m4a") == at


def test_the_clocks_are_asked_in_the_order_exif_container_name_file() -> None:
    # the order is the one that the project's first specification lays down
    exif = datetime(2026, 3, 14, 9, 26, 53, tzinfo=timezone(-7 * HOUR))
    container = datetime(2026, 3, 21, 15, 46, 53, tzinfo=UTC)
    name = "20260321_104653.m4a"
    assert _began(name, exif=exif, container=container) == Instant(exif, "exif")
    told = _began(name, container=container)
    assert (told.source, told.at.isoformat()) == ("container", "2026-03-21T10:46:53-05:00")
    named = _began(name)
    assert (named.source, named.at.isoformat()) == ("name", "2026-03-21T10:46:53-05:00")
    filed = _began()
    assert (filed.source, filed.at) == ("file", MODIFIED)
    assert "copying" in filed.doubt
    assert filed.at.utcoffset() == -5 * HOUR


def test_a_time_in_utc_is_told_in_the_zone_and_an_offset_is_kept() -> None:
    utc = _began(container=datetime(2026, 1, 30, 9, 0, tzinfo=UTC)).at
    assert utc.isoformat() == "2026-01-30T03:00:00-06:00"
    there = datetime(2026, 1, 30, 9, 0, tzinfo=timezone(5.5 * HOUR))
    assert _began(container=there).at.isoformat() == "2026-01-30T09:00:00+05:30"


def test_a_time_without_offset_is_read_in_the_zone() -> None:
    assert _began(exif=datetime(2026, 7, 1, 9, 0)).at.utcoffset() == -5 * HOUR  # noqa: DTZ001
    assert _began(exif=datetime(2026, 1, 1, 9, 0)).at.utcoffset() == -6 * HOUR  # noqa: DTZ001


def test_an_hour_that_the_clocks_skip_or_repeat_is_a_doubt() -> None:
    # 2026-03-08 02:00 to 03:00 does not exist in Chicago, 2026-11-01 01:00 to 02:00 comes twice:
    # the second Sunday in March and the first in November, 15 U.S.C. 260a
    gap = _began("20260308_023000.wav")
    assert "did not exist" in gap.doubt
    assert gap.at.isoformat() == "2026-03-08T03:30:00-05:00"
    twice = _began("20261101_013000.wav")
    assert "came twice" in twice.doubt
    assert twice.at.isoformat() == "2026-11-01T01:30:00-05:00"


@pytest.mark.parametrize("year", [1904, 1970, 1980, 2107])
def test_an_unset_clock_is_passed_over(year: int) -> None:
    begun = _began("20260321_104653.m4a", container=datetime(year, 1, 1, tzinfo=UTC))
    assert begun.source == "name"


def test_a_container_that_tells_when_it_stopped_is_set_back_to_the_start() -> None:
    stopped = datetime(2026, 3, 21, 15, 56, 54, tzinfo=UTC)
    begun = _began("20260321_104653.m4a", container=stopped, duration_s=600.0)
    assert begun.at.isoformat() == "2026-03-21T10:46:53-05:00"
    assert begun.doubt == ""


def test_local_time_written_where_utc_belongs_is_seen_by_the_name() -> None:
    begun = _began("20260321_104653.m4a", container=datetime(2026, 3, 21, 10, 46, 54, tzinfo=UTC))
    assert begun.at.isoformat() == "2026-03-21T10:46:53-05:00"


def test_a_container_and_a_name_that_differ_are_a_doubt_that_tells_both() -> None:
    begun = _began("20260321_104653.m4a", container=datetime(2026, 3, 20, 9, 0, tzinfo=UTC))
    assert begun.at == datetime(2026, 3, 20, 9, 0, tzinfo=UTC)
    assert "2026-03-20 04:00" in begun.doubt
    assert "2026-03-21 10:46" in begun.doubt


@given(st.timedeltas(timedelta(days=-400), timedelta(days=400)))
def test_a_shift_moves_every_clock_but_the_files_own(shift: timedelta) -> None:
    at = datetime(2026, 3, 14, 9, 26, 53, tzinfo=UTC)
    assert _began(container=at, shift=shift).at - _began(container=at).at == shift
    assert _began(shift=shift).at == MODIFIED


@pytest.mark.parametrize(
    ("said", "at"),
    [
        ("Time now is ten forty-two.", time(10, 42)),
        ("The time is now oh nine fifteen, starting.", time(9, 15)),
        ("Okay, time check, fourteen oh five.", time(14, 5)),
        ("It's now two thirty p.m.", time(14, 30)),
        ("Time now is seven o'clock.", time(7, 0)),
        ("Time now is fourteen hundred.", time(14, 0)),
        ("So the time is twelve twenty a.m. and I start", time(0, 20)),
        ("time now twenty-two fifty-nine", time(22, 59)),
    ],
)
def test_a_spoken_time_of_day_is_found(said: str, at: time) -> None:
    found = spoken_clock(_words(said))
    assert found is not None
    assert found[0] == at


@pytest.mark.parametrize(
    "said",
    [
        "Tach time now is twelve thirty",
        "The tach time is twenty-three forty-five point six",
        "Time now is twelve thirty-four point five",
        "Time is ten forty-two",
        "By the time now we had six quarts in",
        "It's now seven quarts",
        "The time is right",
        "The time is now seven",
        "Time now is thirty forty",
        "",
    ],
)
def test_other_times_and_numbers_are_no_clock(said: str) -> None:
    assert spoken_clock(_words(said)) is None


@given(st.integers(0, 23), st.integers(10, 59))
def test_every_hour_and_minute_as_others_word_it(hour: int, minute: int) -> None:
    # the words are num2words'
    text = f"Right. Time now is {num2words(hour)} {num2words(minute)}."
    words = _words(text)
    found = spoken_clock(words)
    assert found == (time(hour, minute), words[1].start_s)


def test_a_file_and_a_name_of_different_days_are_as_uncertain_as_they_are_apart() -> None:
    container = datetime(2026, 5, 20, 14, 0, tzinfo=UTC)
    got = _began("20260321_104653.wav", container=container)
    named = datetime(2026, 3, 21, 10, 46, 53, tzinfo=CHICAGO)
    assert got.uncertainty_s == (container - named).total_seconds()
    assert "its name 2026-03-21" in got.doubt
