"""Dates as people say them, in words and in figures."""

from __future__ import annotations

import calendar
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from extract.exact.digits import Number, whole
from extract.words.lists import MONTHS, ORDINALS, TENS
from extract.words.parts import Part


@dataclass(frozen=True, slots=True)
class Day:
    """A date in the parts from `start` up to `end`.

    One said without its year has `value` None and `day`, `month`. `doubts` are short sentences.
    """

    start: int
    end: int
    value: date | None
    day: int
    month: int
    doubts: tuple[str, ...] = ()


def date_at(parts: Sequence[Part], at: int) -> Day | None:
    """Read the date that begins at a part, or None."""
    norm = parts[at].norm
    if re.match(r"^(19|20)\d\d-\d\d-\d\d$", norm):
        return _made_date(at, at + 1, int(norm[:4]), int(norm[5:7]), int(norm[8:]))
    slashed = [part.norm for part in parts[at : at + 3]]
    glued = len(slashed) == 3 and all(part.glued for part in parts[at + 1 : at + 3])
    if glued and all(piece.isdecimal() for piece in slashed):
        return _all_figures(at, *map(int, slashed))
    if norm in MONTHS:
        return _month_first(parts, at)
    if iso := _spoken_iso(parts, at):
        return iso
    if figures := _spoken_figures(parts, at):
        return figures
    return _day_first(parts, at)


def month_at(parts: Sequence[Part], at: int) -> Day | None:
    """Read a month with its year, or alone, as its last day; None where no month stands.

    *June twenty twenty-nine* is 30 June 2029. A month alone has no `value` and the `day` 0.
    """
    month = MONTHS.get(parts[at].norm) if at < len(parts) else None
    if month is None:
        return None
    year, end, doubt = _year(parts, at + 1)
    if not year:
        return Day(at, at + 1, None, 0, month)
    day = calendar.monthrange(year, month)[1]
    doubts = (doubt,) if doubt else ()
    return Day(at, end, date(year, month, day), day, month, doubts)


def _month_first(parts: Sequence[Part], at: int) -> Day | None:
    i = at + 1
    if i < len(parts) and parts[i].norm == "the":
        i += 1
    day = _day(parts, i)
    if day is None:
        return None
    year, end, doubt = _year(parts, day[1])
    return _made_date(at, end, year, MONTHS[parts[at].norm], day[0], doubt)


def _day_first(parts: Sequence[Part], at: int) -> Day | None:
    day = _day(parts, at)
    if day is None:
        return None
    i = day[1]
    if i < len(parts) and parts[i].norm == "of":
        i += 1
    if i < len(parts) and [p.norm for p in parts[i - 1 : i + 1]] == ["of", "the"]:
        return _month_counted(parts, at, i + 1, day[0])
    if i >= len(parts) or parts[i].norm not in MONTHS or parts[i - 1].after:
        return None
    year, end, doubt = _year(parts, i + 1)
    return _made_date(at, end, year, MONTHS[parts[i].norm], day[0], doubt)


def _month_counted(parts: Sequence[Part], at: int, i: int, day: int) -> Day | None:
    """*the ninth of the fourth, twenty twenty-six*: the month by its number, and a year behind."""
    month = ORDINALS.get(parts[i].norm, 0) if i < len(parts) else 0
    year, end, doubt = _year(parts, i + 1)
    if not 1 <= month <= 12 or not year:
        return None
    return _made_date(at, end, year, month, day, doubt or "the month was said as a number")


def _day(parts: Sequence[Part], i: int) -> tuple[int, int] | None:
    """Read a day of the month: *fourteenth*, *twenty first*, *14th*, *14*, *fourteen*."""
    if i >= len(parts):
        return None
    norm = parts[i].norm
    following = parts[i + 1].norm if i + 1 < len(parts) and not parts[i].after else ""
    if norm.isdecimal() and 1 <= int(norm) <= 31:
        return int(norm), i + 2 if following in ("th", "st", "nd", "rd") else i + 1
    if found := re.match(r"^(\d{1,2})(st|nd|rd|th)$", norm):
        return int(found[1]), i + 1
    if norm in ("twenty", "thirty") and following in ORDINALS and ORDINALS[following] < 10:
        return int(TENS[norm]) + ORDINALS[following], i + 2
    if norm in ORDINALS:
        return ORDINALS[norm], i + 1
    number = whole(parts, i)
    if number is None or number.start != i or not number.pieces:
        return None
    first = number.pieces[0][1]
    if number.style in ("cardinal", "groups") and first.isdecimal() and 1 <= int(first) <= 31:
        end = number.pieces[1][0] if len(number.pieces) > 1 else number.end
        return int(first), end
    return None


def _year(parts: Sequence[Part], i: int) -> tuple[int, int, str]:
    """Read the year at part `i`: the year (0: none), where it ends, a doubt."""
    start = i
    while i < len(parts) and parts[i].norm in ("of", "in", "year", "the"):
        i += 1
    number = whole(parts, i) if i < len(parts) else None
    if number is None:
        return 0, start, ""
    if 1990 <= number.value <= 2099 and number.value == int(number.value):
        return int(number.value), number.end, ""
    if number.style == "cardinal" and 20 <= number.value <= 60 and parts[i - 1].after in ("", ","):
        ends = number.end >= len(parts) or bool(parts[number.end - 1].after)
        if ends:
            return 2000 + int(number.value), number.end, "only two figures of the year were said"
    return 0, start, ""


def _spoken_iso(parts: Sequence[Part], at: int) -> Day | None:
    """*two zero two six, zero four, one eight*: year, month and day in figures."""
    found: list[Number] = []
    i = at
    while len(found) < 3 and i < len(parts):
        number = whole(parts, i)
        if number is None or "." in number.digits:
            return None
        found.append(number)
        i = number.end
    if len(found) < 3 or [len(n.digits) for n in found] != [4, 2, 2]:
        return None
    year, month, day = (int(n.digits) for n in found)
    if not 2000 <= year <= 2060 or not 1 <= month <= 12 or not 1 <= day <= 31:
        return None
    return _made_date(at, i, year, month, day)


def _spoken_figures(parts: Sequence[Part], at: int) -> Day | None:
    """*five twenty-eight twenty twenty-six*: month, day and year in figures, spoken."""
    number = whole(parts, at)
    if number is None or number.style != "groups" or len(number.pieces) != 4:
        return None
    first, second, century, year = (int(text) for _, text in number.pieces)
    before = [part.norm for part in parts[max(0, at - 2) : at]]
    if (
        century != 20
        or not 20 <= year <= 60
        or not set(before) & {"is", "date", "today", "on", "dated"}
    ):
        return None
    made = _all_figures(at, first, second, 2000 + year)
    return None if made is None else replace(made, end=number.end)


def _all_figures(at: int, a: int, b: int, c: int) -> Day | None:
    year = c if c > 99 else 2000 + c
    if a > 12:
        return _made_date(at, at + 3, year, b, a)
    doubt = "" if b > 12 or a == b else "day and month could be the other way round"
    return _made_date(at, at + 3, year, a, b, doubt)


def _made_date(at: int, end: int, year: int, month: int, day: int, doubt: str = "") -> Day | None:
    doubts = (doubt,) if doubt else ()
    try:
        value = date(year or 2024, month, day)
    except ValueError:
        return None
    return Day(at, end, value if year else None, day, month, doubts)
