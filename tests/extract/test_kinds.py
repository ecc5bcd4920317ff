"""What a person types becomes a value, or one plain sentence says why not."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.errors import InputError
from extract.values.catalogue import load
from extract.values.kinds import KINDS


@pytest.mark.parametrize(
    ("kind", "text", "value"),
    [
        ("number", "17.5", Decimal("17.5")),
        ("number", "17,5", Decimal("17.5")),
        ("number", "2,345.6", Decimal("2345.6")),
        ("text", " -227a ", "-227A"),
        ("truth", "Yes", True),
        ("truth", "n", False),
        ("date", "2026-03-14", date(2026, 3, 14)),
    ],
)
def test_what_is_typed_is_read(kind: str, text: str, value: object):
    assert KINDS[kind].parse(text) == value


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("number", "about six"),
        ("number", ""),
        ("truth", "maybe"),
        ("date", "14/3/2026"),
        ("text", " "),
    ],
)
def test_what_cannot_be_read_is_refused_in_one_line(kind: str, text: str):
    with pytest.raises(InputError) as caught:
        KINDS[kind].parse(text)
    assert "\n" not in str(caught.value)


def test_a_choice_is_one_of_the_catalogues():
    kind = load().fields["leak_check"].kind_object
    assert kind.parse("Pass") == "pass"
    with pytest.raises(InputError, match="pass, fail"):
        kind.parse("dry")


@given(st.decimals(min_value=-10_000, max_value=100_000, places=4))
def test_a_number_is_stored_and_loaded_without_loss(value: Decimal):
    kind = KINDS["number"]
    assert kind.load(kind.store(value)) == value
    assert kind.same(kind.normalise(value), value)


def test_texts_are_compared_without_case_spaces_and_hyphens():
    assert KINDS["text"].same("-227A", "227 a")
    assert not KINDS["text"].same("-227A", "-227B")
