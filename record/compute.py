"""Sums over confirmed values: hours, oil used, additive, calendar months. Pure, of Decimals.

A reading has a resolution, so what is reckoned from it has an interval, and the interval is given.
"""

from __future__ import annotations

import calendar
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from statistics import median

from capture.errors import InputError
from extract.values.units import US, Units, convert, tidy
from record.rules import rules

NO_END = Decimal("Infinity")


@dataclass(frozen=True, slots=True)
class Interval:
    """A figure and how far it may be off, `low` to `high`; infinite where it has no end."""

    low: Decimal
    value: Decimal
    high: Decimal

    def show(self, unit: str, places: int = 2) -> str:
        """Give `0.10 qt/h (0.07 to 0.13)`; an infinite value or end is said in words.

        No bound is rounded past itself: the lower one goes down, the upper one up.
        """
        step = Decimal(1).scaleb(-places)
        low = self.low.quantize(step, ROUND_FLOOR)
        if not self.value.is_finite():
            bare = f"{low:f}".rstrip("0").rstrip(".") if "." in f"{low:f}" else f"{low:f}"
            return f"more than {bare} {unit}"
        high = "no upper end"
        if self.high.is_finite():
            high = f"{self.high.quantize(step, ROUND_CEILING):f}"
        return f"{self.value:.{places}f} {unit} ({low:f} to {high})"


def in_units(interval: Interval, unit: str, units: Units) -> Interval:
    """Give an interval in the owner's unit, not rounded."""
    ends = (interval.low, interval.value, interval.high)
    return Interval(*(units.value(v, unit) if v.is_finite() else v for v in ends))


@dataclass(frozen=True, slots=True)
class Consumption:
    """Oil used between two changes: quarts, quarts an hour, hours a quart.

    Used is what is gone from the sump: burnt, leaked or blown out, which a dipstick cannot tell
    apart. `hours` are of the meter that the log is kept by. `used` may be below nothing, when the
    level rose without a top-up on record; where all of its span is, there is no rate: `per_hour`
    and `per_quart` are None. `notes` say in sentences what a person should know or ask.
    """

    hours: Interval
    used: Interval
    per_hour: Interval | None
    per_quart: Interval | None
    notes: tuple[str, ...] = ()


def hours_between(then: Decimal, now: Decimal) -> Interval:
    """Give the hours between two readings of one meter, in h.

    hours = now - then. Each reading is the tenth already passed, so either may lack up to one tenth
    and the difference lies within one tenth either way (common practice with no source).
    Raises `InputError` where the meter went backwards.
    """
    if now < then:
        raise InputError(
            f"the meter reads {now} now and read {then} before",
            todo="amend the one that is wrong; a new meter is stated with `cowlnote meter`",
        )
    step = rules()["tach"]["resolution_h"]
    return Interval(max(Decimal(0), now - then - step), now - then, now - then + step)


def consumption(
    level_after: Decimal,
    level_before: Decimal,
    hours: Interval,
    added: Iterable[Decimal] = (),
    *,
    resolution: Decimal | None = None,
    limit: Decimal | None = None,
    units: Units = US,
) -> Consumption:
    """Give the oil used since the last change, over `hours`.

    used = level after the last change + what was topped up since - level before this one, in qt;
    quarts an hour = used / hours, hours a quart = hours / used. A dipstick read to `resolution`
    (qt; a quarter unless told) is off by half of it at most, so the difference of two is off by the
    whole. Top-ups are taken as measured. `limit` is the owner's, from the maker's papers, in qt/h;
    `units` are those that the notes are in.
    Raises `InputError` over no more than a tenth of an hour.
    """
    step = rules()["dipstick"]["resolution_qt"] if resolution is None else resolution
    value = level_after + sum(added, Decimal(0)) - level_before
    used = Interval(value - step, value, value + step)
    if not hours.low:
        raise InputError(
            "no more than a tenth of an hour lies between the two readings of the meter",
            todo="take a later reading: nothing can be said about consumption over so little",
        )
    if used.high <= 0:
        more = "more oil than before, and no top-up on record: was one missed, or a level misread?"
        said = (more,) if used.high < 0 else _within(value, step, units)
        return Consumption(hours, used, None, None, said)
    nothing = Decimal(0)
    rate = Interval(
        max(nothing, used.low) / hours.high,
        max(nothing, used.value) / hours.value,
        used.high / hours.low,
    )
    notes = (*_within(value, step, units), *_limit(rate, limit, units))
    return Consumption(hours, used, rate, _per_quart(hours, used), notes)


def _per_quart(hours: Interval, used: Interval) -> Interval:
    low = hours.low / used.high
    value = hours.value / used.value if used.value > 0 else NO_END
    return Interval(low, value, hours.high / used.low if used.low > 0 else NO_END)


def _within(used: Decimal, step: Decimal, units: Units) -> tuple[str, ...]:
    if used > step:
        return ()
    to = units.show(step, "qt")
    return (f"the difference is within what a dipstick read to {to} can tell",)


def _limit(rate: Interval, limit: Decimal | None, units: Units) -> tuple[str, ...]:
    """Ask about the rate against the owner's limit, or where there is none against the rule."""
    if limit is None:
        ask = rules()["consumption"]
        if rate.value < ask["ask_qt_per_h"]:
            return ()
        return (f"about a quart an hour or more: ask a mechanic ({ask['source']})",)
    by = f"the profile's limit of {units.show(tidy(limit), 'qt')}/h"
    if rate.value > limit:
        sure = "" if rate.low > limit else ", as far as the dipstick can tell"
        return (f"over {by}{sure}: ask a mechanic",)
    return (f"perhaps over {by}: the span reaches past it",) if rate.high > limit else ()


def changed(now: Consumption, earlier: Sequence[Consumption], units: Units = US) -> str:
    """Ask about oil use that is not what this engine's was; empty where there is nothing to ask.

    Asked when the rate is at least twice, or at most half, the median of the earlier ones, and its
    span does not meet any of theirs, so that the dipstick alone cannot have made it. Two earlier
    rates are needed (the project's own rule: `rules.toml`).
    """
    rule = rules()["consumption_change"]
    before = [one.per_hour for one in earlier if one.per_hour is not None]
    rate = now.per_hour
    if rate is None or len(before) < rule["earlier_min"]:
        return ""
    usual = median(one.value for one in before)
    now_, was = (units.value(value, "qt") for value in (rate.value, usual))
    told = (
        f"{now_:.3f} {units.own('qt')}/h, against a median of {was:.3f} over {len(before)} before"
    )
    if rate.value >= rule["times"] * usual and rate.low > max(one.high for one in before):
        return f"the engine used more oil than it did: {told}; look for leaks and ask a mechanic"
    if rate.value * rule["times"] <= usual and rate.high < min(one.low for one in before):
        return f"the engine used less oil than it did: {told}; was a level misread?"
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


def add_months(day: date, months: int) -> date:
    """Give the same day `months` later, or the last day of that month where it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))
