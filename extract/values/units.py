"""One unit into another, exactly, through pint; what the record and the desk convert by."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Context, Decimal
from functools import cache
from types import MappingProxyType
from typing import Any

# Our unit's name -> pint's. The US liquid measures are meant: NIST Handbook 44, Appendix C.
NAMES = {
    "ft-lb": "foot * force_pound",
    "in-lb": "inch * force_pound",
    "N·m": "newton * meter",
    "gal": "US_liquid_gallon",
    "qt": "US_liquid_quart",
    "pt": "US_pint",
    "fl oz": "US_fluid_ounce",
    "L": "liter",
    "mL": "milliliter",
    "imp qt": "imperial_quart",
    "imp fl oz": "imperial_fluid_ounce",
    "in": "inch",
    "thou": "thou",
    "mm": "millimeter",
    "psi": "force_pound / inch ** 2",
    "bar": "bar",
    "kPa": "kilopascal",
    "°F": "degree_Fahrenheit",
    "°C": "degree_Celsius",
    "h": "hour",
    "V": "volt",
    "rpm": "revolution / minute",
}
# How people type a unit, in lower case and without spaces, points and hyphens.
_TYPED = {
    "ft-lb": ("ftlb", "ftlbs", "ft·lb", "lbft", "footpounds", "footpound", "ftpounds"),
    "in-lb": ("inlb", "inlbs", "in·lb", "lbin", "inchpounds", "inchpound"),
    "N·m": ("nm", "n·m", "newtonmetres", "newtonmeters", "newtonmetre", "newtonmeter"),
    "gal": ("gal", "gallon", "gallons"),
    "qt": ("qt", "qts", "quart", "quarts"),
    "pt": ("pt", "pint", "pints"),
    "fl oz": ("floz", "oz", "ounce", "ounces", "fluidounces"),
    "L": ("l", "litre", "litres", "liter", "liters"),
    "mL": ("ml", "cc", "millilitres", "milliliters"),
    "in": ("in", "inch", "inches", '"'),
    "thou": ("thou",),
    "mm": ("mm", "millimetres", "millimeters"),
    "psi": ("psi",),
    "bar": ("bar",),
    "kPa": ("kpa",),
    "°F": ("°f", "f", "degf", "fahrenheit"),
    "°C": ("°c", "c", "degc", "celsius"),
    "h": ("h", "hr", "hrs", "hour", "hours"),
    "V": ("v", "volt", "volts"),
    "rpm": ("rpm",),
}
_BY_TYPED = {typed: name for name, ways in _TYPED.items() for typed in ways}
# What an owner may read and write in the place of each unit of the record, and how many figures
# after the point a converted value is shown with: more than any gauge of the trade tells.
OWNED = {
    "qt": ("L",),
    "fl oz": ("mL",),
    "ft-lb": ("in-lb", "N·m"),
    "psi": ("bar", "kPa"),
    "°F": ("°C",),
    "in": ("mm",),
}
PLACES = {"mL": 0, "kPa": 0, "°C": 1, "°F": 1, "in": 4, "in-lb": 1}
# An inch is a yard/36 to pint and leaves dust in the 28th digit; 20 digits are far beyond any
# gauge.
DIGITS = Context(prec=20)


@cache
def _registry() -> Any:
    import pint  # a third of a second; only when something is converted

    return pint.UnitRegistry(non_int_type=Decimal)


def convert(value: Decimal, unit: str, to: str) -> Decimal:
    """Give `value`, in `unit`, in the unit `to`; both are keys of `NAMES`.

    The definitions are pint's (international yard and pound, standard gravity), which agree with
    NIST SP 811 Appendix B and Handbook 44 Appendix C. Raises `KeyError` for a name that is not in
    `NAMES` and pint's `DimensionalityError` where the two do not measure the same.
    """
    if unit == to:
        return value
    ureg = _registry()
    moved = ureg.Quantity(value, NAMES[unit]).to(NAMES[to]).magnitude
    return tidy(DIGITS.create_decimal(moved))


def alike(unit: str, to: str) -> bool:
    """Say whether two units measure the same."""
    ureg = _registry()
    same: bool = ureg.Unit(NAMES[unit]).dimensionality == ureg.Unit(NAMES[to]).dimensionality
    return same


def tidy(value: Decimal) -> Decimal:
    """Give the same number without trailing zeros or an exponent: 30, not 3E+1 or 30.00."""
    short = value.normalize()
    return short.quantize(Decimal(1)) if short == short.to_integral_value() else short


def shown(value: Decimal, unit: str) -> str:
    """Write a number with its unit for a person; a converted one is rounded, and only here.

    A number of up to six figures after the point is as somebody said or typed it and stays whole.
    """
    if -int(value.as_tuple().exponent) > 6:
        value = tidy(value.quantize(Decimal(1).scaleb(-PLACES.get(unit, 2))))
    return f"{value:f} {unit}"


def typed(text: str) -> tuple[str, str | None]:
    """Part what a person typed into number and unit: `23 Nm` is `23` and `N·m`.

    The unit is None where there is none, or none that is known; then the text stays whole.
    """
    found = re.fullmatch(r"\s*([+\-\u2212]?[\d.,\s]*\d[.,]?)\s*([^\d\s.,].*?)\s*", text)
    if found is None:
        return text, None
    spelled = re.sub(r"[\s.\-\u2010-\u2015]", "", found[2].lower())
    name = _BY_TYPED.get(spelled)
    return (found[1], name) if name else (text, None)


@dataclass(frozen=True, slots=True)
class Units:
    """The units that an owner reads and writes, by the unit of the record; US where not named."""

    by: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    @classmethod
    def of(cls, names: tuple[str, ...]) -> Units:
        """Give the units of an owner who names these. Litres bring millilitres for small measures.

        Raises `ValueError` for a unit that stands for none of the record's, or two for one.
        """
        made: dict[str, str] = {}
        for name in names:
            of = next((unit for unit, ways in OWNED.items() if name in (unit, *ways)), None)
            if of is None:
                raise ValueError(f"{name} is no unit that can be chosen here")
            if of in made:
                raise ValueError(f"{made[of]} and {name} are for the same")
            made[of] = name
        if made.get("qt") == "L":
            made.setdefault("fl oz", "mL")
        return cls(MappingProxyType({unit: own for unit, own in made.items() if unit != own}))

    def own(self, unit: str) -> str:
        """Give the owner's unit for one of the record's."""
        return self.by.get(unit, unit)

    def value(self, value: Decimal, unit: str) -> Decimal:
        """Give a value in the owner's unit, not rounded."""
        return convert(value, unit, self.own(unit))

    def back(self, value: Decimal, unit: str) -> Decimal:
        """Give a value of the owner's unit in the record's, not rounded."""
        return convert(value, self.own(unit), unit)

    def show(self, value: Decimal, unit: str) -> str:
        """Write a value of the record's unit in the owner's, for a person."""
        return shown(self.value(value, unit), self.own(unit))


US = Units()
