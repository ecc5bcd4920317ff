"""What may be taught, and where it is read back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from extract.mend.rescue import read_back, rescue
from extract.mend.taught import hindrance
from extract.words.parts import parts_of

TAUGHT = (("tacks", "tach"),)


@given(st.integers(0, 99_999), st.sampled_from(["cardinal", "ordinal"]))
def test_no_number_that_another_library_spells_can_be_taught(number: int, to: str):
    """num2words spells it; on either side it is refused."""
    said = num2words(number, to=to).replace(",", "")
    assert hindrance(said, "tach")
    assert hindrance("tacks", said)


def test_a_word_of_the_owners_own_may_be_meant():
    assert hindrance("gasculator", "gascolator")
    assert not hindrance("gasculator", "gascolator", ["gascolator"])


@pytest.mark.parametrize(
    ("said", "norm"),
    [
        ("the tacks was sitting over at two three six nine", "tach"),
        ("brass tacks are on the bench", "tacks"),  # nothing there calls for it
    ],
)
def test_a_taught_word_is_read_back_only_where_the_words_around_call_for_it(said: str, norm: str):
    parts = rescue(parts_of(said.split()), TAUGHT)
    (found,) = (part for part in parts if part.text == "tacks")
    assert (found.norm, found.rescued, found.taught) == (norm, norm == "tach", norm == "tach")


def test_read_back_names_the_words_and_never_a_figure():
    (one,) = read_back(["tacks", "reads", "two", "three", "four", "five", "point", "six"])
    assert (one.heard, one.meant, one.first, one.last) == ("tacks", "tach", 0, 0)
    assert read_back(["Tach", "W", "two", "seven", "nine", "point", "five."]) == ()
