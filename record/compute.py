"""Sums over confirmed values: hours, oil burnt, additive, what is due. Pure functions of Decimals.

A reading has a resolution, so what is reckoned from it has an interval, and the interval is given.
"""

from __future__ import annotations

import calendar
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from capture.errors import InputError
from extract.values.units import convert, tidy
from record.rules import rules

NO_END = Decimal("Infinity")


@dataclass(frozen=True, slots=True)
class Interval:
    """A figure and how far it may be off, `low` to `high`; infinite where it has no end."""

    low: Decimal
    value: Decimal
    high: Decimal

    def show(self, unit: str, places: int = 2) -> str:
        """Give `0.10 qt/h (0.07 to 0.13)`; an infinite value or end is said in words."""
        low = f"{self.low:.{places}f}"
        if not self.value.is_finite():
            return f"more than {low} {unit}"
        high = f"{self.high:.{places}f}" if self.high.is_finite() else "no upper end"
        return f"{self.value:.{places}f} {unit} ({low} to {high})"


@dataclass(frozen=True, slots=True)
class Consumption:
    """Oil burnt between two changes: quarts, quarts an hour, hours a quart.

    `hours` are of tach time.
    `note` says in a sentence what a person should know about the figure; empty where there is
    nothing to say. `burnt.value` may be below nothing, when the level rose without a top-up on
    record.
    """

    hours: Interval
    burnt: Interval
    per_hour: Interval
    per_quart: Interval
    note: str = ""


@dataclass(frozen=True, slots=True)
class Due:
    """When the next oil change is due, by tach and by calendar, and how far that is.

    `hours_left` and `days_left` are negative when past. `by_use` is the day on which the tach would
    get there at the rate of use so far, None where that is not known. `first` is `tach`, `calendar`
    or `unknown`: which of the two comes first.
    """

    tach: Decimal | None
    day: date | None
    hours_left: Decimal | None
    days_left: int | None
    by_use: date | None
    first: str

    @property
    def past(self) -> bool:
        """Say whether either limit is behind."""
        late_h = self.hours_left is not None and self.hours_left < 0
        return late_h or (self.days_left is not None and self.days_left < 0)


def hours_between(then: Decimal, now: Decimal) -> Interval:
    """Give the hours between two readings of one meter, in h.

    hours = now - then. Each reading is the tenth already passed, so either may lack up to one tenth
    and the difference lies within one tenth either way (common practice with no source).
    Raises `InputError` where the meter went backwards.
    """
    if now < then:
        raise InputError(
            f"the meter reads {now} now and read {then} before",
            todo="amend the one that is wrong; if the meter was changed, start a new count",
        )
    step = rules()["tach"]["resolution_h"]
    return Interval(max(Decimal(0), now - then - step), now - then, now - then + step)


def consumption(
    level_after: Decimal,
    level_before: Decimal,
    then: Decimal,
    now: Decimal,
    added: Iterable[Decimal] = (),
    *,
    resolution: Decimal | None = None,
) -> Consumption:
    """Give the oil burnt since the last change.

    burnt = level after the last change + what was topped up since - level before this one, in qt;
    quarts an hour = burnt / hours, hours a quart = hours / burnt. `then` and `now` are tach hours.
    A dipstick read to `resolution` (qt; a quarter unless told) is off by half of it at most, so the
    difference of two is off by the whole. Top-ups are taken as measured.
    """
    step = rules()["dipstick"]["resolution_qt"] if resolution is None else resolution
    hours = hours_between(then, now)
    value = level_after + sum(added, Decimal(0)) - level_before
    burnt = Interval(max(Decimal(0), value - step), value, max(Decimal(0), value + step))
    if not hours.low:
        raise InputError(
            f"no more than a tenth of an hour lies between {then} and {now} on the meter",
            todo="take a later reading: nothing can be said about consumption over so little",
        )
    rate = value / hours.value
    per_hour = Interval(burnt.low / hours.high, rate, burnt.high / hours.low)
    return Consumption(hours, burnt, per_hour, _per_quart(hours, burnt), _note(value, step, rate))


def _per_quart(hours: Interval, burnt: Interval) -> Interval:
    low = hours.low / burnt.high if burnt.high > 0 else NO_END
    value = hours.value / burnt.value if burnt.value > 0 else NO_END
    return Interval(low, value, hours.high / burnt.low if burnt.low > 0 else NO_END)


def _note(burnt: Decimal, step: Decimal, rate: Decimal) -> str:
    if burnt < -step:
        return "more oil than before, and no top-up on record: was one missed, or a level misread?"
    if burnt <= step:
        return f"the difference is within what a dipstick read to {tidy(step)} qt can tell"
    ask = rules()["consumption"]
    if rate >= ask["ask_qt_per_h"]:
        return f"about a quart an hour or more: ask a mechanic ({ask['source']})"
    return ""


def additive_for(oil: Decimal, per_qt: Decimal | None = None) -> Decimal:
    """Give the additive, in US fl oz, for `oil` quarts at `per_qt` fl oz to the quart.

    additive = oil * ratio; one pint to ten quarts, which is 1.6 fl oz to the quart, unless told
    (common practice, from memory: the label comes first). 6 qt at that ratio is 9.6 fl oz: NIST
    Handbook 44, Appendix C, for the units.
    """
    if per_qt is None:
        rule = rules()["additive"]
        per_qt = convert(Decimal(rule["additive_pt"]), "pt", "fl oz") / rule["oil_qt"]
    return tidy(oil * per_qt)


def next_due(
    last_tach: Decimal | None,
    last_day: date | None,
    *,
    now_tach: Decimal | None,
    today: date,
    hours: Decimal | None = None,
    months: int | None = None,
    hours_a_day: Decimal | None = None,
) -> Due:
    """Say when the next oil change is due: `hours` after `last_tach` or `months` after `last_day`.

    Whichever comes first. 50 h and 4 months unless the profile says otherwise (common practice with
    a full-flow filter; 25 h with a screen only; the maker's figure comes first). A month ends on
    its last day where the day does not exist. `hours_a_day` is the use so far, for `by_use` only.
    """
    rule = rules()["oil_interval"]
    every = Decimal(rule["filter_h"]) if hours is None else hours
    tach = None if last_tach is None else last_tach + every
    day = (
        None
        if last_day is None
        else add_months(last_day, rule["months"] if months is None else months)
    )
    hours_left = None if tach is None or now_tach is None else tach - now_tach
    days_left = None if day is None else (day - today).days
    by_use = None
    if hours_left is not None and hours_a_day is not None and hours_a_day > 0:
        by_use = today + timedelta(days=int(hours_left / hours_a_day))
    return Due(tach, day, hours_left, days_left, by_use, _first(hours_left, days_left, by_use, day))


def _first(
    hours_left: Decimal | None, days_left: int | None, by_use: date | None, day: date | None
) -> str:
    late_h, late_d = (
        hours_left is not None and hours_left < 0,
        days_left is not None and days_left < 0,
    )
    if late_h != late_d:
        return "tach" if late_h else "calendar"
    if by_use is not None and day is not None:
        return "tach" if by_use <= day else "calendar"
    if (hours_left is None) == (days_left is None):
        return "unknown"
    return "calendar" if hours_left is None else "tach"


def add_months(day: date, months: int) -> date:
    """Give the same day `months` later, or the last day of that month where it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))
