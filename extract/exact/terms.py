"""Parts to the terms of a number: its words, and what a recogniser makes of them.

Terms stand in a row without a pause. Three in a row make one atom where they are said together:
*twenty-three* is one group, *two hundred and forty* one cardinal; a run is a row of atoms.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from extract.exact.measures import unit_here
from extract.words.lists import DIGITS, REPEATS, TEENS, TENS, table
from extract.words.parts import Part

_THOUSANDS = re.compile(r"^\d{1,3}(,\d{3})+(\.\d+)?$")
_PLAIN = re.compile(r"^\d+(\.\d+)?$|^\.\d+$")
_COMMA = re.compile(r"^(\d{1,3}(?:\.\d{3})+|\d+),(\d{1,2}|\d{3,4})$")  # 1.288,5 and 0,45
_COLON = re.compile(r"^(\d):(\d\d)$")  # "1:85", as recognition writes *one eighty-five*
_BEHIND_TO = frozenset(table("exact")["behind_to"])
_DIALLED = 5  # figures of a meter without its tenth
_LARGE = ("hundred", "hundreds", "thousand", "grand")


@dataclass(frozen=True, slots=True)
class Term:
    """One word of a number: `kind` D digit, T teen, Y tens, H hundred, K thousand, F figures.

    `text` are its figures; it stands in the parts from `start` up to `end`. `soft` says that it is
    another word that only sounds so.
    """

    kind: str
    text: str
    start: int
    end: int
    soft: bool = False


@dataclass(frozen=True, slots=True)
class Atom:
    """Terms said together: `kind` d digits, g a group below a hundred, c a cardinal, f figures."""

    kind: str
    text: str
    start: int
    end: int
    soft: bool = False
    tens_end: int = 0

    @property
    def value(self) -> Decimal:
        """Give the number that its figures write."""
        return Decimal(self.text)


@cache
def joins() -> Mapping[str, frozenset[str]]:
    """Give the words for *and*, *point*, *half* and the like, slips among them."""
    return {name: frozenset(words) for name, words in table("exact")["joins"].items()}


@cache
def _slips() -> Mapping[tuple[str, ...], str]:
    made: dict[tuple[str, ...], str] = {}
    for heard, meant in table("exact")["slips"].items():
        made[tuple(heard.split())] = meant
    return made


def hard(norm: str) -> tuple[str, str] | None:
    """Give the kind and figures of a word that is surely one of a number, or None."""
    if norm in DIGITS:
        return "D", DIGITS[norm]
    if norm in TEENS:
        return "T", TEENS[norm]
    if norm in TENS:
        return "Y", TENS[norm]
    if norm in _LARGE:
        return ("H", "100") if norm.startswith("hundred") else ("K", "1000")
    return _figures(norm)


def _figures(norm: str) -> tuple[str, str] | None:
    if not norm[:1].isdecimal() and not (norm[:1] == "." and norm[1:2].isdecimal()):
        return None
    if _PLAIN.match(norm):
        return "F", norm
    if _THOUSANDS.match(norm) and not norm.startswith("0,"):
        return "F", norm.replace(",", "")
    if found := _COMMA.match(norm):
        return "F", f"{found[1].replace('.', '')}.{found[2]}"
    if found := _COLON.match(norm):
        return "F", found[1] + found[2]
    return None


def term_at(parts: Sequence[Part], i: int) -> Term | None:
    """Give the term that begins at a part, whatever stands around it."""
    norm = parts[i].norm
    if (half := _half_dozen(parts, i)) is not None:
        return half
    slips = _slips()
    if i + 1 < len(parts) and not parts[i].after and (norm, parts[i + 1].norm) in slips:
        found = hard(slips[norm, parts[i + 1].norm])
        if found is not None and not (norm == "for" and parts[i + 1].glued):
            return Term(*found, i, i + 2, soft=True)
    if (norm,) in slips:
        found = hard(slips[norm,])
        return Term(*found, i, i + 1, soft=True) if found else None
    found = hard(norm)
    return Term(*found, i, i + 1) if found else None


def _half_dozen(parts: Sequence[Part], i: int) -> Term | None:
    words = [part.norm for part in parts[i : i + 3]]
    for said in (["half", "a", "dozen"], ["half", "dozen"]):
        if words[: len(said)] == said:
            return Term("T", "6", i, i + len(said))
    return None


def soft_at(parts: Sequence[Part], i: int, behind: Term | None) -> Term | None:
    """*to*, *too*, *for* as a figure, where the words around need one.

    `behind` is the term right before it, None at the beginning.
    """
    word = table("exact")["soft"].get(parts[i].norm)
    if word is None:
        return None
    made = Term("D", DIGITS[word], i, i + 1, soft=True)
    after, ahead = parts[i].after, parts[i + 1].norm if i + 1 < len(parts) else ""
    following = term_at(parts, i + 1) if ahead and not after else None
    if behind is None:
        return made if _opens(parts, i, following) else None
    if after or not ahead or unit_here(parts, i + 1) is not None:
        return made
    if behind.kind == "Y" and following is None and ahead not in _BEHIND_TO:
        return made  # or the tens alone: see `tens_end`
    if ahead in joins()["point"] or ahead in ("over", "psi", "volts", "thou", "degrees"):
        return made
    if parts[i].norm == "too" and ahead not in _BEHIND_TO:
        return made
    if behind.kind != "D" or following is None or following.kind != "D":
        return None
    figures = 1 + _count(parts, i - 1, -1) + _count(parts, i + 1, 1)
    return made if 4 <= figures <= _DIALLED else None


def _count(parts: Sequence[Part], i: int, step: int) -> int:
    """Count the single figures from a part on, forwards or backwards, up to a pause."""
    count = 0
    while 0 <= i < len(parts) and parts[i].norm in DIGITS:
        count += 1
        i += step
        if 0 <= i < len(parts) and parts[min(i, i - step)].after:
            break
    return count


def _opens(parts: Sequence[Part], i: int, following: Term | None) -> bool:
    """Say whether a soft figure may begin a number: *for and a half*, *too point two*."""
    if i + 1 >= len(parts) or parts[i].after:
        return False
    ahead = parts[i + 1].norm
    if (unit := unit_here(parts, i + 1)) is not None:
        return unit[0].dimension in ("volume", "torque", "pressure") and unit[1] > i + 1
    sure = parts[i].norm == "too" or i == 0 or bool(parts[i - 1].after)  # none of "set to point 6"
    if ahead in joins()["point"] and ahead not in ("comma", "dot", "pint"):
        return (
            sure
            and i + 2 < len(parts)
            and (term_at(parts, i + 2) is not None or parts[i + 2].norm in table("exact")["soft"])
        )
    if ahead in ("and", "in", "an") and i + 3 < len(parts) and parts[i + 2].norm in ("a", "three"):
        return parts[i + 3].norm in joins()["half"] | joins()["quarter"]
    read = (
        i > 0 and parts[i].norm == "to" and parts[i - 1].norm in table("exact")["reads"]["before"]
    )
    if read and _before_a_point(parts, i + 1) == _DIALLED - 2:
        return True  # "reads to three four five point six": four figures and a tenth
    digits = following is not None and following.kind in "DHK" and parts[i].norm in ("too", "to")
    if not digits or following is None or not sure:
        return False
    if following.kind in "HK":
        return following.text != "1000" or parts[i].norm == "too"
    return following.text == "0" or parts[i].norm == "too"


def _before_a_point(parts: Sequence[Part], i: int) -> int:
    """Count the single figures from a part on if a point stands right behind them, else 0."""
    count = _count(parts, i, 1)
    ahead = parts[i + count].norm if i + count < len(parts) else ""
    return count if ahead in ("point", "decimal", "dot") else 0


def atoms_at(parts: Sequence[Part], i: int) -> list[Atom]:
    """Give the atoms of the run that begins at a part: as far as terms go on without a pause."""
    terms = _terms(parts, i)
    made: list[Atom] = []
    at = 0
    while at < len(terms):
        length = _cardinal_length(parts, terms, at)
        if length:
            made.append(_cardinal(parts, terms[at : at + length]))
            at += length
            continue
        term = terms[at]
        ahead = terms[at + 1] if at + 1 < len(terms) else None
        if term.kind == "Y" and ahead is not None and ahead.kind == "D" and ahead.text != "0":
            text = str(int(term.text) + int(ahead.text))
            soft = ahead.soft and ahead.end - ahead.start == 1
            made.append(Atom("g", text, term.start, ahead.end, soft, term.end))
            at += 2
            continue
        kind = {"D": "d", "F": "f", "H": "c", "K": "c"}.get(term.kind, "g")
        made.append(Atom(kind, term.text, term.start, term.end, term.soft))
        at += 1
    return made


def _terms(parts: Sequence[Part], i: int) -> list[Term]:
    """Collect terms from a part on: hard ones, soft ones where they are needed, *double two*."""
    made: list[Term] = []
    while i < len(parts):
        if made and not _goes_on(parts, i, made):
            break
        if repeated := _repeated(parts, i):
            made += repeated
            i = repeated[-1].end
            continue
        term = term_at(parts, i) or soft_at(parts, i, made[-1] if made else None)
        if term is None:
            if not (made and _and_inside(parts, i, made)):
                break
            i += 1
            continue
        made.append(term)
        i = term.end
    return made


def _repeated(parts: Sequence[Part], i: int) -> list[Term]:
    """*double two*; and *double 714*, as a model writes *double seven one four*."""
    times = REPEATS.get(parts[i].norm)
    if times is None or i + 1 >= len(parts) or parts[i].after:
        return []
    soft = table("exact")["soft"].get(parts[i + 1].norm)
    said = term_at(parts, i + 1)
    if said is None:
        said = Term("D", DIGITS[soft], i + 1, i + 2, soft=True) if soft else None
    if said is not None and said.kind == "D":
        return [Term("D", said.text, i, said.end, said.soft)] * times
    if said is not None and said.kind == "F" and said.text.isdecimal() and len(said.text) > 2:
        return [Term("F", said.text[0] * (times - 1) + said.text, i, said.end)]
    return []


def _goes_on(parts: Sequence[Part], i: int, made: Sequence[Term]) -> bool:
    """A pause ends a run, save in figures read one by one and behind hundreds, up to a point."""
    after = parts[i - 1].after
    if not after:
        return True
    if after.strip(",…") and after.strip(",….") != "":
        return False
    last = made[-1]
    if after == "," and last.text == "0" and i + 1 < len(parts):
        return parts[i].norm in DIGITS and parts[i + 1].norm in ("point", "decimal")
    if last.kind not in "DHK":
        return False
    if last.kind != "D":
        return after == "," and _thousands_go_on(parts, i)
    if _begins_again(parts, i, made):
        return False
    count, k = len(made), i
    while k < len(parts) and (term := term_at(parts, k)) is not None:
        if term.kind != "D":
            return False
        count, k = count + 1, term.end
    ahead = parts[k].norm if k < len(parts) else ""
    if count >= 3 and ahead in ("point", "decimal", "dot"):
        return True
    return count >= 4 and _read_slowly(parts, made, i, k)


def _begins_again(parts: Sequence[Part], i: int, made: Sequence[Term]) -> bool:
    """*one two, one two nine …*: what follows the pause is the same number, begun again."""
    ahead = [DIGITS.get(part.norm, "") for part in parts[i : i + len(made)]]
    return len(made) > 1 and ahead == [term.text for term in made]


def _thousands_go_on(parts: Sequence[Part], i: int) -> bool:
    """*one thousand, one hundred, twenty decimal nine*: pauses behind hundreds, up to a point."""
    first = term_at(parts, i)
    if first is None or (first.kind == "D" and parts[first.end : first.end + 1] == ()):
        return False
    if first.kind == "D" and parts[first.end].norm not in _LARGE:
        return False
    k = i
    while k < len(parts) and (term_at(parts, k) is not None or parts[k].norm == "and"):
        k += 1
    return k < len(parts) and parts[k].norm in ("point", "decimal", "dot")


def _read_slowly(parts: Sequence[Part], made: Sequence[Term], i: int, end: int) -> bool:
    """*four, four, seven, one, and the white …*: single figures, each with its pause, no count."""
    if any(term.kind != "D" or not parts[term.end - 1].after for term in made):
        return False
    figures = "".join(term.text for term in made)
    for k in range(i, end):
        figures += DIGITS.get(parts[k].norm, "")
        if k < end - 1 and not parts[k].after:
            return False
    return figures not in "1234567890"


def _and_inside(parts: Sequence[Part], i: int, made: Sequence[Term]) -> bool:
    """*two hundred and forty*: the *and* within a cardinal."""
    if parts[i].norm not in ("and", "an") or made[-1].kind not in "HK" or parts[i].after:
        return False
    ahead = term_at(parts, i + 1) if i + 1 < len(parts) else None
    if ahead is None or ahead.kind not in "DTY":
        return False
    behind = parts[ahead.end].norm if ahead.end < len(parts) else ""
    more = term_at(parts, ahead.end) if behind and not parts[ahead.end - 1].after else None
    if ahead.kind == "D" and more is not None and more.kind in "TYD":
        return False  # "at one thousand and one sixty-five"
    fraction = joins()["half"] | joins()["quarter"] | joins()["tenth"] | joins()["eighth"]
    return behind not in fraction


def _cardinal_length(parts: Sequence[Part], terms: Sequence[Term], at: int) -> int:
    """Give how many terms from `at` make one cardinal with *hundred* or *thousand*, else 0."""
    small = _small_length(terms, at)
    k = at + small
    if k >= len(terms) or terms[k].kind not in "HK":
        return 0
    if small == 0 and at > 0 and terms[at - 1].kind not in "DTYF":
        return 0
    length = small
    while k < len(terms) and terms[k].kind in "HK":
        length, kind = length + 1, terms[k].kind
        k += 1
        tail = _small_length(terms, k)
        larger = terms[k + tail].kind if k + tail < len(terms) else ""
        if (kind, larger) in (("K", "H"), ("H", "K")):
            length, k = length + tail, k + tail
            continue
        if kind == "K" and tail == 1 and terms[k].kind == "D" and k + 1 < len(terms):
            more = _small_length(terms, k + 1)  # "three thousand seven fifty"
            tail += more if more and terms[k + 1].kind in "TYD" else 0
        length, k = length + tail, k + tail
        break
    return length


def _small_length(terms: Sequence[Term], at: int) -> int:
    if at >= len(terms) or terms[at].kind in "HK":
        return 0
    if terms[at].kind == "F":
        return 1 if at + 1 < len(terms) and terms[at + 1].kind in "HK" else 0
    if terms[at].kind == "Y" and at + 1 < len(terms) and terms[at + 1].kind == "D":
        return 2 if terms[at + 1].text != "0" else 1
    if terms[at].kind == "D" and terms[at].text == "0" and at + 1 < len(terms):
        return 2 if terms[at + 1].kind == "D" else 1
    return 1


def _cardinal(parts: Sequence[Part], terms: Sequence[Term]) -> Atom:
    total, hundreds, small = Decimal(0), Decimal(0), ""
    tens = False
    for term in terms:
        if term.kind == "H":
            hundreds = Decimal(small or "1") * 100
            small = ""
        elif term.kind == "K":
            total = (hundreds + Decimal(small or ("0" if hundreds else "1"))) * 1000
            hundreds, small = Decimal(0), ""
        elif tens and term.kind == "D":
            small = str(int(small) + int(term.text))
        else:
            small += term.text
        tens = term.kind == "Y"
    value = total + hundreds + Decimal(small or "0")
    text = str(value.quantize(Decimal(1)) if value == value.to_integral_value() else value)
    last = terms[-1]
    return Atom("c", text, terms[0].start, last.end, last.soft, terms[-2].end if terms[1:] else 0)
