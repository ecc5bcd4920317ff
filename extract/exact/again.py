"""Values said by reference: *ditto*, *the same on the right*, *both*; a last figure said anew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from extract.exact.reading import Candidate, Reading
from extract.words.lists import table
from extract.words.parts import Part

_FAR, _NEAR = 30, 6
_SHARED = frozenset(["apiece", "each", "both", "pair", "side"])


def dittos(parts: Sequence[Part], numbers: Sequence[Candidate]) -> list[Candidate]:
    """Find the words that repeat a number, each with the readings of the number it repeats."""
    said = table("exact")["again"]
    made = []
    for i, part in enumerate(parts):
        if part.norm not in said["words"]:
            continue
        before = parts[i - 1].norm if i else ""
        if part.norm == "side" and before not in said["side"]:
            continue
        if part.norm == "too" and (before not in said["too"] or _inside(numbers, i)):
            continue
        source = _source(numbers, i, shared=part.norm in _SHARED)
        if source is None or _inside(numbers, i):
            continue
        readings = tuple(replace(r, how="as the one before") for r in source.readings[:2])
        made.append(Candidate(i, i + 1, readings, source.carried))
    return made


def _inside(numbers: Sequence[Candidate], i: int) -> bool:
    return any(number.start <= i < number.end for number in numbers)


def _source(numbers: Sequence[Candidate], i: int, *, shared: bool) -> Candidate | None:
    """Give the number that a word repeats: the last before it, or the next one of *both …*."""
    reach = 2 * _NEAR if shared else _FAR
    before = [n for n in numbers if n.end <= i and i - n.end <= reach]
    if before:
        return max(before, key=lambda n: (n.end, -n.start))
    after = [n for n in numbers if 0 <= n.start - i <= _NEAR]
    return min(after, key=lambda n: n.start) if after and shared else None


def anew(parts: Sequence[Part], numbers: Sequence[Candidate]) -> list[Candidate]:
    """*… point two on the tach, point three now*: only what stands behind the point is said anew.

    So with fractions: *seven and a quarter, and a half*.
    """
    made: list[Candidate] = []
    for number in numbers:
        first = number.readings[0]
        alone = parts[number.start].norm in ("point", "decimal", "dot") or (
            first.how == "fraction" and parts[number.start].norm in ("and", "plus")
        )
        value = first.value
        if alone and isinstance(value, Decimal) and first.unit is None and value < 1:
            wholes = [n for n in made if n.end <= number.start and _whole(n) is not None]
            if wholes and (whole := _whole(wholes[-1])) is not None:
                total = whole + value
                again = Reading("number", total, None, "the end said anew", str(total))
                number = replace(number, readings=(*number.readings, again))
        made.append(number)
    return made


def _whole(number: Candidate) -> Decimal | None:
    """Give the whole part of a number that has more to it than one figure behind nothing."""
    value = number.readings[0].value
    if not isinstance(value, Decimal) or value < 1:
        return None
    return value.to_integral_value(rounding="ROUND_FLOOR")
