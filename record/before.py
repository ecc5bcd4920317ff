"""What the record knows of an aircraft before a job: its meters, its days, its earlier values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal

from sqlmodel import Session

from extract.values.known import Known
from record import jobs
from record.entries import Entry, entries
from record.jobs import Job

_READ = ("service_date", "tach_time", "tach_fitted", "hour_meter_time", "hour_meter_fitted")


def day_among(job: Job, counting: list[Entry]) -> date | None:
    """Give the day of a job from its entries that count, else of its media, else None."""
    for entry in counting:
        if entry.name == "service_date" and isinstance(entry.value, date):
            return entry.value
    return job.first.date() if job.first else None


def day_of(session: Session, job: Job) -> date | None:
    """Give the day of a job: as entered, else of its first memo or photo, else None."""
    return day_among(job, entries(session, job.id, "service_date"))


def known(
    session: Session,
    profile_known: Known,
    on: date | None,
    *,
    job: int | None = None,
    aircraft: str | None = None,
) -> Known:
    """Give what is known before a job: the profile, and the last confirmed meters if newer.

    `job` itself is left out, since its own entries say nothing about what was before; so are jobs
    of a later day than `on`.
    """
    found = replace(profile_known, on=on)
    # one question a field over all jobs, not one a job: a record of years stays quick
    read = {name: by_job(session, name) for name in _READ}
    for earlier in jobs.jobs(session, aircraft):
        day = day_among(earlier, read["service_date"].get(earlier.id, []))
        if earlier.id == job or day is None or (on is not None and day > on):
            continue
        tach = _left_at(read, earlier.id, "tach_time", "tach_fitted")
        hours = _left_at(read, earlier.id, "hour_meter_time", "hour_meter_fitted")
        newer = found.last_date is None or day >= found.last_date
        if newer and (tach is not None or hours is not None):
            found = replace(
                found,
                last_tach=found.last_tach if tach is None else tach,
                last_hour_meter=found.last_hour_meter if hours is None else hours,
                last_date=day,
            )
    return found


def by_job(session: Session, name: str) -> dict[int, list[Entry]]:
    """Give the entries of one field that count, by their jobs, oldest first."""
    found: dict[int, list[Entry]] = {}
    for entry in entries(session, name=name):
        found.setdefault(entry.job, []).append(entry)
    return found


def _left_at(
    read: Mapping[str, Mapping[int, list[Entry]]], job: int, reading: str, fitted: str
) -> Decimal | None:
    """Give what a meter read at the end of a job: a new one, what it read when it was fitted."""
    found = number(read[fitted].get(job, []))
    return number(read[reading].get(job, [])) if found is None else found


def number(found: list[Entry]) -> Decimal | None:
    """Give the newest number among entries, or None."""
    numbers = [e.value for e in found if isinstance(e.value, Decimal)]
    return numbers[-1] if numbers else None


def history(session: Session, name: str, aircraft: str | None = None) -> list[Entry]:
    """Give the entries of one field that count, over all jobs of an aircraft, oldest first."""
    ids = {j.id for j in jobs.jobs(session, aircraft)}
    return [e for e in entries(session, name=name) if e.job in ids]
