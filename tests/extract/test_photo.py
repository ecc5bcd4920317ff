"""Photo text to drafts. What must not become a field is as much the job as what must."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest

from capture.observed import Instant, PhotoText, Reading
from extract.values.draft import Draft
from extract.values.known import NOTHING, Known
from extract.witness.photo import read_photo, written_date

HOURS = Reading("drum", "2345.6", ((10, 10), (90, 10), (90, 30), (10, 30)), 0.96)


def line(text: str, row: int, *, left: float = 0, hand: bool = False, sure: float = 0.99,
         **more: Any) -> Reading:  # fmt: skip
    quad = ((left, row * 20), (left + 9 * len(text), row * 20),
            (left + 9 * len(text), row * 20 + 14), (left, row * 20 + 14))  # fmt: skip
    return Reading("text", text, quad, sure, handwritten=hand, **more)


def photo(subject: str, *readings: Reading) -> PhotoText:
    taken = Instant(datetime(2026, 3, 14, 16, 26, 53, tzinfo=UTC), "exif")
    return PhotoText("IMG_1.jpg", (1000, 800), subject, readings, "test", taken)


def only(drafts: tuple[Draft, ...]) -> Draft:
    assert len(drafts) == 1, drafts
    return drafts[0]


@pytest.mark.parametrize(("subject", "name"), [("tach", "tach_time"), ("hobbs", "hour_meter_time")])
def test_a_counter_becomes_the_hours_of_its_meter(catalogue: Any, subject: str, name: str) -> None:
    draft = only(read_photo(photo(subject, HOURS), catalogue))
    assert (draft.name, draft.value, draft.unit) == (name, Decimal("2345.6"), "h")
    assert draft.heard == "2345.6"
    assert draft.quad == HOURS.quad
    assert draft.said_at == datetime(2026, 3, 14, 16, 26, 53, tzinfo=UTC)
    assert draft.start is None
    assert draft.doubts == ()


@pytest.mark.parametrize("subject", ["other", "tach", "label"])
def test_a_photo_with_nothing_to_read_makes_no_draft(catalogue: Any, subject: str) -> None:
    assert read_photo(photo(subject, line("OIL PSI", 1), line("60", 2)), catalogue) == ()


def test_a_counter_of_something_else_makes_no_draft(catalogue: Any) -> None:
    assert read_photo(photo("other", HOURS, line("VOLTS", 1)), catalogue) == ()


def test_the_doubts_of_the_reader_reach_the_draft_with_the_next_tenth_beside(
    catalogue: Any,
) -> None:
    rolling = replace(
        HOURS, alternatives=(("2345.7", 0.2),), doubts=("the last drum stands between 6 and 7",)
    )
    draft = only(read_photo(photo("tach", rolling), catalogue))
    assert "between 6 and 7" in draft.doubts[0]
    assert [a.value for a in draft.alternatives] == [Decimal("2345.7")]


def test_a_value_that_cannot_follow_the_last_is_doubted(catalogue: Any) -> None:
    known = Known(last_tach=Decimal("2400.0"))
    draft = only(read_photo(photo("tach", HOURS), catalogue, known))
    assert any("2400.0" in doubt for doubt in draft.doubts)
    assert draft.confidence < 0.6


def test_another_reading_that_can_follow_the_last_goes_first_and_says_so(catalogue: Any) -> None:
    known = Known(last_tach=Decimal("2290.0"))
    read = replace(HOURS, text="345.6", alternatives=(("2345.6", 0.3),))
    draft = only(read_photo(photo("tach", read), catalogue, known))
    assert draft.value == Decimal("2345.6")
    assert draft.doubts
    assert draft.alternatives[0].value == Decimal("345.6")


def test_a_close_up_is_named_by_what_was_said_about_then(catalogue: Any) -> None:
    words = ("snapping", "the", "tach", "now")
    draft = only(read_photo(photo("counter", HOURS), catalogue, NOTHING, words))
    assert draft.name == "tach_time"
    assert draft.doubts


def test_a_close_up_is_named_by_the_meter_whose_last_hours_are_nearest(catalogue: Any) -> None:
    known = Known(last_tach=Decimal("1800.0"), last_hour_meter=Decimal("2340.1"))
    draft = only(read_photo(photo("counter", HOURS), catalogue, known))
    assert draft.name == "hour_meter_time"
    assert "which meter" in draft.doubts[0]


def test_a_second_counter_in_the_picture_is_a_doubt(catalogue: Any) -> None:
    other = replace(HOURS, text="1180.2")
    draft = only(read_photo(photo("tach", HOURS, other), catalogue))
    assert any("1180.2" in doubt for doubt in draft.doubts)


# --- labels


PRINT = (
    line("OIL FILTER", 0), line("P/N: QX-72518-B", 2), line("TORQUE 16-18 FT-LB", 3),
    line("LOT 2508077", 4), line("S/N 925942", 5), line("CHANGE EVERY 50 HRS OR 4 MONTHS", 6),
)  # fmt: skip


def test_a_label_gives_its_part_number_and_neither_torque_nor_lot_nor_serial(
    catalogue: Any,
) -> None:
    draft = only(read_photo(photo("label", *PRINT), catalogue))
    assert (draft.name, draft.value) == ("filter_part_number", "QX-72518-B")
    assert draft.doubts == ()


def test_a_part_number_that_looks_like_the_expected_one_is_not_corrected_but_doubted(
    catalogue: Any,
) -> None:
    known = Known(filter_part_number="QX-7251B-8")
    draft = only(read_photo(photo("label", *PRINT), catalogue, known))
    assert draft.value == "QX-72518-B"
    assert any("QX-7251B-8" in doubt for doubt in draft.doubts)
    assert draft.alternatives[0].value == "QX-7251B-8"
    assert draft.confidence <= 0.5


def test_another_part_number_than_the_expected_one_is_doubted(catalogue: Any) -> None:
    known = Known(filter_part_number="ZZ-1")
    draft = only(read_photo(photo("label", *PRINT), catalogue, known))
    assert draft.value == "QX-72518-B"
    assert draft.doubts


def test_a_line_that_reads_otherwise_at_a_closer_look_is_doubted(catalogue: Any) -> None:
    twice = line("P/N QX-72518", 1, alternatives=(("P/N QX-72S18", 0.9),))
    draft = only(read_photo(photo("label", line("OIL FILTER", 0), twice), catalogue))
    assert draft.doubts == ("at a closer look it reads QX-72S18", *draft.doubts[1:])
    assert draft.alternatives[0].value == "QX-72S18"


def test_a_number_on_an_oil_bottle_is_no_filters(catalogue: Any) -> None:
    bottle = (line("AVIATION OIL", 0), line("SAE 50", 1), line("P/N 4471-A", 2), line("LOT 3", 3))
    assert read_photo(photo("label", *bottle), catalogue) == ()


def test_two_part_numbers_or_no_word_of_a_filter_are_doubts(catalogue: Any) -> None:
    two = only(read_photo(photo("label", *PRINT, line("P/N ZZ-9", 9)), catalogue))
    assert any("ZZ-9" in doubt for doubt in two.doubts)
    bare = only(read_photo(photo("label", line("P/N QX-72518", 1)), catalogue))
    assert any("filter" in doubt for doubt in bare.doubts)


HAND = (
    line("DATE INSTALLED", 8), line("TACH", 8, left=400),
    line("27", 9, hand=True), line("DEC", 9, left=40, hand=True),
    line("2025", 9, left=90, hand=True), line("5791.6", 9, left=400, hand=True),
)  # fmt: skip


def test_the_number_that_the_profile_has_needs_no_words_round_it(catalogue: Any) -> None:
    shown = photo("label", line("PART NO. AX-72180", 0))
    assert only(read_photo(shown, catalogue)).doubts
    known = Known(filter_part_number="AX-72180")
    assert only(read_photo(shown, catalogue, known)).doubts == ()
    bare = photo("label", line("AX-72180", 0))
    assert only(read_photo(bare, catalogue, known)).doubts == ()


def test_handwriting_is_drafted_with_a_doubt_and_its_crop(catalogue: Any) -> None:
    drafts = {d.name: d for d in read_photo(photo("label", *PRINT, *HAND), catalogue)}
    assert drafts["service_date"].value == date(2025, 12, 27)
    assert drafts["tach_time"].value == Decimal("5791.6")
    for name in ("service_date", "tach_time"):
        assert any("hand" in doubt for doubt in drafts[name].doubts)
        assert drafts[name].quad is not None


def test_handwritten_hours_without_a_point_keep_the_other_reading(catalogue: Any) -> None:
    written = (line("TACH", 8), line("57916", 9, hand=True))
    draft = only(read_photo(photo("label", *written), catalogue))
    assert draft.value == Decimal("5791.6")
    assert [a.value for a in draft.alternatives] == [Decimal(57916)]
    assert len(draft.doubts) == 2


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("27 DEC 2025", date(2025, 12, 27)),
        ("02APR 2025", date(2025, 4, 2)),
        ("DEC 27 25", date(2025, 12, 27)),
        ("12/27/25", date(2025, 12, 27)),  # all digits: US order
        ("4-2-2025", date(2025, 4, 2)),
        ("2025-04-02", date(2025, 4, 2)),
        ("27/12/25", None),  # there is no month 27; nothing is guessed
        ("31 FEB 2025", None),
        ("DEC 2025", None),
        ("5791.6", None),
    ],
)
def test_dates_are_read_as_mechanics_write_them(text: str, day: date | None) -> None:
    assert written_date(text) == day
