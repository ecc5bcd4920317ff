"""A day, or meter hours, by which something is due again, as it is said right behind the cue."""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from extract.exact.days import last_of, month_at
from extract.exact.reading import Candidate, Reading
from extract.values.catalogue import Field
from extract.values.draft import Alternative
from extract.words.lists import table
from extract.words.parts import Part

_WHOLE_MONTH = "no day was said: taken as the last of that month"
_NO_YEAR = "no year was said: taken as the first one that comes"
_OTHERWISE = "the words can be read so as well"


@dataclass(frozen=True, slots=True)
class Until:
    """A day or hours (h), said in the parts from `start` up to `end`; `no_year`: none was said."""

    value: date | Decimal
    start: int
    end: int
    doubts: tuple[str, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    no_year: bool = False


def until(
    parts: Sequence[Part],
    at: int,
    stop: int,
    found: Sequence[Candidate],
    hours: Field,
    year: int | None,
    *,
    firm: bool = False,
) -> Until | None:
    """Read the day or the hours that begin at a part; `year` is that of the memo, or None.

    `firm` says that a month alone, or hours, are such, whatever stands before them.

    Days come before hours: *June twenty twenty-nine* is no number. Of two ways to read a day that
    nothing tells apart the earlier one is taken, which errs to the safe side.
    """
    here = [c for c in found if c.start == at and c.end <= stop]
    days = sorted((c for c in here if "date" in c.kinds), key=lambda c: -c.end)
    said = month_at(parts, at)
    if said is None:
        return _day(days[0], None, year) if days else _hours(parts, at, stop, here, hours, firm)
    month, its_year, end = said
    last = last_of(its_year, month) if its_year else None
    if last is not None and not (days and _is_day(days[0], end)):
        return _month(at, end, last, days)
    if days:
        return _day(days[0], last if days[0].end == end else None, year)
    return _month_alone(parts, at, month, year, firm)


def _is_day(said: Candidate, end: int) -> bool:
    """*June twenty-nine* may be a day as well as a month of a year: the day is the earlier."""
    return said.end > end or (said.end == end and said.readings[0].value is None)


def coming(value: date, on: date) -> date:
    """Give the first such day not before `on`; the last of a month stays the last."""
    return value if value >= on else _in_year(value, value.year + 1)


def _in_year(value: date, year: int) -> date:
    length = calendar.monthrange(value.year, value.month)[1]
    last = calendar.monthrange(year, value.month)[1]
    return date(year, value.month, last if value.day == length else min(value.day, last))


def _month(at: int, end: int, value: date, days: Sequence[Candidate]) -> Until:
    others = [r.value for c in days for r in c.readings if isinstance(r.value, date)]
    beside = tuple(Alternative(v, 0.1, _OTHERWISE) for v in dict.fromkeys(others))
    return Until(value, at, end, (_WHOLE_MONTH,), beside)


def _day(said: Candidate, other: date | None, year: int | None) -> Until | None:
    reading = next(r for r in said.readings if r.kind == "date")
    value = _dated(reading, year)
    if value is None:
        return None
    beside = (Alternative(other, 0.4, _OTHERWISE),) if other else ()
    if isinstance(reading.value, date):
        return Until(value, said.start, said.end, (), beside)
    return Until(value, said.start, said.end, (_NO_YEAR,), beside, no_year=True)


def _dated(reading: Reading, year: int | None) -> date | None:
    if isinstance(reading.value, date):
        return reading.value
    try:
        return date(year, reading.month, reading.day) if year else None
    except ValueError:
        return None


def _month_alone(
    parts: Sequence[Part], at: int, month: int, year: int | None, firm: bool
) -> Until | None:
    firm = firm or (bool(at) and parts[at - 1].norm in table("recurring")["month_behind"])
    if not firm or year is None:
        return None
    value = last_of(year, month)
    after = Alternative(last_of(year + 1, month), 0.2, "no year was said")
    return Until(value, at, at + 1, (_WHOLE_MONTH, _NO_YEAR), (after,), no_year=True)


def _hours(
    parts: Sequence[Part], at: int, stop: int, here: Sequence[Candidate], hours: Field, firm: bool
) -> Until | None:
    words = table("recurring")
    before = parts[at - 1].norm if at else ""
    metered = before in words["meters"]
    if not (metered or firm) and before not in words["hours_behind"]:
        return None
    numbers = sorted((c for c in here if "number" in c.kinds), key=lambda c: -c.end)
    for one in numbers:
        fit = [r for r in one.readings if r.kind == "number" and r.over is None]
        fit = [r for r in fit if (r.unit.name == hours.unit if r.unit else metered)]
        behind = parts[one.end].norm if one.end < stop else ""
        values = [r.value for r in fit if isinstance(r.value, Decimal)]
        values = [v for v in dict.fromkeys(values) if hours.plausible(v)]
        if not values or behind in words["stretch"]:
            return None
        beside = tuple(Alternative(v, 0.2, _OTHERWISE) for v in values[1:])
        return Until(values[0], one.start, one.end, (), beside)
    return None
