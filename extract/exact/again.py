"""Values said by reference: *ditto*, *the same on the right*, *both*; a last figure said anew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from extract.exact.reading import Candidate, Reading
from extract.exact.tails import point_at, tenths_at
from extract.exact.terms import atoms_at, joins
from extract.words.lists import DIGITS, table
from extract.words.parts import Part

AGAIN = ("as the one before", "as the one beside it")
IN_GROUPS = "groups with a pause between, put together"
_FAR, _NEAR, _MOST = 30, 6, 3
_WHEELS = frozenset(["tenth", "tenths", "white", "red", "last"])
_REACH = 9  # parts between a number and its tenths said later
_REFERS = frozenset(["same", "as", "per", "number", "cylinder", "the", "for"])
_PLACES = frozenset(
    ["left", "right", "nose", "tail", "top", "bottom", "port", "starboard", *"123456"]
)
_SHARED = frozenset(["apiece", "each", "both", "pair", "side", "piece"])


def dittos(parts: Sequence[Part], numbers: Sequence[Candidate]) -> list[Candidate]:
    """Find the words that repeat a number, each with the readings of the number it repeats."""
    made = []
    for i in range(len(parts)):
        if not _repeats(parts, i) or _inside(numbers, i):
            continue
        sources = _sources(numbers, i, shared=parts[i].norm in _SHARED)
        if (named := _named(parts, numbers, i)) is not None:
            sources = [named, *sources]
        elif parts[i].norm == "as":
            continue
        readings: dict[object, Reading] = {}
        for source in sources:
            for r in source.readings[:2]:
                readings.setdefault(r.value, replace(r, how=AGAIN[0]))
        if readings:
            made.append(Candidate(i, i + 1, tuple(readings.values())[:_MOST], sources[0].carried))
    return made


def _repeats(parts: Sequence[Part], i: int) -> bool:
    """Say whether a word repeats a value: *ditto*, *a side*, *right too*, *as left*."""
    said, norm = table("exact")["again"], parts[i].norm
    if norm not in said["words"]:
        return False
    before = parts[i - 1].norm if i else ""
    ahead = parts[i + 1].norm if i + 1 < len(parts) and not parts[i].after else ""
    if norm in ("side", "piece"):
        return before in said["side"]
    if norm == "as":
        return before != "same" and ahead in said["as"]
    return norm != "too" or before in said["too"]


def _inside(numbers: Sequence[Candidate], i: int) -> bool:
    return any(number.start <= i < number.end for number in numbers)


def _sources(numbers: Sequence[Candidate], i: int, *, shared: bool) -> list[Candidate]:
    """Give the numbers that a word may repeat: the last before it, or the next of *both …*.

    A single figure may be a place (*number two, ditto*): the value is then the one before that.
    """
    reach = 2 * _NEAR if shared else _FAR
    before = [n for n in numbers if n.end <= i and i - n.end <= reach]
    before.sort(key=lambda n: (-n.end, n.start))
    values = [n for n in before if not _is_place(n)]
    if values:
        return values[:2]
    if before:
        return before[:1]
    after = [n for n in numbers if 0 <= n.start - i <= _NEAR]
    return [min(after, key=lambda n: n.start)] if after and shared else []


def _named(parts: Sequence[Part], numbers: Sequence[Candidate], i: int) -> Candidate | None:
    """*same as one*, *as per two*, *as left*: the value that was said of the place it names."""
    k = i
    while k < len(parts) and k < i + 5 and parts[k].norm in _REFERS:
        k += 1
    if k == i + 1 and parts[i].norm != "as":
        return None
    place = DIGITS.get(parts[k].norm, parts[k].norm) if k < len(parts) else ""
    if place not in _PLACES:
        return None
    for at in range(i - 1, -1, -1):
        if DIGITS.get(parts[at].norm, parts[at].norm) == place:
            behind = [n for n in numbers if at <= n.end - 1 and n.start <= at + _NEAR]
            values = [n for n in behind if not _is_place(n) and n.end <= i]
            return values[0] if values else None
    return None


def _is_place(number: Candidate) -> bool:
    first = number.readings[0]
    return first.unit is None and first.digits in ("1", "2", "3", "4", "5", "6")


def shared(parts: Sequence[Part], numbers: Sequence[Candidate]) -> list[Candidate]:
    """*three and four both seventy-three*, *thirty-five on one, and two*: one value, two places.

    A single figure beside an *and* may be a place that has the value next to it: a further reading.
    """
    made = []
    for number in numbers:
        value = _beside(parts, numbers, number) if _is_place(number) else None
        if value is not None:
            again = tuple(replace(r, how=AGAIN[1]) for r in value.readings[:1])
            number = replace(number, readings=(*number.readings, *again))
        made.append(number)
    return made


def _beside(
    parts: Sequence[Part], numbers: Sequence[Candidate], number: Candidate
) -> Candidate | None:
    """Give the value that a place beside an *and* shares, behind it or else before it."""
    behind = parts[number.end].norm if number.end < len(parts) else ""
    joined = number.start > 0 and parts[number.start - 1].norm == "and"
    if not joined and behind != "and":
        return None
    values = [n for n in numbers if not _is_place(n)]
    after = [n for n in values if 0 <= n.start - number.end <= _NEAR]
    before = [n for n in values if 0 <= number.start - n.end <= 2 * _NEAR]
    if after and not parts[number.end - 1].after.strip(","):
        return after[0]
    return before[-1] if before and joined else None


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
        short = first.how == "fraction" or len(first.digits) == 3  # 0.7, and no wire of .032
        if alone and short and isinstance(value, Decimal) and first.unit is None and value < 1:
            wholes = [n for n in made if n.end <= number.start and _whole(n) is not None]
            if first.how != "fraction":  # tenths take the place of tenths
                wholes = [n for n in wholes if "." in n.readings[0].digits]
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


def with_tenths_later(parts: Sequence[Part], numbers: Sequence[Candidate]) -> list[Candidate]:
    """Give the numbers, those whose tenths come a breath later with that reading too."""
    return [_with_tenths(parts, number, numbers) for number in numbers]


def begun_before(parts: Sequence[Part], numbers: Sequence[Candidate]) -> list[Candidate]:
    """*twenty-five, thirty-one, point two*: a meter read in groups with a pause between.

    All of it is a further reading of the last, whose figures before the point are two.
    """
    made: list[Candidate] = []
    for number in numbers:
        last, before = number.readings[0], made[-1] if made else None
        whole, _, tenths = last.digits.partition(".")
        if before is not None and tenths and len(whole) == 2 and last.unit is None:
            first = before.readings[0].digits
            pause = before.end == number.start and parts[before.end - 1].after == ","
            if pause and len(first) == 2 and first.isdecimal() and first[0] != "0":
                digits = f"{first}{last.digits}"
                joined = Reading("number", Decimal(digits), None, IN_GROUPS, digits)
                number = replace(number, readings=(*number.readings, joined))
        made.append(number)
    return made


def _with_tenths(
    parts: Sequence[Part], candidate: Candidate, all_of_them: Sequence[Candidate]
) -> Candidate:
    """*twelve oh six on the tach, and three tenths*: the tenths come a breath later."""
    first = candidate.readings[0]
    if "." in first.digits or len(first.digits) < 3 or first.unit not in (None,) or first.over:
        return candidate
    ahead = range(candidate.end, min(len(parts), candidate.end + _REACH))
    stops = {c.start for c in all_of_them if c is not candidate}
    for k in ahead:
        tenths = tenths_at(parts, k) if parts[k].norm not in joins()["point"] else None
        point = point_at(parts, k, alone=True) if tenths is None else None
        if found := tenths or point or _wheel(parts, k):
            digits = f"{first.digits}.{found[0]}"
            if len(found[0]) > 1:
                return candidate
            whole = Reading("number", Decimal(digits), None, "tenths a breath later", digits)
            return replace(candidate, end=found[1], readings=(*candidate.readings, whole))
        if k in stops or any(mark in parts[k].after for mark in "?!"):
            return candidate
    return candidate


def _wheel(parts: Sequence[Part], k: int) -> tuple[str, int] | None:
    """*… and the white wheel's on seven*: the tenths by the wheel that shows them."""
    if parts[k].norm not in _WHEELS:
        return None
    for i in range(k + 1, min(len(parts), k + _REACH)):
        atoms = atoms_at(parts, i)
        if atoms and parts[i].norm != "one":
            alone = len(atoms) == 1 and atoms[0].kind in "df" and len(atoms[0].text) == 1
            return (atoms[0].text, atoms[0].end) if alone else None
        if parts[i].after and parts[i].after != ",":
            return None
    return None
