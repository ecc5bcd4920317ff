"""What a paper says beside the work: engine and its hours, logbook, data used, and whose list.

From `[engine]` and `[paper]` of `aircraft.toml`, or from confirmed values of the job, which come
first. Hours are counted on past a changed meter, or are not given.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from desk.profile import Profile
    from record.service import Service

US = "US"  # the one country whose preventive list the program holds


@dataclass(frozen=True, slots=True)
class Engine:
    """The engine as its owner describes it; None, or empty, where the owner has not said.

    `total_time` in h is what it had when the meters read `at_tach_time`, `at_hour_meter_time`, on
    `at_date`.
    """

    name: str = ""
    serial: str = ""
    total_time: Decimal | None = None
    at_tach_time: Decimal | None = None
    at_hour_meter_time: Decimal | None = None
    at_date: date | None = None


@dataclass(frozen=True, slots=True)
class Paper:
    """What stands on each paper: whose rules, which logbook, the maker's data and its revision."""

    country: str = US
    logbook: str = ""
    data: str = ""
    revision: str = ""


NO_ENGINE, PLAIN = Engine(), Paper()


def country(text: Any) -> str:
    """Read a country as two letters (ISO 3166). Raises ValueError for what is none."""
    if not isinstance(text, str) or not (len(text) == 2 and text.isalpha() and text.isascii()):
        raise ValueError('two letters are meant, as in "US" or "CA"')
    return text.upper()


def facts(service: Service, profile: Profile) -> Iterator[tuple[str, str, str]]:
    """Give label, value and, where there is none, why not; what nobody said at all is left out."""
    engine, paper = profile.engine, profile.paper
    if engine.name or engine.serial:
        serial = f"serial {engine.serial}" if engine.serial else ""
        yield "Engine", ", ".join(filter(None, (engine.name, serial))), ""
    if engine.total_time is not None:
        at = {"tach_time": engine.at_tach_time, "hour_meter_time": engine.at_hour_meter_time}
        since, why = hours_since(service, profile, at, engine.at_date)
        total = None if since is None else since + engine.total_time
        yield "Engine total time", _h(total), why
    overhaul = profile.overhaul()
    at = {"tach_time": overhaul.tach, "hour_meter_time": overhaul.hour_meter}
    if any(value is not None for value in at.values()):
        since, why = hours_since(service, profile, at, overhaul.on)
        yield "Since overhaul", _h(since), why
    if logbook := _said(service, "logbook") or paper.logbook:
        yield "Logbook", logbook, ""
    yield (
        "Data used",
        _said(service, "data_used") or _data(paper),
        "not confirmed, nor in the profile",
    )


def _said(service: Service, name: str) -> str:
    entry = service.entry(name)
    return str(entry.value) if entry is not None and entry.value is not None else ""


def _data(paper: Paper) -> str:
    if not paper.data:
        return ""
    return ", ".join(filter(None, (paper.data, paper.revision)))


def _h(value: Decimal | None) -> str:
    return "" if value is None else f"{value:f}\u00a0h"


def hours_since(
    service: Service,
    profile: Profile,
    then: Mapping[str, Decimal | None],
    on: date | None,
) -> tuple[Decimal | None, str]:
    """Give the hours from what a meter read on a day to what it reads now, or None and why not.

    The meter of the log comes first; of the other a reading serves where the first has none.
    """
    from record.meters import Change, Count
    from record.terms import METERS

    log = profile.hours_by or "tach_time"
    why = "not known"
    for name in sorted(METERS, key=lambda name: name != log):
        read, before = service.figure(name), then.get(name)
        meter = METERS[name]
        if before is None:
            continue
        if read is None:
            why = f"no {meter.name} time is confirmed"
            continue
        changes = tuple(
            Change(day, old, new, 0, "") for its, day, old, new in service.changes if its == name
        )
        if changes and (on is None or service.on is None):
            why = f"the {meter.name} was changed, and the day of a reading is not known"
            continue
        count = Count(meter, changes)
        hours = count.carried(read, service.on) - count.carried(before, on or date.min)
        if hours < 0:
            why = f"the {meter.name} reads less than it did then"
            continue
        return hours, ""
    return None, why
