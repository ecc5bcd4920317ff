"""Figures spoken one by one and misheard. The mishearings are of synthetic voices; no source."""

from __future__ import annotations

from decimal import Decimal

import pytest

from capture.observed import Hearing, Transcript, Word
from extract.read import READ_BACK, read_memo, read_sentence
from extract.values.catalogue import load
from extract.values.draft import Draft


def read(text: str) -> tuple[Draft, ...]:
    words = tuple(Word(w, n * 0.4, n * 0.4 + 0.3, 0.9) for n, w in enumerate(text.split()))
    both = tuple(Hearing(model, "window", words) for model in ("base", "tiny.en"))
    return read_memo(Transcript("memo", 60.0, both), load())


@pytest.mark.parametrize(
    ("heard", "value"),
    [
        ("Tach double two, seven line of point five.", "2279.5"),
        ("Tach W two seven nine point five.", "2279.5"),
        ("Tach trip oh three point nine or.", "333.9"),
        ("Tach triple three, point-liner.", "333.9"),
        ("The Hobbs is twenty-seven over four point nine.", "2704.9"),
        ("The Hobbs is showing two six and one point eight.", "2601.8"),
        ("Tach for the record is one one nine and two point four.", "1192.4"),
    ],
)
def test_a_figure_is_read_back_among_figures_with_a_doubt(heard: str, value: str):
    (draft,) = read(heard)
    assert draft.value == Decimal(value)
    assert READ_BACK in draft.doubts


@pytest.mark.parametrize(
    ("heard", "values"),
    [
        ("Cylinder one is seventy-four over eighty.", {"74"}),
        ("The tach is at nineteen oh four point six.", {"1904.6"}),
        ("The filter went to sixteen or so foot pounds.", {"16"}),
        ("Cylinder two is sixty-nine over eighty.", {"69"}),
    ],
)
def test_such_words_elsewhere_are_words(heard: str, values: set[str]):
    drafts = read(heard)
    assert {str(d.value) for d in drafts} == values
    assert not any(READ_BACK in d.doubts for d in drafts)


def test_typed_words_are_taken_as_they_stand():
    assert not read_sentence("Tach W two seven line of point five.", load())
