"""Spoken numbers to exact decimals, with the figures as spoken and other readings.

Read as people say them: digit by digit, in groups (*twenty-three forty-five point six*), as
cardinals, with *point* or *decimal*, with fractions and *over*, as radio digits and as figures.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from extract.exact.digits import Number, is_counting, term_of, whole
from extract.exact.fractions import RATIO, SMALL, fraction_tail
from extract.words.lists import DIGITS, FRACTIONS, HOMOPHONES, POINTS
from extract.words.parts import Part

# No reading of this trade comes near; a run of figures this long is a telephone number or worse.
TOO_LARGE = Decimal(10) ** 9


def find_numbers(parts: Sequence[Part], offset: int = 0) -> tuple[Number, ...]:
    """Find every number, first to last; none overlaps another.

    `offset` is added to the places, where `parts` are a piece of a longer row.
    """
    found: list[Number] = []
    at = 0
    while at < len(parts):
        counted = whole(parts, at)
        if counted is not None and is_counting(counted):
            at = counted.end
            continue
        number = _read(parts, at)
        if number is None or abs(number.value) >= TOO_LARGE:
            at = at + 1 if number is None else number.end
            continue
        if number.start > at:  # groups that *over eighty* left behind: a place, mostly
            found += find_numbers(parts[at : number.start], at)
        found.append(number)
        at = number.end
    return tuple(_shift(number, offset) for number in found) if offset else tuple(found)


def _shift(number: Number, offset: int) -> Number:
    pieces = tuple((part + offset, text) for part, text in number.pieces)
    return replace(number, start=number.start + offset, end=number.end + offset, pieces=pieces)


def read_number(text: str) -> Decimal | None:
    """Read a text that is one number and nothing else; None if it is not."""
    from extract.words.parts import parts_of

    parts = parts_of(text.split())
    found = find_numbers(parts)
    if len(found) == 1 and (found[0].start, found[0].end) == (0, len(parts)):
        return found[0].value
    return None


def _read(parts: Sequence[Part], at: int) -> Number | None:
    number = _fraction_alone(parts, at) or whole(parts, at)
    number = _point(parts, at, _tenths(parts, number))
    if number is None:
        return None
    if _is_interjection(parts, number):
        return None
    if not number.point:
        number = _and_fraction(parts, number)
    return _over(parts, number)


def _tenths(parts: Sequence[Part], number: Number | None) -> Number | None:
    """*fourteen fifteen six tenths*: the last figure is behind the point."""
    if number is None or number.end >= len(parts) or len(number.pieces) < 2:
        return number
    last = number.pieces[-1][1]
    if parts[number.end].norm not in ("tenth", "tenths") or len(last) != 1:
        return number
    digits = f"{number.digits[:-1]}.{last}"
    return replace(number, end=number.end + 1, value=Decimal(digits), digits=digits)


def _is_interjection(parts: Sequence[Part], number: Number) -> bool:
    """*oh*, *o*, *nil* alone are words, and so is a lone homophone."""
    alone = number.end - number.start == 1
    return alone and parts[number.start].norm in ("oh", "o", "nil", *HOMOPHONES)


def _point(parts: Sequence[Part], at: int, number: Number | None) -> Number | None:
    """Add the figures after *point*, which may be said twice, with a hesitation between."""
    i = number.end if number else at
    if i >= len(parts) or parts[i].norm not in POINTS or (number and "." in number.digits):
        return number
    if number is None and i and parts[i - 1].norm in ("the", "this", "that", "a", "to", "some"):
        return None  # "at that point one ..."
    while i < len(parts) and (parts[i].norm in POINTS or _said_again(parts, i)):
        i += 1
    figures, end, sounds = _after_point(parts, i)
    if not figures:
        return number
    whole = number.digits if number else "0"
    sounds += number.homophones if number else 0
    start = number.start if number else at
    digits = f"{whole}.{figures}"
    pieces = number.pieces if number else ()
    style = number.style if number else "digits"
    return Number(start, end, Decimal(digits), digits, style, None, pieces, sounds)


def _said_again(parts: Sequence[Part], i: int) -> bool:
    """*decimal, er, decimal three*, with the *er* heard as some short word."""
    again = i + 1 < len(parts) and parts[i + 1].norm in POINTS and parts[i - 1].norm in POINTS
    return again and term_of(parts[i].norm) is None


def _after_point(parts: Sequence[Part], i: int) -> tuple[str, int, int]:
    figures, sounds, start = "", 0, i
    while i < len(parts):
        norm = parts[i].norm
        term = term_of(norm)
        if i > start and parts[i - 1].after:
            break
        if term and term[0] == "D":
            following = term_of(parts[i + 1].norm) if _more(parts, i) else None
            if figures and following and following[0] in "HK":
                break  # "point six | one hundred"
            figures += term[1]
        elif term and term[0] in "TY" and not figures:
            figures = term[1]
            if term[0] == "Y" and _more(parts, i) and (term_of(parts[i + 1].norm) or "X")[0] == "D":
                if parts[i + 1].norm not in ("oh", "zero"):
                    figures = str(int(figures) + int(DIGITS[parts[i + 1].norm]))
                i += 1
            i += 1
            break
        elif term and term[0] == "F" and not figures and term[1].isdecimal():
            figures = term[1]
            i += 1
            break
        elif norm in HOMOPHONES and (not figures and norm not in ("owe", "sex")):
            figures += HOMOPHONES[norm]
            sounds += 1
        else:
            break
        i += 1
    return figures, i, sounds


def _more(parts: Sequence[Part], i: int) -> bool:
    return i + 1 < len(parts) and not parts[i].after


def _and_fraction(parts: Sequence[Part], number: Number) -> Number:
    """Add *and a half*, also where the unit stands in between (*a quart and a half*: see units)."""
    if number.end < len(parts) and parts[number.end - 1].after:
        return number
    tail = fraction_tail(parts, number.end)
    ahead = [part.norm for part in parts[number.end : number.end + 2]]
    if tail is None and ahead in (["a", "half"], ["a", "quarter"]):
        tail = FRACTIONS[ahead[1]], number.end + 2  # "seven a half": the *and* was swallowed
    if tail is None or number.value != number.value.to_integral_value():
        return number
    value = number.value + tail[0]
    return replace(number, end=tail[1], value=value, digits=str(value), style="fraction")


def _fraction_alone(parts: Sequence[Part], at: int) -> Number | None:
    """Read *three quarters*, *half a*, *1/2*: a fraction with no whole number."""
    norm = parts[at].norm
    if (ratio := RATIO.match(norm)) and (tail := fraction_tail(parts, at)):
        return Number(at, at + 1, tail[0], str(tail[0]), "fraction")
    if ratio and Decimal(ratio[2]):
        value = Decimal(ratio[1])
        return Number(at, at + 1, value, ratio[1], "figure", Decimal(ratio[2]))
    if at + 1 < len(parts) and norm in SMALL and parts[at + 1].norm in FRACTIONS:
        if parts[at].after or norm in ("to",):
            return None
        value = SMALL[norm] * FRACTIONS[parts[at + 1].norm]
        of = (
            at + 3 < len(parts) and parts[at + 2].norm == "of" and parts[at + 3].norm in ("a", "an")
        )
        if value < 1 and (of or parts[at + 1].norm not in ("tenth", "tenths")):
            return Number(at, at + 2, value, str(value), "fraction")
    before_whole = ("a", "an", "quart", "pint", "liter", "ounce", "gallon")
    if norm in ("half", "quarter") and at + 1 < len(parts) and parts[at + 1].norm in before_whole:
        return Number(at, at + 1, FRACTIONS[norm], str(FRACTIONS[norm]), "fraction")
    return None


def _over(parts: Sequence[Part], number: Number) -> Number:
    """Add *over eighty*, *out of eighty*, *slash eighty*."""
    i = number.end
    if number.over is not None or i >= len(parts) or parts[i - 1].after.strip(","):
        return number
    words = [part.norm for part in parts[i : i + 2]]
    skip = 1 if words[:1] in (["over"], ["slash"], ["/"]) else 2 if words == ["out", "of"] else 0
    if not skip or i + skip >= len(parts):
        return number
    below = whole(parts, i + skip)
    if below is None or below.value not in (80, 60, 70, 90, 100):
        return number
    return replace(_trim_over(number, below.value), end=below.end, over=below.value)


def _trim_over(number: Number, below: Decimal) -> Number:
    """Keep what fits *over eighty*: *three seventy-four over eighty* is 74, after a 3."""
    if number.value <= below or number.style not in ("groups", "digits"):
        return number
    pieces = list(number.pieces)
    while len(pieces) > 1 and Decimal("".join(text for _, text in pieces)) > below:
        pieces.pop(0)
    digits = "".join(text for _, text in pieces)
    return replace(
        number, start=pieces[0][0], value=Decimal(digits), digits=digits, pieces=tuple(pieces)
    )
