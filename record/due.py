"""When the next oil change is due, by the meter and by the calendar. Pure functions of services."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from record.compute import add_months
from record.history import figure, in_order, is_filter_change, is_oil_change, not_counted
from record.meters import Count, Read, count_of, of_start, reads
from record.rules import rules
from record.service import Service
from record.terms import Meter, Terms

FAR = 36_500  # days; a use so slow that the limit lies further off says nothing


@dataclass(frozen=True, slots=True)
class Due:
    """When something is due, by a meter and by the calendar, and how far that is.

    `meter` is the one that the hours are of and `reading` what it will read then, in h.
    `hours_left` and `days_left` are negative when past. `by_use` is the day on which the meter gets
    there at the rate of use so far, counted from the day of the last reading. `first` is the
    meter's name, `calendar` or `unknown`; `why` says in sentences what is not known, `doubts` what
    does not fit together. `soon` says that it lies within the owner's margin.
    """

    what: str
    meter: Meter
    reading: Decimal | None
    day: date | None
    hours_left: Decimal | None
    days_left: int | None
    by_use: date | None
    first: str
    why: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    soon: bool = False

    @property
    def past(self) -> bool:
        """Say whether either limit is behind."""
        late_h = self.hours_left is not None and self.hours_left < 0
        return late_h or (self.days_left is not None and self.days_left < 0)


@dataclass(frozen=True, slots=True)
class Now:
    """Where the meter stands: carried on past its changes, the day it was read, the use so far.

    `hours` and `on` are None, with the reason in `why`, where no reading can be trusted; `a_day` is
    the use in h a day, None where that is not known.
    """

    hours: Decimal | None
    on: date | None
    a_day: Decimal | None
    why: str = ""
    doubts: tuple[str, ...] = ()


def due(
    services: Iterable[Service],
    today: date,
    *,
    terms: Terms = Terms(),
    reading: Decimal | None = None,
) -> Due:
    """Say when the next oil change is due, from the last one in the record or from the profile.

    `reading` is what the meter of the log reads today; without it the newest confirmed one serves,
    with its own day. Services of a later day than `today` are left out, and named in a doubt.
    """
    kept, late = until(services, today)
    count = count_of(kept, terms)
    ordered = in_order(kept, count)
    changes = [s for s in ordered if is_oil_change(s)]
    read, day, filtered = of_start(count.meter, terms.start), terms.start.day, True
    carried = None if read is None else count.carried(read, day or date.min)
    if changes:
        last = changes[-1]
        read, day = figure(last, count.meter.field), last.on
        carried = None if read is None else count.carried(read, day)
        ordered = ordered[ordered.index(last) :]
        filtered = any(is_filter_change(s) for s in ordered)
    late += tuple(
        f"job {s.job.id}, {s.on or 'no date'}: {aside}"
        for s in ordered
        for aside in (not_counted(s, terms.units),)
        if aside
    )
    hours, why = terms.interval(filtered=filtered)
    months = terms.months or rules()["oil_interval"]["months"]
    now = now_of(kept, count, terms, today, reading)
    told = (*((f"the interval is {why}",) if why else ()), *_unknown(count.meter, carried, day))
    if not changes and carried is not None:
        told += ("the last change is that of the profile, and is taken to have had a new filter",)
    return set_against(
        "oil change",
        count,
        None if carried is None else carried + hours,
        None if day is None else add_months(day, months),
        now,
        today,
        terms=terms,
        why=told,
        doubts=late,
    )


def until(services: Iterable[Service], today: date) -> tuple[list[Service], tuple[str, ...]]:
    """Give the services up to a day, and a doubt for each that is dated later."""
    kept: list[Service] = []
    late: list[Service] = []
    for service in services:
        later = service.on is not None and service.on > today
        (late if later else kept).append(service)
    return kept, tuple(
        f"job {s.job.id} is dated {s.on}, later than {today}: left out" for s in late
    )


def _unknown(meter: Meter, carried: Decimal | None, day: date | None) -> tuple[str, ...]:
    said = []
    if carried is None and day is not None:
        said.append(f"no {meter.name} time is confirmed for the last oil change")
    if day is None and carried is not None:
        said.append("no date is known for the last oil change")
    return tuple(said)


def now_of(
    services: Sequence[Service],
    count: Count,
    terms: Terms,
    today: date,
    reading: Decimal | None = None,
) -> Now:
    """Give where the meter stands, by today's reading or the newest confirmed one, or why not."""
    known = reads(services, count)
    start = of_start(count.meter, terms.start)
    if start is not None:
        first = Read(terms.start.day or date.min, 0, start, start)
        known = [first, *known]
    a_day = _use(known)
    newest = known[-1] if known else None
    highest = max(known, key=lambda r: r.carried, default=None)
    if reading is not None:
        carried = count.carried(reading, today)
        if highest is not None and carried < highest.carried:
            return Now(None, None, a_day, _lower(count.meter, reading, highest))
        return Now(carried, today, a_day, doubts=_too_fast(count.meter, carried, newest, today))
    if newest is None or highest is None:
        return Now(None, None, None, f"no {count.meter.name} reading to set against it")
    if newest.carried < highest.carried:
        return Now(None, None, None, _lower(count.meter, newest.reading, highest))
    on = None if newest.on == date.min else newest.on
    return Now(newest.carried, on, a_day)


def _lower(meter: Meter, reading: Decimal, highest: Read) -> str:
    on = "" if highest.on == date.min else f" on {highest.on}"
    return (
        f"the {meter.name} reads {reading} h and read {highest.reading} h{on}: one of the two is "
        "wrong, or the meter was changed (state that with `cowlnote meter`)"
    )


def _too_fast(meter: Meter, now: Decimal, newest: Read | None, today: date) -> tuple[str, ...]:
    if newest is None or newest.on == date.min:
        return ()
    # both are whole days, so that up to one day more may have passed
    most = ((today - newest.on).days + 1) * 24 * meter.fastest
    if now - newest.carried <= most:
        return ()
    return (
        f"{now - newest.carried} h since the reading of {newest.on} is more than the {meter.name} "
        "can count in that time: look at it again",
    )


def _use(known: Sequence[Read]) -> Decimal | None:
    dated = [r for r in known if r.on != date.min]
    if len(dated) < 2 or (days := (dated[-1].on - dated[0].on).days) <= 0:
        return None
    used = dated[-1].carried - dated[0].carried
    return used / days if used > 0 else None


def set_against(
    what: str,
    count: Count,
    limit: Decimal | None,
    day: date | None,
    now: Now,
    today: date,
    *,
    terms: Terms = Terms(),
    why: tuple[str, ...] = (),
    doubts: tuple[str, ...] = (),
    alone: bool = False,
) -> Due:
    """Set a limit in hours (carried on) and a day against where meter and calendar stand.

    With `alone`, a thing may be due by only one of the two, which then comes first.
    """
    hours_left = None if limit is None or now.hours is None else limit - now.hours
    days_left = None if day is None else (day - today).days
    by_use = None
    if hours_left is not None and now.on is not None and now.a_day:
        days = hours_left / now.a_day
        by_use = now.on + timedelta(days=int(days // 1)) if abs(days) < FAR else None
    reasons = why
    if limit is not None and now.hours is None:
        reasons = (*why, now.why)
    first, because = _first(count.meter, hours_left, days_left, by_use, day)
    if alone and not reasons and (limit is None) != (day is None):
        first = "calendar" if limit is None else count.meter.name
    if limit is not None and day is not None and because and not reasons:
        reasons = (because,)
    past = (hours_left is not None and hours_left < 0) or (days_left is not None and days_left < 0)
    if by_use is not None and by_use < today and hours_left is not None and hours_left >= 0:
        said = f"at the use so far the {count.meter.name} got there about {by_use}: read it now"
        doubts = (*doubts, said)
    return Due(
        what,
        count.meter,
        None if limit is None else count.shown(limit),
        day,
        hours_left,
        days_left,
        by_use,
        first,
        reasons,
        (*doubts, *now.doubts),
        not past and _soon(hours_left, days_left, terms),
    )


def _soon(hours_left: Decimal | None, days_left: int | None, terms: Terms) -> bool:
    hours, days = terms.warn_hours, terms.warn_days
    near = hours_left is not None and hours is not None and hours_left <= hours
    return near or (days_left is not None and days is not None and days_left <= days)


def _first(
    meter: Meter,
    hours_left: Decimal | None,
    days_left: int | None,
    by_use: date | None,
    day: date | None,
) -> tuple[str, str]:
    """Give which of the two comes first, or `unknown` and why."""
    if hours_left is None or days_left is None:
        return "unknown", ""
    late_h, late_d = hours_left < 0, days_left < 0
    if late_h != late_d:
        return (meter.name if late_h else "calendar"), ""
    if by_use is None or day is None:
        return "unknown", "the use so far is not known, so neither is which comes first"
    return (meter.name if by_use <= day else "calendar"), ""
