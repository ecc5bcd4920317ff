"""What a last known reading does to the readings of a meter. Readings and dates are invented."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from capture.observed import Hearing, Transcript, Word
from extract.read import read_memo
from extract.values.catalogue import load
from extract.values.draft import Alternative, Draft
from extract.values.known import NOTHING, Known
from extract.witness.fuse import fuse
from extract.witness.meters import UNNAMED, expect, fits

LAST = Known(last_tach=Decimal("2298.1"))


def tach(value: str, confidence: float = 0.9, *others: tuple[str, float]) -> Draft:
    readings = tuple(Alternative(Decimal(v), c, "another hearing") for v, c in others)
    return Draft(
        "tach_time", Decimal(value), "h", None, "memo", 1.0, 2.0, None, "", confidence, (), readings
    )


def test_a_reading_that_cannot_be_falls_behind_one_that_can():
    found = expect(tach("345.6", 0.9, ("2345.6", 0.2)), load(), LAST)
    assert found.value == Decimal("2345.6")
    assert found.alternatives[0].value == Decimal("345.6")
    assert "does not follow the last 2298.1 h" in found.doubts[0]


def test_a_clear_reading_long_after_the_last_is_not_exchanged_for_a_faint_one_near_it():
    found = expect(tach("3527.1", 0.97, ("2317.1", 0.17)), load(), LAST)
    assert found.value == Decimal("3527.1")


def test_a_reading_that_cannot_be_stays_where_nothing_else_was_heard_and_is_less_sure():
    found = expect(tach("345.6", 0.98), load(), LAST)
    assert found.value == Decimal("345.6")
    assert found.confidence < 0.75


def test_a_faint_reading_is_kept_where_it_is_just_what_was_due():
    assert expect(tach("2322.7", 0.4), load(), LAST).confidence > 0.7
    assert expect(tach("2999.9", 0.4), load(), LAST).confidence == pytest.approx(0.4)


def test_no_meter_outruns_the_calendar():
    """27 h a day is the most: 24 h, and a tach that runs 1.125 times the clock (2700 of 2400)."""
    week = Known(last_tach=Decimal(2000), last_date=date(2026, 3, 1), on=date(2026, 3, 7))
    assert fits(tach("2100"), week)
    assert expect(tach("2400", 0.9, ("2040", 0.2)), load(), week).value == Decimal(2040)
    # eight days with both ends are 216 h at most; without dates 400 h would stand
    without = Known(last_tach=Decimal(2000))
    assert expect(tach("2400", 0.9, ("2040", 0.05)), load(), without).value == Decimal(2400)


def test_of_two_statements_the_one_that_was_due_counts_and_both_are_shown():
    early, late = tach("2322.7", 0.8), tach("2971.3", 0.8)
    (found,) = fuse([early, late], load(), LAST)
    assert found.value == Decimal("2322.7")
    assert found.doubts == ("said twice, and not the same: 2322.7 h, then 2971.3 h",)
    (last,) = fuse([early, late], load(), NOTHING)
    assert last.value == Decimal("2971.3")


def hear(text: str, known: Known) -> dict[str, Draft]:
    words = tuple(Word(w, n * 0.4, n * 0.4 + 0.3, 0.9) for n, w in enumerate(text.split()))
    both = tuple(Hearing(model, "window", words) for model in ("base", "tiny.en"))
    return {d.name: d for d in read_memo(Transcript("memo", 60.0, both), load(), known)}


@pytest.mark.parametrize(
    ("heard", "value"),
    [
        ("So a tad. It treats two three two two point seven hours.", "2322.7"),
        ("The dash on shore is two three two two one seven.", "2322.7"),
    ],
)
def test_a_reading_that_was_due_is_a_draft_with_a_doubt_though_its_meter_was_not_heard(
    heard: str, value: str
):
    found = hear(heard, LAST)["tach_time"]
    assert found.value == Decimal(value)
    assert UNNAMED in found.doubts
    assert "tach_time" not in hear(heard, NOTHING)


@pytest.mark.parametrize(
    "heard",
    [
        "Next change is due at two three four eight point one.",
        "He wants it back before two three two two point seven.",
        "The can says eighteen point five quarts for the big one.",
    ],
)
def test_a_plan_or_another_number_is_no_reading_that_was_due(heard: str):
    assert "tach_time" not in hear(heard, LAST)
