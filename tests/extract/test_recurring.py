"""What recurs, heard in memos: the year that a month without one means, an owner's own things."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from dateutil.relativedelta import relativedelta

from capture.observed import Hearing, Instant, Transcript, Word
from extract.claims.until import coming
from extract.read import read_memo, read_sentence
from extract.values.catalogue import Catalogue, load
from extract.values.known import Known
from extract.values.units import Units

BEGAN = Instant(datetime(2026, 3, 14, 9, 0, tzinfo=UTC), "exif")
ON = Known(on=date(2026, 3, 14))


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load()


def heard(text: str, model: str = "base") -> Hearing:
    words = [Word(w, 0.4 * n, 0.4 * n + 0.38, 0.95) for n, w in enumerate(text.split())]
    return Hearing(model, "test", tuple(words))


def test_two_hearings_give_one_draft_each_with_doubts_and_the_sound_of_its_words(
    catalogue: Catalogue,
) -> None:
    text = "ELT battery replaced, good until June twenty twenty-nine."
    hearings = (heard(text), heard(text, "tiny.en"))
    drafts = read_memo(Transcript("memo.wav", 60.0, hearings, ((0.0, 60.0),), BEGAN), catalogue)
    assert {(d.name, d.position, d.value) for d in drafts} == {
        ("recurring_done", "ELT battery", True),
        ("next_due_date", "ELT battery", date(2029, 6, 30)),
    }
    assert all(d.doubts and d.start is not None for d in drafts)


def test_a_month_without_a_year_is_the_first_that_comes_after_the_memo(
    catalogue: Catalogue,
) -> None:
    hearings = (heard("Annual's due in February."), heard("Annual's due in February.", "tiny.en"))
    drafts = read_memo(Transcript("memo.wav", 60.0, hearings, ((0.0, 60.0),), BEGAN), catalogue)
    assert [(d.name, d.value) for d in drafts] == [("next_due_date", date(2027, 2, 28))]


@pytest.mark.parametrize("month", range(1, 13))
@pytest.mark.parametrize("year", [2026, 2027, 2028])
def test_the_last_of_a_month_stays_the_last_a_year_later(year: int, month: int) -> None:
    # against dateutil: day 31 is cut to the month's last, leap years and all
    last = date(year, month, 1) + relativedelta(day=31)
    assert coming(last, last) == last
    assert coming(last, last + relativedelta(days=1)) == last + relativedelta(years=1, day=31)


def test_what_can_be_read_two_ways_shows_the_other_and_errs_early(catalogue: Catalogue) -> None:
    (one,) = read_sentence("ELT battery good until June twenty-nine.", catalogue, ON)
    assert one.value == date(2026, 6, 29)
    assert [a.value for a in one.alternatives] == [date(2029, 6, 30)]


@pytest.mark.parametrize(
    ("words", "value", "other"),
    [
        ("Annual's due in March, no, April.", date(2026, 4, 30), date(2026, 3, 31)),
        ("Annual's due in March or April.", date(2026, 3, 31), date(2026, 4, 30)),
    ],
)
def test_two_days_in_one_breath_stand_beside_each_other(
    catalogue: Catalogue, words: str, value: date, other: date
) -> None:
    (one,) = read_sentence(words, catalogue, ON)
    assert one.value == value
    assert other in [a.value for a in one.alternatives]


def test_a_date_of_the_work_beside_it_is_not_swallowed(catalogue: Catalogue) -> None:
    words = "Annual's due in March, today is the ninth of February twenty twenty-six."
    drafts = read_sentence(words, catalogue, Known(on=date(2026, 2, 9)))
    assert {d.name: d.value for d in drafts} == {
        "next_due_date": date(2026, 3, 31),
        "service_date": date(2026, 2, 9),
    }


def test_an_owners_own_thing_is_read_by_its_name(catalogue: Catalogue) -> None:
    own = catalogue.owned(Units(), recurring=("fire bottle",))
    (one,) = read_sentence("Fire bottle is good until May twenty thirty.", own)
    assert (one.position, one.value) == ("fire bottle", date(2030, 5, 31))
