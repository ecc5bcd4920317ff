"""Numbers and quantities among the words, each with its readings, as candidates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from extract.exact.closing import closed
from extract.exact.fragments import alone, mixed
from extract.exact.measures import unit_behind
from extract.exact.reading import Candidate, Reading
from extract.exact.runs import Cut, cuts, digits_of
from extract.exact.tails import fraction_at, over_at, parts_said, point_at, tenths_at
from extract.exact.terms import Atom, atoms_at, joins
from extract.words.lists import table
from extract.words.parts import Part, parts_of

ALSO = "the “too” behind it may have been the figure two"
SOFT = "a word that sounds like a figure, such as “to” or “for”, was taken for one"
_WORDS = frozenset(["one", "won", "free", "tree", "fore", "owe", "sex", "for tea", "for teen"])
_OHS = frozenset(["oh", "o", "nil", "ohh", "owe", "oe"])


def counted(parts: Sequence[Part], words: Sequence[str] = ()) -> list[Candidate]:
    """Find every number of the parts, first to last; `words` are the heard words they come from."""
    made: list[Candidate] = []
    at = 0
    while at < len(parts):
        typed = mixed(parts, at, words)
        found, end = ([typed], typed.end) if typed else _numbers_at(parts, at)
        made += found
        at = max(end, at + 1)
    return made


def read_number(text: str) -> Decimal | None:
    """Read a text that is one number and nothing else, its likeliest way; None if it is not."""
    parts = parts_of(text.split())
    whole = [c for c in counted(parts) if (c.start, c.end) == (0, len(parts))]
    value = whole[0].readings[0].value if whole else None
    return value if isinstance(value, Decimal) else None


def _numbers_at(parts: Sequence[Part], at: int) -> tuple[list[Candidate], int]:
    """Give the numbers that begin at a part and where they end."""
    atoms = atoms_at(parts, at)
    oh = len(atoms) == 1 and parts[at].norm in _OHS
    if oh and point_at(parts, atoms[0].end) is None:
        return [], at + 1
    if atoms:
        return _run(parts, atoms)
    if (found := alone(parts, at)) is not None:
        return [found], found.end
    return [], at + 1


def _run(parts: Sequence[Part], atoms: list[Atom]) -> tuple[list[Candidate], int]:
    """Read a run of atoms with what follows it."""
    end = atoms[-1].end
    if (said := parts_said(parts, end, atoms[-1].text)) is not None and (
        len(atoms) < 2 or parts[end].norm not in joins()["tenth"]
    ):
        return _with_parts(parts, atoms, *said)
    if (tenths := _last_tenths(parts, atoms)) is not None:
        atoms, tail = tenths
    else:
        tail = _tail(parts, atoms)
    made = []
    for cut in cuts(atoms, pointed=bool(tail[0])):
        whole = tail if cut.last == len(atoms) else ("", Decimal(0), atoms[cut.last - 1].end)
        found = _cut(parts, atoms, cut, *whole)
        if found is not None:
            made.append(found)
    behind = max([tail[2], *(c.end for c in made)])
    return [*made, *_besides(parts, atoms, tail[2])], behind


def _tail(parts: Sequence[Part], atoms: Sequence[Atom]) -> tuple[str, Decimal, int]:
    """Give the figures behind the point of a run or the fraction added to it, and the end."""
    end = atoms[-1].end
    if "." not in atoms[-1].text and (found := point_at(parts, end) or tenths_at(parts, end)):
        return found[0], Decimal(0), found[1]
    more = None if parts[end - 1].after else fraction_at(parts, end)
    return ("", *more) if more is not None else ("", Decimal(0), end)


def _besides(parts: Sequence[Part], atoms: Sequence[Atom], end: int) -> list[Candidate]:
    """Give what a run may be besides: with a tenth behind an *and*, without a tail that slipped.

    *five pint two* may be 5.2 and five pints, *seven and a have* 7.5 and seven.
    """
    whole, stop = Cut(0, len(atoms)), atoms[-1].end
    found = None
    if end == stop and (digit := _and_digit(parts, atoms)) is not None:
        found = _cut(parts, atoms, whole, digit[0], Decimal(0), digit[1])
    elif {part.norm for part in parts[stop:end]} & joins()["unsure"]:
        found = _cut(parts, atoms, whole, "", Decimal(0), stop)
    return [found] if found is not None else []


def _with_parts(
    parts: Sequence[Part], atoms: Sequence[Atom], value: Decimal, end: int
) -> tuple[list[Candidate], int]:
    """*three quarters*, *eight tenths of a millimetre*, *four three-quarter*."""
    start = atoms[-1].start
    alone = Reading("number", value, None, "fraction", str(value))
    readings = [alone]
    if len(atoms) == 2 and atoms[0].kind in "dg":
        start, whole = atoms[0].start, atoms[0].value + value
        readings.insert(0, Reading("number", whole, None, "fraction", str(whole)))
    made = [closed(parts, start, end, readings)]
    if len(atoms) > 2:
        made = [*_run(parts, list(atoms[:-1]))[0], *made]
    return made, made[-1].end


def _last_tenths(
    parts: Sequence[Part], atoms: list[Atom]
) -> tuple[list[Atom], tuple[str, Decimal, int]] | None:
    """*fourteen fifteen six tenths*: the last figure of the run is behind the point."""
    end = atoms[-1].end
    if end >= len(parts) or len(atoms) < 2 or parts[end - 1].after or atoms[-1].kind != "d":
        return None
    if parts[end].norm not in joins()["tenth"]:
        return None
    return atoms[:-1], (atoms[-1].text, Decimal(0), end + 1)


def _and_digit(parts: Sequence[Part], atoms: Sequence[Atom]) -> tuple[str, int] | None:
    """*two five double four and four*: the tenth of a meter behind an *and*."""
    end = atoms[-1].end
    long = sum(len(a.text) for a in atoms) >= 3 and all(a.kind in "dg" for a in atoms)
    if not long or end + 1 >= len(parts) or parts[end].norm != "and" or parts[end - 1].after:
        return None
    last = atoms_at(parts, end + 1)
    if len(last) != 1 or last[0].kind != "d" or unit_behind(parts, last[0].end) is not None:
        return None
    return last[0].text, last[0].end


def _cut(
    parts: Sequence[Part], atoms: Sequence[Atom], cut: Cut, figures: str, more: Decimal, end: int
) -> Candidate | None:
    """Make the candidate of one cut: the likeliest reading, then those that begin later."""
    starts = [cut.first, *cut.others]
    if more and not cut.others and cut.last - cut.first == 2 and atoms[cut.first].kind == "d":
        starts.append(cut.first + 1)  # "one, six and three quarters" without its pause
    slipped = _has_soft(parts, atoms[cut.first].start, atoms[cut.first].end)
    if slipped and len(starts) == 1 and cut.last - cut.first > 2:
        starts.append(cut.first + 1)
    if cut.place_first or (more and len(starts) == 2 and atoms[cut.first].kind == "d"):
        starts.reverse()
    readings = []
    for first in starts:
        digits = digits_of(atoms, first, cut.last)
        if len(digits) > 9 or digits.count(".") > 1:
            continue
        if figures and "." in digits:
            continue  # "three comma five, seven tenths": two values run together
        if figures:
            digits = f"{digits}.{figures}"
        value = Decimal(digits) + more
        how = "fraction" if more else "as said" if first == cut.first else "a place before it"
        groups = () if more or figures else tuple(a.text for a in atoms[first : cut.last])
        said = str(value) if more else digits
        before = atoms[first - 1].text if first > cut.first else "0"
        place = int(before) if len(before) == 1 and before in "123456" and not slipped else 0
        doubt = SOFT if _has_soft(parts, atoms[first].start, end) else ""
        readings.append(Reading("number", value, None, how, said, groups, place=place, doubt=doubt))
    if not figures and not more and end == atoms[cut.last - 1].end:
        readings = _with_and_without_slip(parts, atoms, cut, readings)
    if not readings or _is_word(parts, atoms[cut.first], end):
        return None
    return closed(parts, atoms[cut.first].start, end, readings)


def _has_soft(parts: Sequence[Part], start: int, end: int) -> bool:
    return any(part.norm in table("exact")["soft"] for part in parts[start:end])


def _with_and_without_slip(
    parts: Sequence[Part], atoms: Sequence[Atom], cut: Cut, readings: list[Reading]
) -> list[Reading]:
    """Put *thirty* beside *thirty to*, and before *thirty too* at the end of a clause."""
    last = atoms[cut.last - 1]
    if not last.soft or not last.tens_end:
        return readings
    unslipped, end = _without_slip(parts, atoms, cut), last.end
    ends = bool(parts[end - 1].after) or end == len(parts)
    too = parts[end - 1].norm == "too"
    if ends and too:
        return [*(replace(one, doubt=ALSO) for one in unslipped), *readings]
    if ends or too or unit_behind(parts, end) is not None:
        return [*readings, *unslipped]
    return [*unslipped, *readings]


def _without_slip(parts: Sequence[Part], atoms: Sequence[Atom], cut: Cut) -> list[Reading]:
    """*thirty to*: the last word may be no figure."""
    last = atoms[cut.last - 1]
    if parts[last.end - 1].norm not in table("exact")["soft"] or last.kind != "g":
        return []
    digits = digits_of(atoms, cut.first, cut.last - 1) + str(int(last.text) // 10 * 10)
    return [Reading("number", Decimal(digits), None, "without the word that sounds so", digits)]


def _is_word(parts: Sequence[Part], atom: Atom, end: int) -> bool:
    """*one* is mostly no number, nor are words that sound so: a unit or *over* makes them one."""
    said = " ".join(part.norm for part in parts[atom.start : end])
    if said not in _WORDS:
        return False
    if unit_behind(parts, end) is not None and parts[end].norm not in ("in", "h", "f", "c", "v"):
        return False
    ends = bool(parts[end - 1].after) or end == len(parts)
    answers = said == "one" and ends and (atom.start == 0 or bool(parts[atom.start - 1].after))
    if answers and (end == len(parts) or not atoms_at(parts, end)):
        return False  # "how much? One."
    return over_at(parts, end) is None
