"""What follows the whole part of a number: a point and figures, a fraction, tenths, *over*."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from decimal import Decimal

from extract.exact.terms import Term, atoms_at, joins, term_at
from extract.words.lists import DIGITS, TENS, table
from extract.words.parts import Part

RATIO = re.compile(r"^(\d+)/(\d+)$")
_SURE_POINTS = frozenset(["point", "decimal", "dot"])
OVERS = tuple(Decimal(n) for n in (80, 60, 70, 90, 100))
_BEHIND_WHOLE = ("half", "quarter", "eighth", "sixteenth", "third")
_PARTS = {
    "half": Decimal("0.5"),
    "quarter": Decimal("0.25"),
    "eighth": Decimal("0.125"),
    "sixteenth": Decimal("0.0625"),
    "third": Decimal(1) / 3,
    "tenth": Decimal("0.1"),
    "hundredth": Decimal("0.01"),
}


def point_at(parts: Sequence[Part], i: int, *, alone: bool = False) -> tuple[str, int] | None:
    """Read *point six*, *comma eight*: the figures after the point and where they end.

    `alone` says that no whole number stands before it: only the sure words count then.
    """
    if i >= len(parts) or parts[i].norm not in joins()["point"]:
        return None
    sure = parts[i].norm in _SURE_POINTS
    if not alone and i and parts[i - 1].after not in ("", ",", "…", "...", ",…"):
        return None
    if not sure and (alone or parts[i].after or parts[i - 1].after):
        return None
    k = i + 1
    while k < len(parts) and parts[k].norm in _SURE_POINTS:
        k += 1
    return _after_point(parts, k)


def _after_point(parts: Sequence[Part], i: int) -> tuple[str, int] | None:
    figures, k = "", i
    while k < len(parts):
        if k > i and parts[k - 1].after:
            break
        term = _behind_point(parts, k, figures)
        if term is None or term.kind in "HK":
            break
        if term.kind == "D":
            ahead = term_at(parts, term.end) if _more(parts, term) else None
            if figures and ahead is not None and ahead.kind in "HKTY":
                break  # "point six one hundred", "point six two seventy"
            figures, k = figures + term.text, term.end
            continue
        if figures or "." in term.text:
            break
        figures, k = term.text, term.end
        if term.kind == "Y" and _more(parts, term):
            ahead = term_at(parts, k)
            if ahead is not None and ahead.kind == "D" and ahead.text != "0":
                figures, k = str(int(figures) + int(ahead.text)), ahead.end
        break
    return (figures, k) if figures else None


def _behind_point(parts: Sequence[Part], k: int, figures: str) -> Term | None:
    found = term_at(parts, k)
    word = table("exact")["soft"].get(parts[k].norm)
    if found is None and word is not None:
        ahead = parts[k + 1].norm if k + 1 < len(parts) and not parts[k].after else ""
        if not figures or ahead == "" or ahead in DIGITS:
            return Term("D", DIGITS[word], k, k + 1, soft=True)
    return found


def _more(parts: Sequence[Part], term: Term) -> bool:
    return term.end < len(parts) and not parts[term.end - 1].after


def fraction_at(parts: Sequence[Part], i: int) -> tuple[Decimal, int] | None:
    """Read *and a half*, *three-quarter*, *1/2*, *an' a quarter* behind a whole number."""
    if i >= len(parts):
        return None
    if found := ratio_at(parts, i):
        return found
    k = i
    joined = parts[k].norm in joins()["and"]
    if joined:
        k += 1
        if k < len(parts) and (found := ratio_at(parts, k)):
            return found
    some = parts[i].norm == "in"
    return _said_fraction(parts, k, joined=joined, sure=not some)


def _said_fraction(
    parts: Sequence[Part], k: int, *, joined: bool, sure: bool
) -> tuple[Decimal, int] | None:
    norms = [part.norm for part in parts[k : k + 3]]
    if not norms:
        return None
    count, at = 1, 0
    if norms[0] in ("a", "an", "one"):
        at = 1
    elif (term := term_at(parts, k)) is not None and term.kind in "DF" and term.text.isdecimal():
        count, at = int(term.text), term.end - k
    elif not joined and norms[0] not in ("half", "quarter"):
        return None
    if at >= len(norms) or (at and parts[k + at - 1].after):
        return None
    name = next((n for n in _BEHIND_WHOLE if norms[at] in joins()[n]), "")
    if not name and norms[at] == "eight" and count in (1, 3, 5, 7) and at and joined:
        name = "eighth"  # "six and three eight": the last sound is often lost
    slip = bool(name) and norms[at] not in (name, f"{name}s")
    if not name or (slip and not (joined or at)) or (not sure and not at):
        return None
    value = _PARTS[name] * count
    return (value, k + at + 1) if 0 < value < 1 else None


def parts_said(parts: Sequence[Part], end: int, count: str) -> tuple[Decimal, int] | None:
    """*three quarters*, *eight tenths*: a count that ends at a part, and what it counts."""
    if end >= len(parts) or parts[end - 1].after or not count.isdecimal() or int(count) > 99:
        return None
    name = next((n for n in _PARTS if parts[end].norm in joins()[n]), "")
    if not name or parts[end].norm not in (name, f"{name}s", "halves"):
        return None
    value = _PARTS[name] * int(count)
    return (value, end + 1) if 0 < value < 1 else None


def ratio_at(parts: Sequence[Part], i: int) -> tuple[Decimal, int] | None:
    """Read *3/4* as one part, or the figures 3 / 4."""
    norm = parts[i].norm
    if len(norm) == 1 and norm in "½¼¾⅛⅜⅝⅞":
        return Decimal(str(unicodedata.numeric(norm))), i + 1
    found = RATIO.match(norm)
    if found is None:
        return None
    top, bottom = int(found[1]), int(found[2])
    if bottom in (2, 3, 4, 8, 16, 32) and 0 < top < bottom:
        return Decimal(top) / Decimal(bottom), i + 1
    return None


def tenths_at(parts: Sequence[Part], i: int) -> tuple[str, int] | None:
    """Read *and three tenths*, *four tenths*, *and fifty-five hundredths*: figures and end."""
    k = i + 1 if i < len(parts) and parts[i].norm in ("and", "an", "plus") else i
    if k >= len(parts):
        return None
    if parts[k].norm in ("a", "one") and k + 1 < len(parts) and parts[k + 1].norm == "tenth":
        return "1", k + 2
    atoms = atoms_at(parts, k)
    if len(atoms) != 1 or not atoms[0].text.isdecimal() or atoms[0].end >= len(parts):
        return None
    end, text = atoms[0].end, atoms[0].text
    if parts[end - 1].after:
        return None
    if parts[end].norm in joins()["tenth"] and len(text) == 1:
        return text, end + 1
    if parts[end].norm in joins()["hundredth"] and len(text) <= 2:
        behind = [p.norm for p in parts[end + 1 : end + 3]]
        return None if behind[:1] == ["of"] else (text.zfill(2), end + 1)
    return None


def over_at(parts: Sequence[Part], i: int) -> tuple[Decimal, int] | None:
    """Read *over eighty*, *by eighty*, *out of eighty*: the number below and its end."""
    if i >= len(parts) or parts[i - 1].after.strip(",-"):
        return None
    words = [part.norm for part in parts[i : i + 2]]
    skip = 2 if words == ["out", "of"] else 1 if words[0] in joins()["over"] else 0
    if not skip or i + skip >= len(parts):
        return None
    atoms = atoms_at(parts, i + skip)
    if not atoms or atoms[0].kind not in "gfc" or atoms[0].value not in OVERS:
        return None
    whole = atoms[0]
    tens_only = whole.tens_end and whole.kind == "g" and whole.text in TENS.values()
    return whole.value, whole.tens_end if tens_only else whole.end
