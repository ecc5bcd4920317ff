"""Numbers without a whole number of their own: *half a quart*, *a gallon*, *point four*, *3/4*."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from extract.exact.closing import behind_unit, closed, smaller_behind
from extract.exact.measures import unit_behind, unit_here
from extract.exact.reading import Candidate, Reading
from extract.exact.tails import OVERS, fraction_at, point_at, ratio_at
from extract.exact.terms import atoms_at, joins, term_at
from extract.words.parts import Part

_MIXED = re.compile(r"^(\d{1,2})-(\d{1,2})/(\d{1,2})[^\d/]*$")
_RATIO = re.compile(r"^(\d{1,4}(?:\.\d+)?)[-–/](\d{1,4}(?:\.\d+)?)$")
_TYPED_FRACTION = re.compile(r"^(\d{0,2})([½¼¾⅛⅜⅝⅞])\W*$")
_NO_UNIT = ("port", "court", "leader", "l", "c")
_HALVES = {"half": Decimal("0.5"), "quarter": Decimal("0.25")}


def mixed(parts: Sequence[Part], at: int, words: Sequence[str]) -> Candidate | None:
    """*5-1/4* in one word, of which the parts have lost the dash and the stroke."""
    if parts[at].glued or parts[at].word >= len(words):
        return None
    if typed := _TYPED_FRACTION.match(words[parts[at].word]):
        value = Decimal(typed[1] or 0) + Decimal(str(unicodedata.numeric(typed[2])))
        return _fraction(parts, at, value, at + 1)
    found = _MIXED.match(words[parts[at].word])
    end = at + 1
    while end < len(parts) and parts[end].glued:
        end += 1
    if found is None or not 0 < int(found[2]) < int(found[3]) <= 32:
        return None
    value = Decimal(found[1]) + Decimal(found[2]) / Decimal(found[3])
    return _fraction(parts, at, value, end)


def alone(parts: Sequence[Part], at: int) -> Candidate | None:
    """Read what has no whole number: *point four*, *half a quart*, *a gallon and half*, *3/4*."""
    norm = parts[at].norm
    if (point := point_at(parts, at, alone=True)) is not None:
        before = parts[at - 1].norm if at else ""
        if before not in ("the", "this", "that", "a", "some"):
            text = f"0.{point[0]}"
            return closed(parts, at, point[1], [Reading("number", Decimal(text), digits=text)])
    if (found := ratio_at(parts, at) or _part_of_unit(parts, at)) is not None:
        return _fraction(parts, at, *found)
    if pair := _RATIO.match(norm):
        return _pair(parts, at, pair[1], pair[2])
    if norm in ("halfway", "midway", "half", "between"):
        return _between(parts, at)
    return _one_unit(parts, at)


def _part_of_unit(parts: Sequence[Part], at: int) -> tuple[Decimal, int] | None:
    """*half a quart*, *a quarter cup*, *and a half*: the part and where its words end."""
    norm = parts[at].norm
    if norm in ("and", "plus"):
        own = at + 1 < len(parts) and _part_of_unit(parts, at + 1) is not None
        found = None if own else fraction_at(parts, at)
        slipped = found is not None and {p.norm for p in parts[at : found[1]]} & joins()["unsure"]
        return None if slipped else found
    k = at + (norm in ("a", "an"))
    if k + 1 >= len(parts) or parts[at].after or parts[k].norm not in _HALVES:
        return None
    article = parts[k + 1].norm in ("a", "an") and unit_here(parts, k + 2) is not None
    if k > at:
        article = False
    if not article and unit_behind(parts, k + 1) is None:
        return None
    return _HALVES[parts[k].norm], k + 1 + article


def _fraction(parts: Sequence[Part], at: int, value: Decimal, end: int) -> Candidate:
    return closed(parts, at, end, [Reading("number", value, how="fraction", digits=str(value))])


def _pair(parts: Sequence[Part], at: int, top: str, bottom: str) -> Candidate:
    """*74/80*: one over the other; *31/31*, *16-18*: two values in one word."""
    first = Reading("number", Decimal(top), None, "as said", top)
    if Decimal(bottom) in OVERS:
        return Candidate(at, at + 1, (replace(first, over=Decimal(bottom)),))
    second = Reading("number", Decimal(bottom), None, "behind the stroke", bottom)
    return closed(parts, at, at + 1, [first] if top == bottom else [first, second])


def _one_unit(parts: Sequence[Part], at: int) -> Candidate | None:
    """*a quart*, *an ounce and a half*, *gallon and half*: one of them."""
    said = int(parts[at].norm in ("a", "an", "another", "couple"))
    if said and parts[at].after:
        return None
    if parts[at].norm == "couple" and [p.norm for p in parts[at + 1 : at + 2]] == ["of"]:
        said = 2
    found = unit_here(parts, at + said)
    if found is None or found[0].dimension != "volume" or found[0].loose:
        return None
    if at and (parts[at - 1].norm in ("half", "quarter", "of") or term_at(parts, at - 1)):
        return None
    unit, end = found
    lone = end >= len(parts) or len(parts[at + said].norm) < 2 or parts[end - 1].after
    more, stop = (Decimal(0), end) if lone else behind_unit(parts, end)
    if (not said and not more) or parts[at + said].norm in _NO_UNIT:
        return None
    value = (2 if parts[at].norm == "couple" else 1) + more
    readings = [Reading("number", value, unit, "one of them", str(value))]
    if not more and (small := smaller_behind(parts, unit, end)) is not None:
        total = value + small
        readings.append(Reading("number", total, unit, "with a smaller unit", str(total)))
    return Candidate(at, stop, tuple(readings))


def _between(parts: Sequence[Part], at: int) -> Candidate | None:
    """*halfway between the seven and the eight*: the middle."""
    k = at
    while k < len(parts) and parts[k].norm in ("halfway", "midway", "half", "way", "in", "between"):
        k += 1
    if k == at or parts[k - 1].norm != "between" or k - at < 2:
        return None
    numbers: list[Decimal] = []
    end = k
    for word in ("", "and"):
        if word and not (end < len(parts) and parts[end].norm == word):
            return None
        end += bool(word)
        end += end < len(parts) and parts[end].norm == "the"
        atoms = atoms_at(parts, end) if end < len(parts) else []
        if len(atoms) != 1:
            return None
        numbers.append(atoms[0].value)
        end = atoms[0].end
    middle = sum(numbers, Decimal(0)) / 2
    return closed(parts, at, end, [Reading("number", middle, how="halfway", digits=str(middle))])
