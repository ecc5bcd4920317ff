"""The meters that count hours: which one the log is kept by, and how hours carry on past a change.

A tach or hour meter that is replaced begins again at what the new one reads. With old and new
reading stated, hours are counted on; without, a reading lower than the one before stays a doubt.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from sqlmodel import Session

from extract.values.catalogue import Catalogue
from record import chain, jobs, queue
from record.service import Service
from record.terms import METERS, TACH, Meter, Start, Terms


@dataclass(frozen=True, slots=True)
class Change:
    """A meter's replacement: the day, what the old one read at the end and the new one began at."""

    on: date
    old: Decimal
    new: Decimal
    job: int
    because: str


@dataclass(frozen=True, slots=True)
class Read:
    """One confirmed reading: the day, as read, and carried on past every change of the meter."""

    on: date
    job: int
    reading: Decimal
    carried: Decimal


@dataclass(frozen=True, slots=True)
class Count:
    """One meter with its changes, the oldest first: readings carried on, and back."""

    meter: Meter
    changes: tuple[Change, ...] = ()

    def carried(self, reading: Decimal, on: date | None) -> Decimal:
        """Give a reading of that day as the first meter would have shown it, in h.

        On the day of a change, the new meter is known by a reading on its side of the old's last.
        """
        total = reading
        for change in self.changes:
            its = reading < change.old if change.new < change.old else reading >= change.new
            if on is None or on > change.on or (on == change.on and its):
                total += change.old - change.new
        return total

    def shown(self, carried: Decimal) -> Decimal:
        """Give what the newest meter shows when so many hours are carried on."""
        return carried - sum((c.old - c.new for c in self.changes), Decimal(0))


def of_start(meter: Meter, start: Start) -> Decimal | None:
    """Give what a meter read at the last service before the record began."""
    return start.tach if meter is TACH else start.hour_meter


def count_of(services: Iterable[Service], terms: Terms, meter: Meter | None = None) -> Count:
    """Give a meter with its changes; if none is named, that which the log is kept by.

    That of the profile; else the tach, or the hour meter where nothing but its readings is known.
    """
    services = list(services)
    meter = meter or METERS.get(terms.meter or "")
    if meter is None:
        known = [m for m in METERS.values() if of_start(m, terms.start) is not None]
        known += [m for m in METERS.values() for s in services if s.figure(m.field) is not None]
        meter = TACH if TACH in known or not known else known[0]
    made = []
    for service in services:
        old, new = service.figure(meter.removed), service.figure(meter.fitted)
        if old is not None and new is not None and service.on is not None:
            entry = service.entry(meter.fitted)
            because = service.decision(entry).because if entry else ""
            made.append(Change(service.on, old, new, service.job.id, because))
    return Count(meter, tuple(sorted(made, key=lambda c: (c.on, c.job))))


def reads(services: Iterable[Service], count: Count) -> list[Read]:
    """Give every dated reading of a meter; also what a change states of the old and the new one."""
    made = []
    for service in services:
        if service.on is None:
            continue
        value = service.figure(count.meter.field)
        if value is not None:
            carried = count.carried(value, service.on)
            made.append(Read(service.on, service.job.id, value, carried))
    made += [Read(c.on, c.job, c.new, count.carried(c.new, c.on)) for c in count.changes]
    return sorted(made, key=lambda r: (r.on, r.carried, r.job))


def state_change(
    session: Session,
    meter: Meter,
    old: Decimal,
    new: Decimal,
    on: date,
    by: str,
    because: str,
    aircraft: str | None,
    catalogue: Catalogue | None = None,
) -> int:
    """Enter a meter's change as a job of its own, closed at once; give its number.

    Raises `RefusedError` without a name or a reason.
    """
    because = chain.reason(because)
    job = jobs.job_for(session, None, kind="free", new=True, aircraft=aircraft)
    told: dict[str, Any] = {"because": because, "although": because}  # a day long past is doubted
    for name, text in (
        ("service_date", on.isoformat()),
        (meter.removed, str(old)),
        (meter.fitted, str(new)),
    ):
        queue.add(session, job, name, text, by, None, catalogue, **told)
    jobs.close(session, job, by)
    return job
