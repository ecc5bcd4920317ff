"""A label whose part number stands in the line below its prompt."""

from __future__ import annotations

import pytest

from capture.observed import PhotoText, Reading
from extract.values.catalogue import load
from extract.witness.photo import read_photo


def line(text: str, top: float, left: float = 100.0, wide: float = 300.0) -> Reading:
    quad = ((left, top), (left + wide, top), (left + wide, top + 40), (left, top + 40))
    return Reading("text", text, quad, 0.99)


def read(*lines: Reading) -> list[object]:
    photo = PhotoText("IMG.jpg", (800, 600), "label", lines, "recorded")
    return [d.value for d in read_photo(photo, load()) if d.name == "filter_part_number"]


@pytest.mark.parametrize("prompt", ["PART NO.", "Part Number:", "P/N", "PART #"])
def test_the_line_below_the_prompt_is_the_part_number(prompt):
    label = [line("OIL FILTER", 20), line(prompt, 100), line("QF-318B", 150), line("LOT 26-4", 220)]
    assert read(*label) == ["QF-318B"]


@pytest.mark.parametrize("below", ["LOT 2604-17", "TORQUE 16 - 18 FT-LB", "OIL FILTER"])
def test_what_cannot_be_a_part_number_is_not_taken_for_one(below):
    assert read(line("PART NO.", 100), line(below, 150)) == []


def test_a_line_far_below_or_beside_is_not_taken():
    assert read(line("PART NO.", 100), line("QF-318B", 400)) == []
    assert read(line("PART NO.", 100), line("QF-318B", 150, left=500)) == []
