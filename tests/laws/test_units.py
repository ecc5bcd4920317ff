"""Every unit's factor against pint, and against published figures."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from extract.exact.quantities import convert, units

PINT = {
    "qt": "quart",
    "L": "liter",
    "ml": "milliliter",
    "fl oz": "US_fluid_ounce",
    "pt": "pint",
    "gal": "gallon",
    "ft-lb": "foot * pound_force",
    "in-lb": "inch * pound_force",
    "N·m": "newton * meter",
    "psi": "psi",
    "bar": "bar",
    "kPa": "kilopascal",
    "in": "inch",
    "thou": "thou",
    "mm": "millimeter",
}
FIRST = {"volume": "qt", "torque": "ft-lb", "pressure": "psi", "length": "in"}


@pytest.mark.parametrize("name", PINT)
def test_factor_is_that_of_pint(name: str):
    registry = pint.UnitRegistry()
    unit = units()[name]
    first = FIRST[unit.dimension]
    want = registry.Quantity(1, PINT[name]).to(PINT[first]).magnitude
    assert float(unit.factor) == pytest.approx(want, rel=1e-12)


@pytest.mark.parametrize(
    ("value", "unit", "target", "want"),
    [
        ("198", "in-lb", "ft-lb", "16.5"),
        ("192", "in-lb", "ft-lb", "16"),
        ("216", "in-lb", "ft-lb", "18"),
        ("32", "fl oz", "qt", "1"),
        ("1", "gal", "qt", "4"),
        ("1", "pt", "fl oz", "16"),
        ("90", "°C", "°F", "194"),
        ("32", "thou", "in", "0.032"),
    ],
)
def test_exact_conversions_stay_exact(value: str, unit: str, target: str, want: str):
    """NIST Handbook 44, appendix C, for liquid measure; 1 ft-lb is 12 in-lb by definition."""
    assert convert(Decimal(value), units()[unit], units()[target]) == Decimal(want)


def test_quart_and_newton_metre_are_those_of_nist():
    """NIST Handbook 44, appendix C: a US quart is 0.946 352 946 L; SP 811: lbf·ft 1.355 818 N·m."""
    assert units()["L"].factor == 1 / Fraction("0.946352946")
    assert float(1 / units()["N·m"].factor) == pytest.approx(1.355818, abs=5e-7)


@given(st.integers(1, 4000))
def test_inch_pounds_and_back_lose_nothing(value: int):
    exact = Fraction(value) * units()["in-lb"].factor
    assert exact * 12 == value


def test_a_measure_of_something_else_is_refused():
    with pytest.raises(ValueError, match="no measure of"):
        convert(Decimal(1), units()["qt"], units()["ft-lb"])
