"""Several witnesses of one field: they agree, or the draft says that they do not."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from extract.exact.amiss import SOUND_ALIKE
from extract.values.catalogue import load
from extract.values.draft import Alternative, Draft
from extract.values.known import Known
from extract.witness.fuse import fuse
from extract.witness.photo import NO_FILTER

CATALOGUE = load()
MORNING = datetime(2026, 3, 14, 9, 0, tzinfo=UTC)
QUAD = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))


def said(value: object, media: str = "a.wav", minute: int = 0, **other: object) -> Draft:
    known = {"name": "tach_time", "unit": "h", "confidence": 0.9, "start": 3.0, "end": 4.0} | other
    return Draft(
        value=Decimal(value) if isinstance(value, str) and known["unit"] else value,
        position=None,
        media=media,
        said_at=MORNING + timedelta(minutes=minute),
        heard=f"{media} says {value}",
        **known,
    )


def seen(value: str, minute: int = 0, **other: object) -> Draft:
    return said(value, "IMG_1.jpg", minute, start=None, end=None, quad=QUAD, **other)


def one(*drafts: Draft, known: Known | None = None) -> Draft:
    (made,) = fuse(drafts, CATALOGUE, known or Known())
    return made


def test_a_photo_that_agrees_makes_the_spoken_value_surer_and_stays_as_evidence():
    got = one(said("2345.6"), seen("2345.6"))
    assert got.confidence > 0.9
    assert got.doubts == ()
    assert {got.media, *(e.media for e in got.also)} == {"a.wav", "IMG_1.jpg"}


def test_a_photo_that_agrees_settles_a_doubtful_hearing():
    got = one(said("2345.6", doubts=("only one hearing",), confidence=0.6), seen("2345.6"))
    assert got.doubts == ()


def test_a_photo_that_differs_makes_a_doubt_with_both_values_and_both_places():
    got = one(said("2345.6"), seen("2346.6", confidence=0.95))
    assert got.value == Decimal("2346.6")
    assert got.doubts == (
        "the photo and what was said differ: said 2345.6 h, photographed 2346.6 h",
    )
    assert [a.value for a in got.alternatives] == [Decimal("2345.6")]
    assert [e.media for e in got.also] == ["a.wav"]
    assert got.confidence < 0.6


def test_what_is_known_ranks_witnesses_and_never_silences_one():
    got = one(said("2345.6"), seen("234.6", confidence=0.99), known=Known(last_tach=Decimal(2298)))
    assert got.value == Decimal("2345.6")
    assert got.doubts
    part = {"name": "filter_part_number", "unit": None}
    got = one(
        said("QF-318B", **part),
        said("318B", "b.wav", 5, **part),
        known=Known(filter_part_number="QF-318B"),
    )
    assert got.value == "QF-318B"
    assert got.doubts


def test_the_end_of_a_part_number_agrees_with_the_whole_one_which_is_kept():
    part = {"name": "filter_part_number", "unit": None}
    got = one(said("-318B", **part), seen("QF-318B", confidence=0.8, **part))
    assert (got.value, got.doubts, got.media) == ("QF-318B", (), "IMG_1.jpg")
    assert one(said("-318A", **part), seen("QF-318B", **part)).doubts
    assert one(said("318B", **part), seen("QF-318B", **part)).doubts  # perhaps another part


@pytest.mark.parametrize("turned", [False, True])
def test_of_two_memos_the_later_counts_whatever_order_they_come_in(turned):
    drafts = [said("2345.6", "a.wav", 0), said("2345.8", "b.wav", 9)]
    got = one(*(reversed(drafts) if turned else drafts))
    assert got.value == Decimal("2345.8")
    assert got.doubts == ("said twice, and not the same: 2345.6 h, then 2345.8 h",)


def test_open_and_then_closed_is_no_contradiction():
    state = {"name": "cowling_installed", "unit": None}
    got = one(said(False, "a.wav", 0, **state), said(True, "b.wav", 9, **state))
    assert (got.value, got.doubts) == (True, ())
    assert [e.media for e in got.also] == ["a.wav"]
    back = one(said(True, "a.wav", 0, **state), said(False, "b.wav", 9, **state))
    assert (back.value, len(back.doubts)) == (False, 1)


def test_no_value_is_offered_twice_nor_told_twice():
    others = (
        Alternative(Decimal("2345.8"), 0.3, "another hearing"),
        Alternative(Decimal("2345.80"), 0.1, "heard faintly"),
        Alternative(Decimal("2345.60"), 0.1, "another hearing"),
    )
    got = one(said("2345.6", alternatives=others))
    assert [(a.value, a.why) for a in got.alternatives] == [(Decimal("2345.8"), "another hearing")]
    got = one(said("2345.8", "a.wav"), said("2345.80", "b.wav", 3), said("2345.6", "c.wav", 9))
    assert got.doubts == ("said twice, and not the same: 2345.8 h, then 2345.6 h",)
    assert [a.value for a in got.alternatives] == [Decimal("2345.8")]


def test_what_an_ear_leaves_open_and_the_eye_answers_is_no_doubt():
    """The issue's case: "PART NO. AX-72180", equal to speech, with no words round it."""
    part = {"name": "filter_part_number", "unit": None}
    spoken = said("AX-72180", doubts=(SOUND_ALIKE,), **part)
    printed = seen("AX-72180", doubts=(NO_FILTER,), **part)
    assert one(spoken, printed).doubts == ()
    assert one(spoken).doubts == (SOUND_ALIKE,)
    assert one(printed).doubts == (NO_FILTER,)
    other = seen("AX-48118", doubts=(NO_FILTER,), **part)
    assert NO_FILTER in one(spoken, other).doubts or SOUND_ALIKE in one(spoken, other).doubts
