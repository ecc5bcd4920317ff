"""Every unit's factor against pint, and against published figures."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.errors import InputError
from extract.exact.measures import convert, units
from extract.read import read_sentence
from extract.values import units as desk_units
from extract.values.units import Units
from record import typed

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


# Ours for speech -> ours for the desk, which is pint's.
DESK = {"ml": "mL"}
PAIRS = [
    (name, FIRST[units()[name].dimension])
    for name in PINT
    if FIRST[units()[name].dimension] != name
] + [("°C", "°F")]


@settings(deadline=None)  # the first conversion loads pint
@given(st.decimals("0.01", 9999, places=2), st.sampled_from(PAIRS))
def test_what_was_said_and_what_was_typed_come_to_the_same_value(value: Decimal, pair):
    """Speech converts by exact fractions, the desk by pint: equal in all twenty figures."""
    name, first = pair
    spoken = convert(value, units()[name], units()[first])
    assert spoken == desk_units.convert(value, DESK.get(name, name), DESK.get(first, first))


@pytest.mark.parametrize(
    ("said", "name", "value", "kept", "shown"),
    [
        ("put in six liters of oil", "oil_added", "6", "6 L", "6.34 qt (said: 6 L)"),
        (
            "torqued the filter to twenty-three newton meters",
            "filter_torque",
            "23",
            "23 N·m",
            "16.96 ft-lb (said: 23 N·m)",
        ),
    ],
)
def test_value_and_unit_as_said_stand_beside_the_unrounded_conversion(
    catalogue, said, name, value, kept, shown
):
    """By pint: 6 L is 6.3401... qt, and 23 N·m is 16.9639... ft-lb; not 6.34 and 16.96."""
    (draft,) = (d for d in read_sentence(said, catalogue) if d.name == name)
    registry = pint.UnitRegistry(non_int_type=Decimal)
    unit, to = {"oil_added": ("liter", "quart"), "filter_torque": ("newton*meter", "foot*lbf")}[
        name
    ]
    want = registry.Quantity(Decimal(value), unit).to(to).magnitude
    assert abs(draft.value - want) < Decimal("1e-18")
    assert draft.said == kept
    assert catalogue.fields[name].show(draft.value, draft.said) == shown


def test_what_was_said_in_the_fields_own_unit_is_said_once(catalogue):
    (draft,) = read_sentence("put in seven and a quarter quarts of oil", catalogue)
    assert draft.said is None
    assert catalogue.fields["oil_added"].show(draft.value, draft.said) == "7.25 qt"


METRIC = Units.of(("L", "N·m", "bar", "°C", "mm"))


@pytest.mark.parametrize(
    ("name", "text", "said", "shown"),
    [
        ("oil_added", "6", "6 L", "6 L"),
        ("oil_added", "6 qt", None, "5.68 L (said: 6 qt)"),
        ("filter_torque", "23", "23 N·m", "23 N·m"),
        ("filter_torque", "17 ft-lb", None, "23.05 N·m (said: 17 ft-lb)"),
        ("oil_pressure", "4.5", "4.5 bar", "4.5 bar"),
        ("oil_temperature", "82", "82 °C", "82 °C"),
        ("oil_temperature", "180 °F", None, "82.2 °C (said: 180 °F)"),
        ("additive_added", "330", "330 mL", "330 mL"),
        ("lockwire_diameter", "0.8", "0.8 mm", "0.8 mm"),
        ("cylinder_compression", "74", None, "74 psi"),  # over 80, in any country
        ("tach_time", "2345.6", None, "2345.6 h"),
    ],
)
def test_an_owner_types_and_reads_their_own_units(catalogue, name, text, said, shown):
    owned = catalogue.owned(METRIC)
    made = typed.value(name, text, owned)
    assert made.said == said
    assert owned.fields[name].told(made.value, made.said) == shown
    again = owned.fields[name].typing(made.value, made.said)
    assert typed.value(name, again, owned).value == made.value


def test_a_us_owner_may_type_another_unit(catalogue):
    made = typed.value("filter_torque", "23 Nm", catalogue)
    assert made.said == "23 N·m"
    assert not typed.beyond(catalogue.fields["filter_torque"], made.value)
    assert typed.value("filter_torque", "198 in-lb", catalogue).value == Decimal("16.5")


def test_a_unit_of_something_else_is_one_clear_line(catalogue):
    with pytest.raises(InputError, match="qt is no unit of filter torque"):
        typed.value("filter_torque", "17 qt", catalogue)


@pytest.mark.parametrize("names", [("furlong",), ("L", "qt"), ("bar", "kPa")])
def test_units_that_cannot_be_chosen_are_refused(names):
    with pytest.raises(ValueError, match=r"no unit|for the same"):
        Units.of(names)


@settings(deadline=None)
@given(st.decimals("0.1", 9999, places=1), st.sampled_from(["qt", "fl oz", "ft-lb", "psi", "°F"]))
def test_an_owners_value_comes_back_as_it_was(value, unit):
    back = METRIC.value(METRIC.back(value, unit), unit)
    assert abs(back - value) < Decimal("1e-12")
