"""Fractions behind a whole number: *and a half*, *and three quarters*, *1/2*."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from extract.words.lists import DIGITS, FRACTIONS, TEENS, TENS
from extract.words.parts import Part

RATIO = re.compile(r"^(\d+)/(\d+)$")
SMALL = {
    "a": 1,
    "an": 1,
    **{word: int(figure) for word, figure in DIGITS.items() if figure != "0"},
    "1": 1,
    "3": 3,
}


def fraction_tail(parts: Sequence[Part], i: int) -> tuple[Decimal, int] | None:
    """Read *and a half*, *and three quarters*, *1/2* at a part: the fraction and its end."""
    if i >= len(parts):
        return None
    norm = parts[i].norm
    if ratio := RATIO.match(norm):
        top, bottom = int(ratio[1]), int(ratio[2])
        if bottom in (2, 3, 4, 8, 16, 32) and 0 < top < bottom:
            return Decimal(top) / Decimal(bottom), i + 1
        return None
    if norm != "and":
        return None
    if i + 1 < len(parts) and parts[i + 1].norm in ("half", "quarter"):
        return FRACTIONS[parts[i + 1].norm], i + 2
    if eighths := _eighths(parts, i):
        return eighths
    if i + 2 < len(parts) and parts[i + 1].norm in SMALL and parts[i + 2].norm in FRACTIONS:
        value = SMALL[parts[i + 1].norm] * FRACTIONS[parts[i + 2].norm]
        if value < 1:
            return value, i + 3
    return None


def fraction_follows(parts: Sequence[Part], i: int) -> bool:
    """Say whether *and a half* stands at part `i`."""
    return fraction_tail(parts, i) is not None


def _eighths(parts: Sequence[Part], i: int) -> tuple[Decimal, int] | None:
    """*six and three eight*: the last sound of *eighths* is often lost."""
    words = [part.norm for part in parts[i + 1 : i + 4]]
    odd = words[:1] and words[0] in ("a", "an", "one", "three", "five", "seven")
    ends = len(words) < 3 or words[2] not in (*DIGITS, *TEENS, *TENS)
    if odd and words[1:2] == ["eight"] and ends:
        return SMALL[words[0]] * FRACTIONS["eighth"], i + 3
    return None
