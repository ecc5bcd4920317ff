"""Dates in any order that people use: words, figures, digit by digit, named days."""

from __future__ import annotations

import calendar
import re
from collections.abc import Mapping, Sequence
from datetime import date
from functools import cache

from extract.exact.measures import unit_here
from extract.exact.reading import Candidate, Reading
from extract.exact.terms import Atom, atoms_at
from extract.words.lists import DIGITS, MONTHS, ORDINALS, TENS, table
from extract.words.parts import Part

_ISO = re.compile(r"^((?:19|20)\d\d)[-/.](\d\d?)[-/.](\d\d?)$")
_DAY_MONTH = re.compile(r"^(\d{1,2})-?([a-z]{3,9})-?(\d{4}|\d\d)$")
_MONTH_DAY = re.compile(r"^([a-z]{3,9})-(\d{1,2})-(\d{4}|\d\d)$")
_DMY = re.compile(r"^(\d{1,2})[-/.](\d{1,2})[-/.](\d{4}|\d{2})$")
ANEW = "said anew in part"
_MONTH_DOUBT = "day and month the other way round"
_FILL = frozenset(["the", "of", "in", "year", "day", "on"])
_LONG_FEBRUARY = 2024  # a leap year, for a date whose year was not said


def days(parts: Sequence[Part]) -> list[Candidate]:
    """Find every date, first to last."""
    made: list[Candidate] = []
    at = 0
    while at < len(parts):
        found = _day_at(parts, at)
        if found is not None:
            made.append(found)
        at = found.end if found is not None else at + 1
    return [*made, *_anew(parts, made)] if made else made


def month_at(parts: Sequence[Part], at: int) -> tuple[int, int, int] | None:
    """Read a month, with its year or alone: month, year (0: none), where it ends."""
    if at >= len(parts) or parts[at].norm not in MONTHS:
        return None
    year, end = _year(parts, at + 1)
    return MONTHS[parts[at].norm], year, end if year else at + 1


def last_of(year: int, month: int) -> date:
    """Give the last day of a month."""
    return date(year, month, calendar.monthrange(year, month)[1])


def _anew(parts: Sequence[Part], dated: Sequence[Candidate]) -> list[Candidate]:
    """*April eleventh … then the twelfth*, *June seventeenth, sorry, July*: said anew in part."""
    made = []
    taken = {i for c in dated for i in range(c.start, c.end)}
    for i, part in enumerate(parts):
        before = [c for c in dated if c.end <= i] or list(dated)
        if i in taken or not before:
            continue
        last = before[-1].readings[0]
        year = last.value.year if isinstance(last.value, date) else 0
        ahead = parts[i + 1].norm if i + 1 < len(parts) and not part.after else ""
        tens = part.norm in ("twenty", "thirty") and ORDINALS.get(ahead, 99) < 10
        day = _day_number(parts, i) if tens or part.norm in ORDINALS else None
        if day is not None:
            found = _made(i, day[1], (year, last.month, day[0], ANEW))
        elif part.norm in MONTHS and part.norm not in ("may", "march", "mar", "sept"):
            found = _made(i, i + 1, (year, MONTHS[part.norm], last.day, ANEW))
        else:
            continue
        made += [found] if found is not None else []
    return made


def _day_at(parts: Sequence[Part], at: int) -> Candidate | None:
    norm = parts[at].norm
    if (named := _MONTH_DAY.match(norm)) and named[1] in MONTHS:
        return _made(at, at + 1, (_four(named[3]), MONTHS[named[1]], int(named[2]), "as said"))
    if norm[:1].isdecimal() and (typed := _typed(parts, at)) is not None:
        return typed
    for reader in (_named, _month_first, _day_first, _last_day, _figures):
        if (found := reader(parts, at)) is not None:
            return found
    return None


def _made(start: int, end: int, *dates: tuple[int, int, int, str]) -> Candidate | None:
    """Make a candidate of (year or 0, month, day, how), leaving out what is no date."""
    readings = []
    for year, month, day, how in dates:
        try:
            value = date(year or _LONG_FEBRUARY, month, day)
        except ValueError:
            continue
        said = value if year else None
        readings.append(Reading("date", said, None, how, day=day, month=month))
    return Candidate(start, end, tuple(readings)) if readings else None


def _four(year: str) -> int:
    """Give a year of two figures with its century."""
    return int(year) if len(year) == 4 else 2000 + int(year)


def _typed(parts: Sequence[Part], at: int) -> Candidate | None:
    norm = parts[at].norm
    if (found := _DAY_MONTH.match(norm)) and found[2] in MONTHS:
        return _made(at, at + 1, (_four(found[3]), MONTHS[found[2]], int(found[1]), "as said"))
    if found := _ISO.match(norm):
        return _made(at, at + 1, (int(found[1]), int(found[2]), int(found[3]), "as said"))
    end = at + 1
    pieces = [norm]
    while end < len(parts) and end < at + 3 and parts[end].glued:
        pieces.append(parts[end].norm)
        end += 1
    if len(pieces) == 3 and all(piece.isdecimal() for piece in pieces):
        norm = "/".join(pieces)
    else:
        end = at + 1
    if not (found := _DMY.match(norm)):
        return None
    a, b, c = int(found[1]), int(found[2]), int(found[3])
    year = c if c > 99 else 2000 + c
    if not 1990 <= year <= 2099:
        return None
    day_first = (year, b, a, "as said")
    month_first = (year, a, b, "as said")
    if "/" in norm:
        swapped = (*day_first[:3], _MONTH_DOUBT)
        return _made(at, end, month_first, *((swapped,) if a != b else ()))
    swapped = (*month_first[:3], _MONTH_DOUBT)
    return _made(at, end, day_first, *((swapped,) if a != b else ()))


@cache
def _names() -> Mapping[tuple[str, ...], tuple[int, int]]:
    return {tuple(name.split()): tuple(day) for name, day in table("exact")["days"].items()}


def _named(parts: Sequence[Part], at: int) -> Candidate | None:
    for words, (month, day) in _names().items():
        end = at + len(words)
        if tuple(part.norm for part in parts[at:end]) == words:
            year, stop = _year(parts, end)
            return _made(at, stop, (year, month, day, "a named day"))
    return None


def _month(parts: Sequence[Part], i: int) -> int:
    return MONTHS.get(parts[i].norm.strip("."), 0) if i < len(parts) else 0


def _month_first(parts: Sequence[Part], at: int) -> Candidate | None:
    """*July ninth, twenty twenty-six*, *Jan oh nine*; *may* and *march* need a day behind."""
    month = _month(parts, at)
    short = len(parts[at].norm) < 4 or parts[at].norm == "sept"
    if not month or parts[at].after.strip(".," if short else ","):
        return None
    found = _day_number(parts, _skip(parts, at + 1))
    if found is None:
        return None
    day, end = found
    year, end = _year(parts, end)
    return _made(at, end, (year, month, day, "as said"))


def _day_first(parts: Sequence[Part], at: int) -> Candidate | None:
    """*the second of May twenty-six*, *one six February*, *ninth of the fourth, twenty-six*."""
    soft = table("exact")["soft"].get(parts[at].norm)
    found = _day_number(parts, at, whole=True)
    if found is None and soft and parts[at].norm == "too" and _month(parts, at + 1):
        found = int(DIGITS[soft]), at + 1
    if found is None:
        return None
    day, end = found
    k = _skip(parts, end)
    if k - end > 3:
        return None
    if month := _month(parts, k):
        year, stop = _year(parts, k + 1)
        return _made(at, stop, (year, month, day, "as said"))
    month = ORDINALS.get(parts[k].norm, 0) if k < len(parts) else 0
    year, stop = _year(parts, k + 1) if month else (0, 0)
    if 1 <= month <= 12 and year and parts[at].norm in (*ORDINALS, *TENS):
        return _made(at, stop, (year, month, day, "the month by its number"))
    return None


def _last_day(parts: Sequence[Part], at: int) -> Candidate | None:
    """*the last day of February, twenty twenty-six*."""
    if [part.norm for part in parts[at : at + 3]] != ["last", "day", "of"]:
        return None
    month = _month(parts, at + 3)
    year, end = _year(parts, at + 4)
    if not month or not year:
        return None
    return _made(at, end, (year, month, last_of(year, month).day, "the last day"))


def _skip(parts: Sequence[Part], i: int) -> int:
    while i < len(parts) and parts[i].norm in _FILL:
        i += 1
    return i


def _day_number(parts: Sequence[Part], i: int, *, whole: bool = False) -> tuple[int, int] | None:
    """Read a day of the month; `whole` says that nothing of its run may be left over."""
    if i >= len(parts):
        return None
    norm = parts[i].norm
    ahead = parts[i + 1].norm if i + 1 < len(parts) and not parts[i].after else ""
    if found := re.match(r"^(\d{1,2})(st|nd|rd|th)$", norm):
        return _in_month(int(found[1]), i + 1)
    if norm in ("twenty", "thirty") and ORDINALS.get(ahead, 99) < 10:
        return _in_month(int(TENS[norm]) + ORDINALS[ahead], i + 2)
    if norm in ORDINALS:
        return _in_month(ORDINALS[norm], i + 1)
    atoms = _whole_atoms(parts, i)
    if not atoms:
        return None
    first = atoms[0]
    if ahead in ("st", "nd", "rd", "th") and first.end == i + 1:
        return _in_month(int(first.text), i + 2)
    if first.kind == "d" and len(atoms) > 1 and atoms[1].kind == "d":
        both = int(first.text + atoms[1].text)  # "oh nine", "one six"
        if not whole or len(atoms) == 2:
            return _in_month(both, atoms[1].end)
    if whole and len(atoms) > 1:
        return None
    return _in_month(int(first.text), first.end)


def _in_month(day: int, end: int) -> tuple[int, int] | None:
    return (day, end) if 1 <= day <= 31 else None


def _whole_atoms(parts: Sequence[Part], i: int) -> list[Atom]:
    atoms = atoms_at(parts, i)
    return atoms if atoms and atoms[0].text.isdecimal() and atoms[0].kind in "dgf" else []


def _year(parts: Sequence[Part], i: int) -> tuple[int, int]:
    """Read the year at a part: the year (0: none) and where it ends."""
    k = _skip(parts, i)
    atoms = atoms_at(parts, k) if k < len(parts) else []
    if not atoms or any(not atom.text.isdecimal() for atom in atoms[:2]):
        return 0, i
    return _broken_year(parts, atoms) or _whole_year(atoms) or (0, i)


def _whole_year(atoms: Sequence[Atom]) -> tuple[int, int] | None:
    first = atoms[0]
    if first.kind in "cf" and 1990 <= int(first.text) <= 2099:
        return int(first.text), first.end
    if first.text == "20" and len(atoms) > 1 and atoms[1].kind in "g" and len(atoms[1].text) == 2:
        return 2000 + int(atoms[1].text), atoms[1].end
    if first.text == "20" and len(atoms) > 2 and atoms[1].text == "0":
        return 2000 + int(atoms[2].text), atoms[2].end
    digits = ""
    for n, atom in enumerate(atoms[:4]):
        if atom.kind != "d":
            break
        digits += atom.text
        if n == 3 and digits.startswith("20"):
            return int(digits), atom.end
    if len(digits) == 2 and len(atoms) == 2 and 20 <= int(digits) <= 60:
        return 2000 + int(digits), atoms[1].end
    if first.kind in "gf" and len(first.text) == 2 and 20 <= int(first.text) <= 60:
        return 2000 + int(first.text), first.end
    return None


def _broken_year(parts: Sequence[Part], atoms: Sequence[Atom]) -> tuple[int, int] | None:
    """*twenty, twenty-six*, *twenty, twenty, six*, *2020, 6*: models put commas into a year.

    Not before a unit: *twenty twenty, six quarts*.
    """
    run = list(atoms)
    while len(run) < 3 and parts[run[-1].end - 1].after == "," and run[-1].end < len(parts):
        more = atoms_at(parts, run[-1].end)
        if not more:
            break
        run += more
    texts = [atom.text for atom in run[:3]]
    if len(run) == len(atoms) or unit_here(parts, run[min(len(run), 3) - 1].end) is not None:
        return None
    if texts[0] == "20" and len(texts) > 1 and texts[1][:1] == "2" and len(texts[1]) == 2:
        if texts[1] == "20" and len(texts) == 3 and len(texts[2]) == 1:
            return 2020 + int(texts[2]), run[2].end
        return 2000 + int(texts[1]), run[1].end
    if texts[0] == "2020" and len(texts) == 2 and len(texts[1]) == 1:
        return 2020 + int(texts[1]), run[1].end
    return None


def _figures(parts: Sequence[Part], at: int) -> Candidate | None:
    """*twenty-six, eight, five*, *five twenty-eight twenty twenty-six*: three figures in a row."""
    atoms: list[Atom] = []
    k = at
    while k < len(parts) and len(atoms) < 8:
        more = _whole_atoms(parts, k)
        if not more or not all(atom.text.isdecimal() for atom in more):
            break  # "five twenty-eight twenty point six" is no day
        atoms += more
        k = more[-1].end
        if parts[k - 1].after.strip(","):
            break
    if at and atoms_at(parts, at - 1) and not parts[at - 1].after:
        return None
    return _year_first(parts, at, atoms) or _year_last(at, atoms)


def _year_first(parts: Sequence[Part], at: int, atoms: Sequence[Atom]) -> Candidate | None:
    digits = "".join(atom.text for atom in atoms[:4] if atom.kind in "dg")
    year, stop = 0, at
    if digits.startswith("20"):
        year, stop = _year(parts, at)
    elif len(atoms) == 3 and 24 <= int(atoms[0].text) <= 40 and parts[at].glued is False:
        comma = all(parts[atom.end - 1].after == "," for atom in atoms[:2])
        year, stop = (2000 + int(atoms[0].text), atoms[0].end) if comma else (0, at)
    rest = [atom for atom in atoms if atom.start >= stop]
    if not year or not 2 <= len(rest) <= 4:
        return None
    text = "".join(atom.text for atom in rest)
    if len(rest) == 2:
        month, day = int(rest[0].text), int(rest[1].text)
    elif len(text) == 4:
        month, day = int(text[:2]), int(text[2:])
    elif rest[0].text == "0":
        month, day = int(rest[1].text), int("".join(a.text for a in rest[2:]) or "0")
    else:
        return None
    return _made(at, rest[-1].end, (year, month, day, "year first"))


def _year_last(at: int, atoms: Sequence[Atom]) -> Candidate | None:
    """Read month, day and a year that begins with twenty; both orders where both can be."""
    if len(atoms) < 4 or len(atoms[-1].text) != 2:
        return None
    year = 2000 + int(atoms[-1].text)
    short = [atom.text == "0" for atom in atoms] == [True, False, True, False, False]
    if atoms[-2].text != "20" and not short:  # "oh three oh nine twenty-six"
        return None
    rest = [atom for atom in atoms[: -1 if short else -2] if atom.text != "0"]
    if len(rest) != 2 or not 2020 <= year <= 2060:
        return None
    a, b = int(rest[0].text), int(rest[1].text)
    orders = [(year, a, b, "month first"), (year, b, a, "day first")]
    return _made(at, atoms[-1].end, *(orders if a != b else orders[:1]))
