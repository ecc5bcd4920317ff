"""Units as they are said, the foreign ones and the misheard ones too, and what they come to.

Units and their exact factors are data (`units.toml`; `exact.toml` holds those that no field is kept
in, such as a decilitre). The factors are exact fractions, so that 198 inch pounds are 16.5 foot
pounds and not nearly so; the tests hold every one of them against pint.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache

from extract.values.units import DIGITS
from extract.words.lists import table
from extract.words.parts import Part

_WRITTEN = {"ml": "mL"}  # where the record writes a unit otherwise
# words that may stand between a number and its unit
_BETWEEN = (
    "of a", "of an", "full", "whole", "u s", "us", "american", "complete", "good", "solid", "even",
    "fluid", "in", "in the", "in your", "in american", "of your", "of the",
)  # fmt: skip
_SINGLE = frozenset("lcfhvn")


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: its name, dimension, exact factor and offset to the first unit of the dimension.

    A loose one (*pounds*, *degrees*) may stand for several.
    """

    name: str
    dimension: str
    factor: Fraction
    offset: Fraction
    loose: bool = False


@cache
def units() -> Mapping[str, Unit]:
    """Give every unit by its name."""
    return {
        name: Unit(
            name,
            raw["dimension"],
            _fraction(raw["factor"]),
            _fraction(raw.get("offset", "0")),
            raw.get("loose", False),
        )
        for name, raw in table("units").items()
    }


def _fraction(text: str) -> Fraction:
    top, _, bottom = text.partition("/")
    return Fraction(top) / Fraction(bottom or "1")


def exactly(value: Decimal, unit: Unit, target: Unit) -> Fraction:
    """Bring a value to another unit of its dimension, with nothing lost.

    Raises ValueError if the dimensions differ.
    """
    if unit.dimension != target.dimension:
        raise ValueError(f"{unit.name} is no measure of {target.dimension}")
    return (Fraction(value) * unit.factor + unit.offset - target.offset) / target.factor


def convert(value: Decimal, unit: Unit, target: Unit) -> Decimal:
    """Convert exactly; what does not end is given to twenty figures, as the record converts.

    Raises ValueError if the dimensions differ.
    """
    exact = exactly(value, unit, target)
    return _short(DIGITS.divide(Decimal(exact.numerator), Decimal(exact.denominator)))


def _short(value: Decimal) -> Decimal:
    """Write a decimal without exponent and without zeros that say nothing."""
    whole = value.to_integral_value()
    return whole.quantize(Decimal(1)) if value == whole else value.normalize()


def as_said(said: Decimal, spoken: Unit | None, value: object, unit: str | None) -> str | None:
    """Give number and unit as said (`6 L`) where that is not the field's `unit`; else None.

    None too where the value is not that quantity converted.
    """
    if spoken is None or unit is None:
        return None
    target = units().get(unit)
    if spoken.name == unit or target is None or spoken.dimension != target.dimension:
        return None
    if convert(said, spoken, target) != value:
        return None
    return f"{_short(said):f} {_WRITTEN.get(spoken.name, spoken.name)}"


@cache
def all_units() -> Mapping[str, Unit]:
    """Give every unit by its name, those of `data/exact.toml` among them."""
    made = dict(units())
    for name, raw in table("exact")["units"].items():
        if "like" not in raw:
            made[name] = Unit(name, raw["dimension"], _fraction(raw["factor"]), Fraction(0))
    return made


@cache
def _phrases() -> Mapping[str, tuple[tuple[tuple[str, ...], Unit, bool], ...]]:
    """Give the phrases by their first word, longest first: words, unit, whether it is a slip."""
    rows: dict[tuple[str, ...], tuple[Unit, bool]] = {}
    for name, raw in table("units").items():
        for phrase in raw["says"]:
            rows.setdefault(tuple(phrase.split()), (all_units()[name], False))
    for name, raw in table("exact")["units"].items():
        for phrase in raw["says"]:
            unit = all_units()[raw.get("like", name)]
            rows.setdefault(tuple(phrase.split()), (unit, "like" in raw))
    made: dict[str, list[tuple[tuple[str, ...], Unit, bool]]] = {}
    for words in sorted(rows, key=len, reverse=True):
        made.setdefault(words[0], []).append((words, *rows[words]))
    return {first: tuple(found) for first, found in made.items()}


@cache
def _spelt(norm: str) -> str:
    return norm.replace("metre", "meter").replace("litre", "liter")


def unit_here(parts: Sequence[Part], at: int) -> tuple[Unit, int] | None:
    """Give the unit whose words begin at a part, the longest first, and where they end."""
    if at >= len(parts):
        return None
    for words, unit, _ in _phrases().get(_spelt(parts[at].norm), ()):
        end = at + len(words)
        if tuple(_spelt(part.norm) for part in parts[at:end]) != words:
            continue
        if any(part.after.strip(".") for part in parts[at : end - 1]):
            continue
        if words == ("in",) and not parts[at].glued:
            continue
        return unit, end
    return None


def unit_behind(parts: Sequence[Part], end: int) -> tuple[Unit, int] | None:
    """Give the unit said of a number that ends at a part: *quarts*, *of a millimetre*, *full*."""
    if end >= len(parts) or (parts[end - 1].after and not parts[end].glued):
        return None
    if (found := unit_here(parts, end)) is not None:
        return found
    for skip in _BETWEEN:
        words = skip.split()
        if [p.norm for p in parts[end : end + len(words)]] == words:
            return unit_here(parts, end + len(words))
    return None


def mentions(parts: Sequence[Part]) -> tuple[tuple[int, Unit], ...]:
    """Give every place where a unit is named in full, with or without a number: *in bar, mind*."""
    made = []
    at = 0
    while at < len(parts):
        found = unit_here(parts, at)
        if found is None or (found[1] == at + 1 and parts[at].norm in _SINGLE and at == 0):
            at += 1
            continue
        lone = found[1] == at + 1 and parts[at].norm in _SINGLE
        if not lone or parts[at].glued or parts[at - 1].norm[-1:].isdecimal():
            made.append((at, found[0]))
        at = found[1]
    return tuple(made)


@cache
def rulers() -> frozenset[str]:
    """Give the names of the units that whoever names them once mostly means throughout."""
    return frozenset(table("exact")["carry"]["throughout"])
