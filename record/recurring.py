"""What else recurs on an aircraft: batteries, checks, inspections, hoses. Pure.

Nothing is listed that the owner's profile or a confirmed value does not name, and no interval is
made up: what the maker and the rules ask for stands in the profile.
"""

from __future__ import annotations

import calendar
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from extract.values.catalogue import RECURRING
from record.compute import add_months
from record.due import Due, Now, now_of, set_against, until
from record.history import in_order, is_filter_change
from record.meters import Count, count_of
from record.service import Service
from record.terms import METERS, Recurring, Terms

FILTER = "oil filter"


@dataclass(frozen=True, slots=True)
class _Stand:
    """When a thing was last done and until when it is good: hours carried on, and days."""

    last_hours: Decimal | None
    last_day: date | None
    until_hours: Decimal | None
    until_day: date | None


def all_due(
    services: Sequence[Service],
    today: date,
    known: Sequence[Recurring],
    *,
    terms: Terms = Terms(),
    readings: Mapping[str, Decimal] | None = None,
) -> list[Due]:
    """Say when each thing that recurs is next due, what comes first at the top.

    What is confirmed of a thing takes the place of what the profile says of it. `readings` are what
    the meters read today, by their field. Services of a later day than `today` are left out.
    """
    kept, _ = until(services, today)
    counts = {field: count_of(kept, terms, METERS[field]) for field in METERS}
    log = count_of(kept, terms)
    told = readings or {}
    now = {
        field: now_of(kept, count, terms, today, told.get(field)) for field, count in counts.items()
    }
    made = []
    for one in _named(kept, known):
        count = counts[one.meter] if one.meter else log
        stand = _stand(in_order(kept, count), one, count)
        made.append(_due(one, stand, count, now[count.meter.field], today, terms))
    return sorted(made, key=soonest)


def soonest(due: Due) -> tuple[bool, date]:
    """Order what is due: past first, then by the day it is reached; what is not known last."""
    days = [day for day in (due.day, due.by_use) if day is not None]
    return not due.past, min(days, default=date.max)


def _named(services: Sequence[Service], known: Sequence[Recurring]) -> list[Recurring]:
    """Give what the profile names, then what only a confirmed value names."""
    names = {one.what.lower() for one in known}
    said = {
        str(position)
        for service in services
        for name, position in service.entries
        if name in RECURRING and str(position).lower() not in names
    }
    return [*known, *(Recurring(what) for what in sorted(said))]


def _stand(services: Sequence[Service], one: Recurring, count: Count) -> _Stand:
    def carried(reading: Decimal | None, on: date | None) -> Decimal | None:
        return None if reading is None else count.carried(reading, on or date.min)

    stand = _Stand(
        carried(one.last_hours, one.last_day),
        one.last_day,
        carried(one.until_hours, one.last_day),
        one.until_day,
    )
    for service in services:
        said = {
            name: entry.value
            for (name, position), entry in service.entries.items()
            if str(position).lower() == one.what.lower() and name in RECURRING
        }
        fitted = one.what.lower() == FILTER and is_filter_change(service)
        if not said and not fitted:
            continue
        done = fitted or said.get("recurring_done") is True
        read = carried(service.figure(count.meter.field), service.on)
        day, hours = said.get("next_due_date"), said.get("next_due_hours")
        given = day is not None or hours is not None
        stand = _Stand(
            read if done else stand.last_hours,
            service.on if done else stand.last_day,
            # what was good until then no longer is once the thing was done anew
            carried(hours, service.on)
            if isinstance(hours, Decimal)
            else None
            if done or given
            else stand.until_hours,
            day if isinstance(day, date) else None if done or given else stand.until_day,
        )
    return stand


def _due(one: Recurring, stand: _Stand, count: Count, now: Now, today: date, terms: Terms) -> Due:
    why: list[str] = []
    limit, day = stand.until_hours, stand.until_day
    if limit is None and one.hours is not None:
        if stand.last_hours is None:
            why.append(f"no {count.meter.name} time of the last one is known")
        else:
            limit = stand.last_hours + one.hours
    if day is None and one.months is not None:
        if stand.last_day is None:
            why.append("no date of the last one is known")
        else:
            day = add_months(stand.last_day, one.months)
            day = end_of_month(day) if one.end_of_month else day
    if limit is None and day is None and not why:
        why.append("neither an interval nor a day or hours until then are known")
    return set_against(
        one.what, count, limit, day, now, today, terms=terms, why=tuple(why), alone=True
    )


def end_of_month(day: date) -> date:
    """Give the last day of a month: calendar months run to it."""
    return day.replace(day=calendar.monthrange(day.year, day.month)[1])
