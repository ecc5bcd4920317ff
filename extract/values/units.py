"""One unit into another, exactly, through pint; what the record converts by."""

from __future__ import annotations

from decimal import Context, Decimal
from functools import cache
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
    "mm": "millimeter",
    "psi": "force_pound / inch ** 2",
    "kPa": "kilopascal",
}
# An inch is a yard/36 to pint and leaves dust in the 28th digit; 20 digits are far beyond any
# gauge.
_DIGITS = Context(prec=20)


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
    return tidy(_DIGITS.create_decimal(moved))


def tidy(value: Decimal) -> Decimal:
    """Give the same number without trailing zeros or an exponent: 30, not 3E+1 or 30.00."""
    short = value.normalize()
    return short.quantize(Decimal(1)) if short == short.to_integral_value() else short
