"""Spoken numbers to exact decimals, with the figures as spoken and other readings.

Read as people say them: digit by digit, in groups (*twenty-three forty-five point six*), as
cardinals, with *point* or *decimal*, with fractions, *over*, *double* and *triple*, radio digits, and
figures. What recognition makes of digits (*to*, *for*, *won*) counts only among other digits, and is
remembered as such.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from extract.doc import STRONG, Part
from extract.words import DIGITS, FRACTIONS, HOMOPHONES, POINTS, TEENS, TENS

FIGURE = re.compile(r"^\d{1,3}(,\d{3})+(\.\d+)?$|^\d+(\.\d+)?$|^\.\d+$")
_RATIO = re.compile(r"^(\d+)/(\d+)$")
_REPEATS = {"double": 2, "triple": 3, "treble": 3}
_SMALL = {
    "a": 1,
    "an": 1,
    **{word: int(figure) for word, figure in DIGITS.items() if figure != "0"},
    "1": 1,
    "3": 3,
}


@dataclass(frozen=True, slots=True)
class Number:
    """A number in the parts from `start` up to `end`.

    `value` is exact; `digits` are its figures as spoken, leading zeros and all; `style` is one of
    `digits`, `groups`, `cardinal`, `figure`, `fraction`; `over` is the second of *x over y*;
    `pieces` are the groups it was put together from, as (first part, figures); `homophones` says how
    many of its words stand for digits that they only sound like; `others` are further readings.
    """

    start: int
    end: int
    value: Decimal
    digits: str
    style: str
    over: Decimal | None = None
    pieces: tuple[tuple[int, str], ...] = ()
    homophones: int = 0
    others: tuple[tuple[Decimal, str], ...] = ()

    @property
    def point(self) -> bool:
        """Say whether figures after the point were spoken."""
        return "." in self.digits and self.style != "fraction"


def find_numbers(parts: Sequence[Part], offset: int = 0) -> tuple[Number, ...]:
    """Find every number, first to last; none overlaps another.

    `offset` is added to the places, where `parts` are a piece of a longer row.
    """
    found: list[Number] = []
    at = 0
    while at < len(parts):
        counted = _whole(parts, at)
        if counted is not None and _is_counting(counted):
            at = counted.end
            continue
        number = _read(parts, at)
        if number is None:
            at += 1
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
    from extract.doc import parts_of

    parts = parts_of(text.split())
    found = find_numbers(parts)
    if len(found) == 1 and (found[0].start, found[0].end) == (0, len(parts)):
        return found[0].value
    return None


def _read(parts: Sequence[Part], at: int) -> Number | None:
    number = _fraction_alone(parts, at) or _whole(parts, at)
    number = _point(parts, at, number)
    if number is None:
        return None
    if _is_interjection(parts, number):
        return None
    if not number.point:
        number = _and_fraction(parts, number)
    return _over(parts, number)


def _is_counting(number: Number) -> bool:
    """*one two three four*: somebody counts."""
    return number.style == "digits" and len(number.digits) > 3 and "123456789".startswith(number.digits)


def _is_interjection(parts: Sequence[Part], number: Number) -> bool:
    """*oh*, *o*, *nil* alone are words, and so is a lone homophone."""
    alone = number.end - number.start == 1
    return alone and parts[number.start].norm in ("oh", "o", "nil", *HOMOPHONES)


def _term(norm: str) -> tuple[str, str] | None:
    """Give what a word is in a number: D digit, T teen, Y tens, H hundred, K thousand, F figures."""
    if norm in DIGITS:
        return "D", DIGITS[norm]
    if norm in TEENS:
        return "T", TEENS[norm]
    if norm in TENS:
        return "Y", TENS[norm]
    if norm in ("hundred", "hundreds"):
        return "H", "100"
    if norm == "thousand":
        return "K", "1000"
    if FIGURE.match(norm):
        return "F", norm.replace(",", "")
    return None


def _run(parts: Sequence[Part], at: int) -> tuple[list[tuple[str, str, int]], int, int]:
    """Collect the terms of a whole number: (kind, figures, part), where it ends, homophones used."""
    terms: list[tuple[str, str, int]] = []
    sounds, i = 0, at
    while i < len(parts):
        norm = parts[i].norm
        if terms and not _joined(parts, i, terms):
            break
        term = _term(norm)
        if norm in _REPEATS and i + 1 < len(parts) and (_term(parts[i + 1].norm) or "X")[0] == "D":
            terms += [("D", DIGITS[parts[i + 1].norm], i)] * _REPEATS[norm]
            i += 2
            continue
        if norm in ("a", "an") and not terms and _dozen(parts, i):
            i += 1
            continue
        if norm in ("a", "an") and not terms and _next_is(parts, i, "HK"):
            terms.append(("D", "1", i))
        elif norm == "and" and terms and terms[-1][0] in "HK" and _next_is(parts, i, "DTY"):
            if _fraction_follows(parts, i):
                break
        elif term is None and norm in HOMOPHONES and _sounds_like_digit(parts, i, terms):
            terms.append(("D", HOMOPHONES[norm], i))
            sounds += 1
        elif term is None or not _fits(term[0], terms):
            break
        else:
            terms.append((*term, i))
        i += 1
    return terms, i, sounds


def _dozen(parts: Sequence[Part], i: int) -> bool:
    return i + 1 < len(parts) and parts[i + 1].norm == "dozen" and not parts[i].after


def _joined(parts: Sequence[Part], i: int, terms: list[tuple[str, str, int]]) -> bool:
    """Say whether part `i` may go on with the number before it, for all the punctuation between."""
    after = parts[i - 1].after
    if not after:
        return True
    if any(mark in STRONG for mark in after.replace("…", "")):
        return _slow_digits(parts, i, terms)
    return _slow_digits(parts, i, terms) or _slow_cardinal(parts, i, terms)


def _slow_cardinal(parts: Sequence[Part], i: int, terms: list[tuple[str, str, int]]) -> bool:
    """*one thousand, one hundred, twenty decimal nine*: pauses behind hundreds, up to a point."""
    if terms[-1][0] not in "HK":
        return False
    while i < len(parts) and (_term(parts[i].norm) or parts[i].norm == "and"):
        i += 1
    return i < len(parts) and parts[i].norm in POINTS


def _slow_digits(parts: Sequence[Part], i: int, terms: list[tuple[str, str, int]]) -> bool:
    """*two, three, four, five, point six*: single digits read slowly, up to a point."""
    ahead = [part.norm for part in parts[i : i + 2]]
    if terms[-1][1] == "0" and len(ahead) == 2 and ahead[0] in DIGITS and ahead[1] in POINTS:
        return True  # "eighteen oh, two point six"
    if any(kind != "D" for kind, _, _ in terms):
        return False
    sofar = "".join(text for _, text, _ in terms)
    count = len(terms)
    if sofar == "".join(DIGITS.get(p.norm, " ") for p in parts[i : i + count]) and count > 1:
        return False  # begun again
    while i < len(parts) and (_term(parts[i].norm) or "X")[0] == "D":
        count += 1
        i += 1
    return count >= 3 and i + 1 < len(parts) and parts[i].norm in POINTS


def _next_is(parts: Sequence[Part], i: int, kinds: str) -> bool:
    if i + 1 >= len(parts) or parts[i].after:
        return False
    term = _term(parts[i + 1].norm)
    return term is not None and term[0] in kinds


def _fits(kind: str, terms: list[tuple[str, str, int]]) -> bool:
    """Say whether a term of this kind can go on with a number: figures stand alone."""
    if not terms:
        return kind in "DTYFHK"
    if kind == "F":
        return False
    if terms[-1][0] == "F":
        return kind in "HK"
    if kind == "H":
        return "H" not in [k for k, _, _ in terms[_after_thousand(terms) :]]
    if kind == "K":
        return "K" not in [k for k, _, _ in terms]
    if _has_large(terms):
        return _room_after_large(kind, terms)
    return True


def _after_thousand(terms: list[tuple[str, str, int]]) -> int:
    kinds = [k for k, _, _ in terms]
    return kinds.index("K") + 1 if "K" in kinds else 0


def _has_large(terms: list[tuple[str, str, int]]) -> bool:
    return any(k in "HK" for k, _, _ in terms)


def _room_after_large(kind: str, terms: list[tuple[str, str, int]]) -> bool:
    """After *hundred* there is room for one group below a hundred, after *thousand* below 1000."""
    kinds = "".join(k for k, _, _ in terms)
    tail = re.split(r"[HK]", kinds)[-1]
    last_large = max(kinds.rfind("H"), kinds.rfind("K"))
    if kinds[last_large] == "H":
        zero = bool(tail) and terms[-1][1] == "0"
        return tail == "" or (tail == "Y" and kind == "D") or (tail == "D" and zero and kind == "D")
    return tail + kind in ("D", "T", "Y", "YD", "DY", "DT", "DYD", "DD", "DDD")


def _sounds_like_digit(parts: Sequence[Part], i: int, terms: list[tuple[str, str, int]]) -> bool:
    """*to*, *for* and the like among single digits: a digit before, digits after, three at least."""
    norm = parts[i].norm
    if not terms or any(kind != "D" for kind, _, _ in terms) or parts[i].after:
        return False
    after, point = 0, False
    for part in parts[i + 1 :]:
        if part.norm in POINTS:
            point = True
            break
        if (_term(part.norm) or "X")[0] != "D" and part.norm not in HOMOPHONES:
            break
        after += 1
    if norm in ("to", "for", "too", "free", "won", "tree", "owe", "ate", "sex"):
        need = 4 if norm in ("to", "for") else 3
        return (after > 0 or point) and len(terms) + 1 + after + 2 * point >= need
    return True


def _whole(parts: Sequence[Part], at: int) -> Number | None:
    """Read the whole number that begins at a part."""
    terms, end, sounds = _run(parts, at)
    if not terms:
        return None
    while terms and parts[end - 1].norm == "and":  # a dangling *and* is not part of it
        end -= 1
    kinds = "".join(kind for kind, _, _ in terms)
    if kinds == "F":
        text = terms[0][1]
        return Number(at, end, Decimal(text), text, "figure", pieces=((at, text),))
    if "H" in kinds or "K" in kinds:
        value = _cardinal(terms)
        return Number(at, end, value, str(value), "cardinal", pieces=((at, str(value)),))
    pieces = _groups(terms)
    digits = "".join(text for _, text in pieces)
    style = "digits" if set(kinds) == {"D"} and len(kinds) > 1 else "groups"
    if len(pieces) == 1:
        style = "cardinal"
    return Number(at, end, Decimal(digits), digits, style, None, pieces, sounds)


def _groups(terms: list[tuple[str, str, int]]) -> tuple[tuple[int, str], ...]:
    """Put tens and units together: *twenty three forty five* is 23 and 45."""
    made: list[tuple[int, str]] = []
    tens = False
    for kind, text, part in terms:
        if kind == "D" and tens and text != "0":
            first, whole = made[-1]
            made[-1] = (first, str(int(whole) + int(text)))
        else:
            made.append((part, text))
        tens = kind == "Y"
    return tuple(made)


def _cardinal(terms: list[tuple[str, str, int]]) -> Decimal:
    cut = _after_thousand(terms)
    if cut:
        left = _hundreds(terms[: cut - 1]) if cut > 1 else Decimal(1)
        return left * 1000 + (_hundreds(terms[cut:]) if terms[cut:] else 0)
    return _hundreds(terms)


def _hundreds(terms: list[tuple[str, str, int]]) -> Decimal:
    kinds = [kind for kind, _, _ in terms]
    if "H" not in kinds:
        return Decimal("".join(text for _, text in _groups(terms)))
    at = kinds.index("H")
    left = Decimal("".join(text for _, text in _groups(terms[:at])) or "1")
    right = Decimal("".join(text for _, text in _groups(terms[at + 1 :])) or "0")
    return left * 100 + right


def _point(parts: Sequence[Part], at: int, number: Number | None) -> Number | None:
    """Add the figures after *point*; a hesitation may stand between, and the point be said twice."""
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
    return again and _term(parts[i].norm) is None


def _after_point(parts: Sequence[Part], i: int) -> tuple[str, int, int]:
    figures, sounds, start = "", 0, i
    while i < len(parts):
        norm = parts[i].norm
        term = _term(norm)
        if i > start and parts[i - 1].after:
            break
        if term and term[0] == "D":
            following = _term(parts[i + 1].norm) if _more(parts, i) else None
            if figures and following and following[0] in "HK":
                break  # "point six | one hundred"
            figures += term[1]
        elif term and term[0] in "TY" and not figures:
            figures = term[1]
            if term[0] == "Y" and _more(parts, i) and (_term(parts[i + 1].norm) or "X")[0] == "D":
                if parts[i + 1].norm not in ("oh", "zero"):
                    figures = str(int(figures) + int(DIGITS[parts[i + 1].norm]))
                i += 1
            i += 1
            break
        elif term and term[0] == "F" and not figures and term[1].isdigit():
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


def _fraction_follows(parts: Sequence[Part], i: int) -> bool:
    """Say whether *and a half* stands at part `i`."""
    return _tail(parts, i) is not None


def _tail(parts: Sequence[Part], i: int) -> tuple[Decimal, int] | None:
    """Read *and a half*, *and three quarters*, *1/2* at part `i`: the fraction and where it ends."""
    if i >= len(parts):
        return None
    norm = parts[i].norm
    if ratio := _RATIO.match(norm):
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
    if i + 2 < len(parts) and parts[i + 1].norm in _SMALL and parts[i + 2].norm in FRACTIONS:
        value = _SMALL[parts[i + 1].norm] * FRACTIONS[parts[i + 2].norm]
        if value < 1:
            return value, i + 3
    return None


def _eighths(parts: Sequence[Part], i: int) -> tuple[Decimal, int] | None:
    """*six and three eight*: the last sound of *eighths* is often lost."""
    words = [part.norm for part in parts[i + 1 : i + 4]]
    if len(words) > 1 and words[0] in ("a", "an", "one", "three", "five", "seven"):
        if words[1] == "eight" and (len(words) < 3 or _term(words[2]) is None):
            return _SMALL[words[0]] * FRACTIONS["eighth"], i + 3
    return None


def _and_fraction(parts: Sequence[Part], number: Number) -> Number:
    """Add *and a half*, also where the unit stands in between (*a quart and a half*: see units)."""
    if number.end < len(parts) and parts[number.end - 1].after:
        return number
    tail = _tail(parts, number.end)
    if tail is None and number.end + 1 < len(parts) and parts[number.end].norm in ("a",):
        # "seven a half": the *and* was swallowed
        if parts[number.end + 1].norm in ("half", "quarter"):
            tail = FRACTIONS[parts[number.end + 1].norm], number.end + 2
    if tail is None or number.value != number.value.to_integral_value():
        return number
    value = number.value + tail[0]
    return replace(number, end=tail[1], value=value, digits=str(value), style="fraction")


def _fraction_alone(parts: Sequence[Part], at: int) -> Number | None:
    """Read *three quarters*, *half* before *of a* or *a*, *1/2*: a fraction with no whole number."""
    norm = parts[at].norm
    if (ratio := _RATIO.match(norm)) and (tail := _tail(parts, at)):
        return Number(at, at + 1, tail[0], str(tail[0]), "fraction")
    if ratio and Decimal(ratio[2]):
        value = Decimal(ratio[1])
        return Number(at, at + 1, value, ratio[1], "figure", Decimal(ratio[2]))
    if at + 1 < len(parts) and norm in _SMALL and parts[at + 1].norm in FRACTIONS:
        if parts[at].after or norm in ("to",):
            return None
        value = _SMALL[norm] * FRACTIONS[parts[at + 1].norm]
        of = at + 3 < len(parts) and parts[at + 2].norm == "of" and parts[at + 3].norm in ("a", "an")
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
    below = _whole(parts, i + skip)
    if below is None or below.value not in (80, 60, 70, 90, 100):
        return number
    return replace(_trim_over(number, below.value), end=below.end, over=below.value)


def _trim_over(number: Number, below: Decimal) -> Number:
    """Keep the last groups that fit *over eighty*: *three seventy-four over eighty* is 74, after 3."""
    if number.value <= below or number.style not in ("groups", "digits"):
        return number
    pieces = list(number.pieces)
    while len(pieces) > 1 and Decimal("".join(text for _, text in pieces)) > below:
        pieces.pop(0)
    digits = "".join(text for _, text in pieces)
    return replace(
        number, start=pieces[0][0], value=Decimal(digits), digits=digits, pieces=tuple(pieces)
    )
