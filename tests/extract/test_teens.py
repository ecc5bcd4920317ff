"""*sixteen* and *sixty* sound alike. The pairs are those of the language; drafts are invented."""

from __future__ import annotations

from decimal import Decimal

import pytest
from num2words import num2words

from extract.values.catalogue import load
from extract.values.draft import Draft
from extract.witness.teens import sounded


def draft(name: str, value: str) -> Draft:
    unit = load().fields[name].unit
    return Draft(name, Decimal(value), unit, None, "memo", 1.0, 2.0, None, "", 0.5)


@pytest.mark.parametrize("teen", range(13, 20))
def test_each_pair_differs_by_its_ending_alone(teen: int):
    """num2words writes both words of each pair: *…teen* and *…ty*."""
    low, high = num2words(teen), num2words((teen - 10) * 10)
    assert low.removesuffix("teen")[:3] == high.removesuffix("ty")[:3] or {low, high} == {
        "fourteen",
        "forty",
    }


@pytest.mark.parametrize(
    ("name", "heard", "value"),
    [("filter_torque", "60", "16"), ("plug_gap", "0.070", "0.017")],
)
def test_beside_a_value_out_of_the_ordinary_stands_the_one_that_sounds_like_it(
    name: str, heard: str, value: str
):
    found = sounded(draft(name, heard), load().fields[name])
    assert found.value == Decimal(heard)
    assert found.alternatives[0].value == Decimal(value)
    assert found.doubts


@pytest.mark.parametrize(("name", "heard"), [("filter_torque", "17"), ("tire_pressure", "30")])
def test_a_value_that_can_be_is_left_alone(name: str, heard: str):
    assert sounded(draft(name, heard), load().fields[name]) == draft(name, heard)


def test_nothing_is_made_up_where_no_such_word_exists():
    assert sounded(draft("filter_torque", "95"), load().fields["filter_torque"]).value == 95
