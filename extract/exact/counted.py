"""Numbers and quantities among the words, each with its readings, as candidates."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from extract.exact.measures import brought, unit_behind, unit_here
from extract.exact.quantities import Unit
from extract.exact.reading import Candidate, Reading
from extract.exact.runs import Cut, cuts, digits_of
from extract.exact.tails import fraction_at, over_at, point_at, ratio_at, tenths_at
from extract.exact.terms import Atom, atoms_at, joins, term_at
from extract.words.lists import table
from extract.words.parts import Part

_NO_ONE = frozenset(
    ["this", "that", "the", "new", "old", "which", "no", "any", "each", "every", "other", "next",
     "last", "another", "first", "good", "big", "little", "wrong", "right", "right", "some", "a",
     "second", "only", "either", "not", "same", "spare", "left"]
)  # fmt: skip
_OHS = frozenset(["oh", "o", "nil", "ohh", "owe", "oe"])
_REACH = 9  # parts between a number and its tenths said later


def counted(parts: Sequence[Part]) -> list[Candidate]:
    """Find every number of the parts, first to last."""
    made: list[Candidate] = []
    at = 0
    while at < len(parts):
        found, end = _numbers_at(parts, at)
        made += found
        at = max(end, at + 1)
    return [_with_tenths_later(parts, c, made) for c in made]


def _numbers_at(parts: Sequence[Part], at: int) -> tuple[list[Candidate], int]:
    """Give the numbers that begin at a part and where they end."""
    atoms = atoms_at(parts, at)
    oh = len(atoms) == 1 and parts[at].norm in _OHS
    if oh and point_at(parts, atoms[0].end) is None:
        return [], at + 1
    if atoms:
        return _run(parts, atoms)
    if (alone := _alone(parts, at)) is not None:
        return [alone], alone.end
    return [], at + 1


def _alone(parts: Sequence[Part], at: int) -> Candidate | None:
    """Read what has no whole number: *point four*, *half a quart*, *a gallon and half*, *3/4*."""
    if (point := point_at(parts, at, alone=True)) is not None:
        before = parts[at - 1].norm if at else ""
        if before not in ("the", "this", "that", "a", "some", "at"):
            text = f"0.{point[0]}"
            return _closed(parts, at, point[1], [Reading("number", Decimal(text), digits=text)])
    if (ratio := ratio_at(parts, at)) is not None:
        return _fraction(parts, at, *ratio)
    norm = parts[at].norm
    if norm in ("and", "plus") and (found := fraction_at(parts, at)) is not None:
        return _fraction(parts, at, *found)
    if norm in ("half", "quarter") and at + 1 < len(parts) and not parts[at].after:
        ahead = unit_behind(parts, at + 1)
        article = parts[at + 1].norm in ("a", "an") and unit_here(parts, at + 2) is not None
        if ahead is not None or article:
            value = Decimal("0.5") if norm == "half" else Decimal("0.25")
            return _fraction(parts, at, value, at + 1 + article)
    if norm in ("a", "an", "another") or unit_here(parts, at) is not None:
        return _one_unit(parts, at)
    if norm in ("halfway", "midway", "half", "between"):
        return _between(parts, at)
    return None


def _fraction(parts: Sequence[Part], at: int, value: Decimal, end: int) -> Candidate:
    return _closed(parts, at, end, [Reading("number", value, how="fraction", digits=str(value))])


def _one_unit(parts: Sequence[Part], at: int) -> Candidate | None:
    """*a quart*, *an ounce and a half*, *gallon and half*: one of them."""
    said = parts[at].norm in ("a", "an", "another")
    if said and parts[at].after:
        return None
    found = unit_here(parts, at + said)
    if found is None or found[0].dimension != "volume" or found[0].loose:
        return None
    if at and (parts[at - 1].norm in ("half", "quarter", "of") or term_at(parts, at - 1)):
        return None
    unit, end = found
    if end >= len(parts) or len(parts[at + said].norm) < 2 or parts[end - 1].after:
        more = None
    else:
        more = fraction_at(parts, end) if parts[end].norm in ("and", "an") else None
    if not said and more is None:
        return None
    if end == at + said + 1 and parts[at + said].norm in ("port", "court", "leader", "l", "c"):
        return None
    value = Decimal(1) + (more[0] if more else 0)
    reading = Reading("number", value, unit, "one of them", str(value))
    return Candidate(at, more[1] if more else end, (reading,))


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
    return _closed(parts, at, end, [Reading("number", middle, how="halfway", digits=str(middle))])


def _run(parts: Sequence[Part], atoms: list[Atom]) -> tuple[list[Candidate], int]:
    """Read a run of atoms with what follows it."""
    end = atoms[-1].end
    tail = "", Decimal(0), end
    if (tenths := _last_tenths(parts, atoms)) is not None:
        atoms, tail = tenths
    elif (point := point_at(parts, end)) is not None and "." not in atoms[-1].text:
        tail = point[0], Decimal(0), point[1]
    elif (later := tenths_at(parts, end)) is not None and "." not in atoms[-1].text:
        tail = later[0], Decimal(0), later[1]
    elif not parts[end - 1].after and (more := fraction_at(parts, end)) is not None:
        tail = "", more[0], more[1]
    elif digit := _and_digit(parts, atoms):
        tail = digit[0], Decimal(0), digit[1]
    made = []
    for cut in cuts(atoms, pointed=bool(tail[0])):
        whole = tail if cut.last == len(atoms) else ("", Decimal(0), atoms[cut.last - 1].end)
        found = _cut(parts, atoms, cut, *whole)
        if found is not None:
            made.append(found)
    return made, max([tail[2], *(c.end for c in made)])


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
    if cut.place_first or (more and len(starts) == 2 and atoms[cut.first].kind == "d"):
        starts.reverse()
    readings = []
    for first in starts:
        digits = digits_of(atoms, first, cut.last)
        if len(digits) > 9 or digits.count(".") > 1:
            continue
        if figures:
            digits = f"{digits}.{figures}"
        value = Decimal(digits) + more
        how = "fraction" if more else "as said" if first == cut.first else "a place before it"
        groups = () if more or figures else tuple(a.text for a in atoms[first : cut.last])
        said = str(value) if more else digits
        readings.append(Reading("number", value, None, how, said, groups))
    last = atoms[cut.last - 1]
    if last.soft and last.plain_end and not figures and not more and end == last.end:
        readings += _without_slip(parts, atoms, cut)
    if not readings or (
        end - atoms[cut.first].start == 1 and _is_word(parts, atoms[cut.first], end)
    ):
        return None
    return _closed(parts, atoms[cut.first].start, end, readings)


def _without_slip(parts: Sequence[Part], atoms: Sequence[Atom], cut: Cut) -> list[Reading]:
    """*thirty to*: the last word may be no figure."""
    last = atoms[cut.last - 1]
    if parts[last.end - 1].norm not in table("exact")["soft"] or last.kind != "g":
        return []
    digits = digits_of(atoms, cut.first, cut.last - 1) + str(int(last.text) // 10 * 10)
    return [Reading("number", Decimal(digits), None, "without the word that sounds so", digits)]


def _is_word(parts: Sequence[Part], atom: Atom, end: int) -> bool:
    """*one* is mostly no number: a unit or *over* behind it makes it one."""
    if parts[atom.start].norm not in ("one", "won"):
        return False
    if unit_behind(parts, end) is not None and parts[end].norm not in ("in", "h", "f", "c", "v"):
        return False
    return over_at(parts, end) is None


def _closed(parts: Sequence[Part], start: int, end: int, readings: list[Reading]) -> Candidate:
    """Add *over eighty*, the unit, and what follows a unit: *and a half*, *and three tenths*."""
    if (over := over_at(parts, end)) is not None:
        kept = [r for r in readings if r.value is not None and r.value <= over[0]] or readings  # type: ignore[operator]
        return Candidate(start, over[1], tuple(replace(r, over=over[0]) for r in kept))
    found = unit_behind(parts, end)
    if found is None:
        return Candidate(start, end, tuple(readings))
    unit, stop = found
    more, stop = _behind_unit(parts, unit, stop)
    made = []
    for reading in readings:
        value = Decimal(reading.digits) if reading.how != "fraction" else reading.value
        total = (value or Decimal(0)) + more  # type: ignore[operator]
        digits = str(total) if more else reading.digits
        made.append(replace(reading, value=total, unit=unit, digits=digits))
    return Candidate(start, stop, tuple(made))


def _behind_unit(parts: Sequence[Part], unit: Unit, stop: int) -> tuple[Decimal, int]:
    """*a quart and a half*, *hours and three tenths*, *five litres and six decilitres*."""
    none = Decimal(0), stop
    if stop >= len(parts) or parts[stop].norm not in ("and", "an", "plus"):
        return none
    if (tenths := tenths_at(parts, stop)) is not None:
        return Decimal(f"0.{tenths[0]}"), tenths[1]
    if (more := fraction_at(parts, stop)) is not None and unit_behind(parts, more[1]) is None:
        return more
    atoms = atoms_at(parts, stop + 1) if stop + 1 < len(parts) else []
    if len(atoms) == 1 and (second := unit_behind(parts, atoms[0].end)) is not None:
        smaller = second[0].dimension == unit.dimension and second[0].factor < unit.factor
        if smaller and not unit.loose and not second[0].loose and unit.dimension == "volume":
            return brought(atoms[0].value, second[0], unit), second[1]
    return none


def _with_tenths_later(
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
        if found := tenths or point:
            digits = f"{first.digits}.{found[0]}"
            if len(found[0]) > 1:
                return candidate
            whole = Reading("number", Decimal(digits), None, "tenths a breath later", digits)
            return replace(candidate, end=found[1], readings=(*candidate.readings, whole))
        if k in stops or any(mark in parts[k].after for mark in "?!"):
            return candidate
    return candidate


def walk(candidates: Sequence[Candidate]) -> Iterator[tuple[Candidate, Candidate | None]]:
    """Give each candidate with the one before it."""
    before: Candidate | None = None
    for candidate in candidates:
        yield candidate, before
        before = candidate
