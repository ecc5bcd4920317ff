"""The door of exact values: numbers that num2words says come back; no words make it fail.

num2words is other people's code. Units are held against pint, which knows them independently.
"""

from __future__ import annotations

import tomllib
from decimal import Decimal
from pathlib import Path

import pint
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from num2words import num2words

from extract.exact.candidates import find_candidates
from extract.exact.fitted import values_for
from extract.exact.measures import all_units
from extract.values.catalogue import load
from extract.words.parts import parts_of, words_of

CATALOGUE = load()
CASES = Path(__file__).parent.parent / "extract" / "cases"
SLIPS = "to too for won ate point comma and a half oh dash W dozen double same 3/4 0,45 1:85 10.5"
WORDS = sorted(
    {
        word
        for path in CASES.glob("*.toml")
        for case in tomllib.loads(path.read_text(encoding="utf-8"))["case"]
        for word in case["say"].split()
    }
)
NUMBERED = [*SLIPS.split(), *num2words(987654).replace("-", " ").replace(",", "").split()]
salad = st.lists(st.one_of(st.sampled_from(NUMBERED), st.sampled_from(WORDS)), max_size=25)
# the units that this door alone knows, by their names in pint (an imperial gallon is pint's)
PINT = {
    "dl": "deciliter",
    "cl": "centiliter",
    "imp qt": "imperial_quart",
    "imp pt": "imperial_pint",
    "imp gal": "imperial_gallon",
    "kgf·m": "kilogram_force * meter",
    "daN·m": "decanewton * meter",
    "per cm": "1 / centimeter",
    "cup": "US_liquid_cup",
    "cmm": "micrometer * 10",
    "kg/cm²": "kilogram_force / centimeter ** 2",
}
FIRST = {
    "volume": "US_liquid_quart",
    "torque": "foot * force_pound",
    "twist": "1 / inch",
    "length": "inch",
    "pressure": "force_pound / inch ** 2",
}


def found(said: str):
    return find_candidates(parts_of(words_of(said)), CATALOGUE)


def readings(said: str) -> set[Decimal]:
    return {r.value for c in found(said) for r in c.readings if r.kind == "number"}


@settings(deadline=None)
@given(st.integers(2, 999_999))
def test_cardinals_come_back(n: int):
    assert Decimal(n) in readings(num2words(n).replace(",", ""))


@settings(deadline=None)
@given(st.decimals(min_value=0, max_value=99_999, places=1))
def test_decimals_come_back_with_a_point_or_a_comma(value: Decimal):
    said = num2words(value).replace(",", "")
    assert value in readings(said)
    assert value in readings(said.replace("point", "comma"))


@settings(max_examples=500, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.one_of(salad.map(" ".join), st.text(max_size=60)))
def test_no_words_make_it_fail_and_spans_lie_in_the_note(said):
    parts = parts_of(words_of(said))
    for candidate in find_candidates(parts, CATALOGUE):
        assert 0 <= candidate.start < candidate.end <= len(parts)
        assert candidate.readings
        for field in CATALOGUE.fields.values():
            values = values_for(candidate, field, 2026)
            assert len(set(values)) == len(values)


@pytest.mark.parametrize("name", PINT)
def test_units_of_this_door_alone_agree_with_pint(name):
    unit = all_units()[name]
    other = pint.UnitRegistry()(PINT[name]).to(FIRST[unit.dimension]).magnitude
    assert float(unit.factor) == pytest.approx(other, rel=1e-9)
