"""A number with its unit; conversion; ranges. Units and their exact factors are data.

The factors are kept as exact fractions, so that 198 inch pounds are 16.5 foot pounds and not nearly
so; the tests hold every one of them against pint.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import cache

from extract.exact.digits import Number
from extract.exact.numbers import find_numbers
from extract.values.units import DIGITS
from extract.words.lists import FRACTIONS, table
from extract.words.parts import Part

_WRITTEN = {"ml": "mL"}  # where the record writes a unit otherwise
_THINGS = (
    "plugs", "cylinders", "cylinder", "bottles", "cans", "pieces", "bits", "flakes", "particles",
    "specks", "chunks", "slivers", "spots",
)  # fmt: skip


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


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number in the parts from `start` up to `end`, with the unit said behind it, or None.

    `top` is the upper end where two numbers make a range (*sixteen to eighteen*).
    """

    start: int
    end: int
    number: Number
    unit: Unit | None = None
    top: Number | None = None


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


@cache
def _phrases() -> Mapping[tuple[str, ...], Unit]:
    made: dict[tuple[str, ...], Unit] = {}
    for name, raw in table("units").items():
        for phrase in raw["says"]:
            made.setdefault(tuple(phrase.split()), units()[name])
    return made


@cache
def _longest() -> int:
    return max(map(len, _phrases()))


def _fraction(text: str) -> Fraction:
    top, _, bottom = text.partition("/")
    return Fraction(top) / Fraction(bottom or "1")


def unit_at(parts: Sequence[Part], at: int) -> tuple[Unit, int] | None:
    """Give the unit whose words begin at a part, the longest first, and where they end."""
    for length in range(min(_longest(), len(parts) - at), 0, -1):
        if any(part.after for part in parts[at : at + length - 1]):
            continue
        unit = _phrases().get(tuple(part.norm for part in parts[at : at + length]))
        if unit is not None:
            return unit, at + length
    return None


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
    return plain(DIGITS.divide(Decimal(exact.numerator), Decimal(exact.denominator)))


def as_said(what: object, value: object, unit: str | None) -> str | None:
    """Give number and unit as said (`6 L`) where that is not the field's `unit`; else None.

    None too where the value is not that quantity converted.
    """
    if not isinstance(what, Quantity) or what.unit is None or unit is None:
        return None
    target = units().get(unit)
    if what.unit.name == unit or target is None or what.unit.dimension != target.dimension:
        return None
    if convert(what.number.value, what.unit, target) != value:
        return None
    return f"{plain(what.number.value):f} {_WRITTEN.get(what.unit.name, what.unit.name)}"


def plain(value: Decimal) -> Decimal:
    """Write a decimal without exponent and without zeros that say nothing."""
    whole = value.to_integral_value()
    return whole.quantize(Decimal(1)) if value == whole else value.normalize()


def find_quantities(
    parts: Sequence[Part], taken: Sequence[tuple[int, int]] = ()
) -> tuple[Quantity, ...]:
    """Find numbers with their units, and ranges; `taken` are parts of something else."""
    free = [n for n in find_numbers(parts) if not any(a < n.end and n.start < b for a, b in taken)]
    made = [_with_unit(parts, number) for number in free if not _is_word(parts, number, free)]
    made += [q for i in range(len(parts)) if (q := _a_unit(parts, i, free)) is not None]
    made.sort(key=lambda q: q.start)
    apart: list[Quantity] = []
    for quantity in made:
        if not apart or quantity.start >= apart[-1].end:
            while apart and _restarted(parts, apart[-1], quantity):
                apart.pop()
            apart.append(_unit_before(parts, quantity))
    return tuple(_ranges(parts, apart))


def _restarted(parts: Sequence[Part], first: Quantity, second: Quantity) -> bool:
    """*one two nine, one two nine seven point oh*: the second is the first, begun again."""
    if first.unit is not None or first.end != second.start or not parts[first.end - 1].after:
        return False
    a, b = first.number.digits, second.number.digits
    return len(a) > 1 and b.startswith(a) and second.number.style == first.number.style


def _unit_before(parts: Sequence[Part], quantity: Quantity) -> Quantity:
    """*oil temp in Celsius was seventy-five*: the unit said before the number."""
    if quantity.unit is not None:
        return quantity
    for i in range(max(0, quantity.start - 5), quantity.start - 1):
        if parts[i].norm == "in" and (found := unit_at(parts, i + 1)):
            between = parts[found[1] : quantity.start]
            if found[0].dimension != "length" and all(
                p.norm in ("is", "was", "at", "of", "it") for p in between
            ):
                return replace(quantity, unit=found[0])
    return quantity


def _is_word(parts: Sequence[Part], number: Number, others: Sequence[Number]) -> bool:
    """*one* is mostly no number: a unit, *over*, a fraction or a value behind it makes it one."""
    if number.start > 1 and parts[number.start - 2].norm == "out" and number.value == 80:
        return True  # "all out of eighty"
    if number.end - number.start > 1 or parts[number.start].norm != "one" or number.over:
        return False
    opens = (
        number.start == 0 or parts[number.start - 1].after or parts[number.start - 1].norm == "and"
    )
    if opens and any(number.end <= n.start <= number.end + 2 for n in others):
        return False  # "one, seventy-six over eighty": a place
    before = parts[number.start - 1] if number.start else None
    if (
        before is not None
        and not before.after
        and before.norm in ("number", "cylinder", "is", "added", "about")
    ):
        return False
    unit = unit_at(parts, number.end)
    return unit is None or unit[0].name in ("in", "V", "h") or bool(parts[number.start].after)


def _with_unit(parts: Sequence[Part], number: Number) -> Quantity:
    end = number.end
    if end >= len(parts) or (parts[end - 1].after and number.end - number.start >= 1):
        return Quantity(number.start, end, number)
    at = end
    words = [part.norm for part in parts[at : at + 2]]
    if words == ["of", "a"] or words == ["of", "an"]:
        at += 2
    elif (
        words[:1]
        and words[0]
        in (
            "full",
            "whole",
            "u",
            "us",
            "complete",
            "a",
            "good",
            "solid",
            "even",
        )
        and (words[0] != "a" or number.style == "fraction")
    ):
        at += 1
    found = unit_at(parts, at)
    if found is None:
        return Quantity(number.start, end, number)
    unit, stop = found
    if unit.name == "in" and parts[at].norm == "in" and not parts[at].glued:
        return Quantity(number.start, end, number)  # "six in": the word, not the unit
    if unit.name == "other" and parts[at].norm in _THINGS:
        return Quantity(number.start, end, number, unit)  # the noun may be a cue
    made = Quantity(number.start, stop, number, unit)
    return _half_behind(parts, made)


def _half_behind(parts: Sequence[Part], quantity: Quantity) -> Quantity:
    """*a quart and a half*: the fraction behind the unit belongs to the number."""
    i = quantity.end
    words = [part.norm for part in parts[i : i + 3]]
    if quantity.number.style == "fraction" or len(words) < 2 or words[0] != "and":
        return quantity
    if words[1] in ("half", "quarter"):
        extra, length = FRACTIONS[words[1]], 2
    elif len(words) > 2 and words[1] == "a" and words[2] in ("half", "quarter"):
        extra, length = FRACTIONS[words[2]], 3
    elif len(words) > 2 and words[1:] == ["three", "quarters"]:
        extra, length = Decimal("0.75"), 3
    else:
        return quantity
    following = unit_at(parts, i + length)
    if following is not None and following[0].name != "in":
        return quantity
    value = quantity.number.value + extra
    number = replace(quantity.number, value=value, digits=str(value), style="fraction")
    return replace(quantity, number=number, end=i + length)


def _a_unit(parts: Sequence[Part], i: int, free: Sequence[Number]) -> Quantity | None:
    """*a quart*, *an ounce*: one of them."""
    if parts[i].norm not in ("a", "an", "another") or parts[i].after or i + 1 >= len(parts):
        return None
    if any(n.start <= i < n.end or n.start == i + 1 or n.end == i for n in free):
        return None
    if i and parts[i - 1].norm in (
        "half",
        "quarter",
        "quarters",
        "of",
        "and",
        "turns",
        "hours",
        "twists",
    ):
        return None
    found = unit_at(parts, i + 1)
    if found is None or found[0].dimension != "volume" or parts[i + 1].norm in ("l", "c", "mil"):
        return None
    one = Number(i, i + 1, Decimal(1), "1", "cardinal")
    return _half_behind(parts, Quantity(i, found[1], one, found[0]))


def _ranges(parts: Sequence[Part], found: list[Quantity]) -> list[Quantity]:
    """Put *sixteen to eighteen* and *between X and Y* together: such numbers are one range."""
    made: list[Quantity] = []
    for quantity in found:
        if made and made[-1].top is None and _is_range(parts, made[-1], quantity):
            last = made.pop()
            unit = quantity.unit or last.unit
            made.append(Quantity(last.start, quantity.end, last.number, unit, quantity.number))
        else:
            made.append(quantity)
    return made


def _is_range(parts: Sequence[Part], low: Quantity, high: Quantity) -> bool:
    between = [part.norm for part in parts[low.end : high.start]]
    if parts[low.end - 1].after:
        return False
    before = parts[low.start - 1].norm if low.start else ""
    if between in (["to"], ["through"], ["thru"]):
        return low.number.value < high.number.value
    return between == ["and"] and before == "between"


def is_count(quantity: Quantity) -> bool:
    """*two of those*, *one left*: how many there are of something, and no value of a field."""
    return quantity.unit is not None and quantity.unit.dimension == "other"
