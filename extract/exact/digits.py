"""Whole spoken numbers: digit by digit, in groups, as cardinals; *double* and *triple*, *dozen*.

What recognition makes of digits (*to*, *for*, *won*) counts only among other digits, and is
remembered as such.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from extract.exact.fractions import fraction_follows
from extract.words.lists import DIGITS, HOMOPHONES, POINTS, TEENS, TENS
from extract.words.parts import STRONG, Part

FIGURE = re.compile(r"^\d{1,3}(,\d{3})+(\.\d+)?$|^\d+(\.\d+)?$|^\.\d+$")
_REPEATS = {"double": 2, "triple": 3, "treble": 3}


@dataclass(frozen=True, slots=True)
class Number:
    """A number in the parts from `start` up to `end`.

    `value` is exact; `digits` are its figures as spoken, leading zeros and all; `style` is one of
    `digits`, `groups`, `cardinal`, `figure`, `fraction`; `over` is the second of *x over y*;
    `pieces` are the groups it was put together from, as (first part, figures); `homophones` says
    how many of its words stand for digits that they only sound like; `others` are further
    readings.
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


def whole(parts: Sequence[Part], at: int) -> Number | None:
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


def _run(parts: Sequence[Part], at: int) -> tuple[list[tuple[str, str, int]], int, int]:
    """Collect the terms of a whole number (kind, figures, part), its end, homophones used."""
    terms: list[tuple[str, str, int]] = []
    sounds, i = 0, at
    while i < len(parts):
        norm = parts[i].norm
        if terms and not _joined(parts, i, terms):
            break
        term = term_of(norm)
        if (
            norm in _REPEATS
            and i + 1 < len(parts)
            and (term_of(parts[i + 1].norm) or "X")[0] == "D"
        ):
            terms += [("D", DIGITS[parts[i + 1].norm], i)] * _REPEATS[norm]
            i += 2
            continue
        if norm in ("a", "an") and not terms and _dozen(parts, i):
            i += 1
            continue
        if norm in ("a", "an") and not terms and _next_is(parts, i, "HK"):
            terms.append(("D", "1", i))
        elif norm == "and" and terms and terms[-1][0] in "HK" and _next_is(parts, i, "DTY"):
            if fraction_follows(parts, i):
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


def _joined(parts: Sequence[Part], i: int, terms: list[tuple[str, str, int]]) -> bool:
    """Say whether part `i` may go on with the number before it, for all the punctuation between."""
    after = parts[i - 1].after
    if not after:
        return True
    if any(mark in STRONG for mark in after.replace("…", "")):
        return _slow_digits(parts, i, terms)
    return _slow_digits(parts, i, terms) or _slow_cardinal(parts, i, terms)


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
    while i < len(parts) and (term_of(parts[i].norm) or "X")[0] == "D":
        count += 1
        i += 1
    return count >= 3 and i + 1 < len(parts) and parts[i].norm in POINTS


def _slow_cardinal(parts: Sequence[Part], i: int, terms: list[tuple[str, str, int]]) -> bool:
    """*one thousand, one hundred, twenty decimal nine*: pauses behind hundreds, up to a point."""
    if terms[-1][0] not in "HK":
        return False
    while i < len(parts) and (term_of(parts[i].norm) or parts[i].norm == "and"):
        i += 1
    return i < len(parts) and parts[i].norm in POINTS


def _sounds_like_digit(parts: Sequence[Part], i: int, terms: list[tuple[str, str, int]]) -> bool:
    """*to*, *for* and the like among single digits: one before, some after, three at least."""
    norm = parts[i].norm
    radio = ("tree", "fower", "wun")
    if not terms and norm in radio:  # radio figures may begin a number
        ahead = parts[i + 1].norm if i + 1 < len(parts) and not parts[i].after else ""
        return ahead in DIGITS or ahead in POINTS or ahead in radio
    if not terms or any(kind != "D" for kind, _, _ in terms) or parts[i].after:
        return False
    after, point = 0, False
    for part in parts[i + 1 :]:
        if part.norm in POINTS:
            point = True
            break
        if (term_of(part.norm) or "X")[0] != "D" and part.norm not in HOMOPHONES:
            break
        after += 1
    if norm in ("to", "for", "too", "free", "won", "tree", "owe", "ate", "sex"):
        need = 4 if norm in ("to", "for") else 3
        return (after > 0 or point) and len(terms) + 1 + after + 2 * point >= need
    return True


def _dozen(parts: Sequence[Part], i: int) -> bool:
    return i + 1 < len(parts) and parts[i + 1].norm == "dozen" and not parts[i].after


def term_of(norm: str) -> tuple[str, str] | None:
    """Give what a word is: D digit, T teen, Y tens, H hundred, K thousand, F figures."""
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


def _next_is(parts: Sequence[Part], i: int, kinds: str) -> bool:
    if i + 1 >= len(parts) or parts[i].after:
        return False
    term = term_of(parts[i + 1].norm)
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


def _room_after_large(kind: str, terms: list[tuple[str, str, int]]) -> bool:
    """After *hundred* there is room for one group below a hundred, after *thousand* below 1000."""
    kinds = "".join(k for k, _, _ in terms)
    tail = re.split(r"[HK]", kinds)[-1]
    last_large = max(kinds.rfind("H"), kinds.rfind("K"))
    if kinds[last_large] == "H":
        zero = bool(tail) and terms[-1][1] == "0"
        return tail == "" or (tail == "Y" and kind == "D") or (tail == "D" and zero and kind == "D")
    return tail + kind in ("D", "T", "Y", "YD", "DY", "DT", "DYD", "DD", "DDD")


def _has_large(terms: list[tuple[str, str, int]]) -> bool:
    return any(k in "HK" for k, _, _ in terms)


def _after_thousand(terms: list[tuple[str, str, int]]) -> int:
    kinds = [k for k, _, _ in terms]
    return kinds.index("K") + 1 if "K" in kinds else 0


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


def is_counting(number: Number) -> bool:
    """*one two three four*: somebody counts."""
    return (
        number.style == "digits"
        and len(number.digits) > 3
        and "123456789".startswith(number.digits)
    )
