"""Spoken numbers against independent libraries: what num2words says must come back equal.

num2words and text2num are other people's code; no library knows *niner*, *decimal* or *over*, so
those are held by cases of our own (tests/extract/cases).
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words
from text_to_num import text2num

from extract.exact.counted import read_number

DIGIT = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
FRACTIONS = [
    ("a half", "0.5"),
    ("a quarter", "0.25"),
    ("three quarters", "0.75"),
    ("an eighth", "0.125"),
    ("five eighths", "0.625"),
]
RADIO = ["zero", "one", "two", "tree", "four", "fife", "six", "seven", "eight", "niner"]


def plain(words: str) -> str:
    return words.replace(",", "")


@pytest.mark.parametrize("start", range(0, 100_000, 10_000))
def test_every_cardinal_that_num2words_says_comes_back(start: int):
    wrong = [n for n in range(start, start + 10_000) if read_number(plain(num2words(n))) != n]
    assert wrong == []


@given(st.integers(0, 99_999))
def test_cardinals_without_and_come_back(n: int):
    assert read_number(plain(num2words(n)).replace(" and ", " ")) == n


@given(st.integers(0, 99_999))
def test_text2num_reads_the_same_cardinal(n: int):
    words = plain(num2words(n)).replace("-", " ").replace(" and ", " ")
    assert read_number(words) == text2num(words, "en")


@given(st.decimals(min_value=0, max_value=99_999, places=1))
def test_decimals_that_num2words_says_come_back(value: Decimal):
    assert read_number(plain(num2words(value))) == value


@given(st.text("0123456789", min_size=2, max_size=6), st.text("0123456789", min_size=1, max_size=3))
def test_figures_said_one_by_one_come_back(whole: str, tenths: str):
    said = " ".join(DIGIT[int(c)] for c in whole)
    if not (whole in "123456789" and len(whole) > 3):  # one two three four: somebody counts
        assert read_number(said) == Decimal(whole)
    assert read_number(f"{said} point {' '.join(DIGIT[int(c)] for c in tenths)}") == Decimal(
        f"{whole}.{tenths}"
    )


@given(st.text("0123456789", min_size=2, max_size=5), st.integers(0, 9))
def test_radio_figures_come_back(whole: str, tenth: int):
    """Radio words as in the AIM, table 4-2-2: tree, fife, niner; the point is *decimal* there."""
    said = " ".join(RADIO[int(c)] for c in whole)
    assert read_number(f"{said} decimal {RADIO[tenth]}") == Decimal(f"{whole}.{tenth}")


@given(st.integers(10, 99), st.integers(10, 99), st.integers(0, 9))
def test_groups_of_two_come_back(left: int, right: int, tenth: int):
    said = f"{num2words(left)} {num2words(right)} point {DIGIT[tenth]}"
    if left % 10 or right > 19 or left == 10 or left < 20:
        assert read_number(said) == Decimal(f"{left}{right}.{tenth}")


@given(st.integers(1, 30), st.sampled_from(FRACTIONS))
def test_fractions_come_back(whole: int, fraction: tuple[str, str]):
    words, value = fraction
    assert read_number(f"{num2words(whole)} and {words}") == whole + Decimal(value)
