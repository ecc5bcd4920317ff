"""The services of an aircraft in order, and what lies between them. Pure functions of services."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from capture.errors import InputError
from extract.values.draft import Position
from extract.values.units import US, Units
from record.compute import Consumption, Interval, changed, consumption, hours_between
from record.meters import Count, count_of, of_start
from record.rules import rules
from record.service import Service
from record.terms import Meter, Terms

OIL_CHANGES = ("oil-and-filter", "oil-only")
# What is only said where oil was drained or a filter fitted.
DRAIN_SIGNS = ("drain_closed", "filter_opened", "screen_cleaned", "sample_taken")


@dataclass(frozen=True, slots=True)
class Line:
    """One service in its place among the others.

    `count` is the meter that the log is kept by with its changes; `reading` is what it read, in h,
    and `carried` the same counted on past every change of it. `before` is the oil change before,
    None where that is not in the record. `hours` are since the last oil change and `filter_hours`
    since the last new filter, None where one of the two readings is missing; `topped_up` is what
    was added in between, in qt. `oil` is the oil used since, None with the reason in `oil_why`
    where it cannot be reckoned. `why` says what kept the hours from being reckoned. `asides` say in
    sentences what of the service was taken for what, and what to look at.
    """

    service: Service
    count: Count
    before: Service | None
    hours: Interval | None
    filter_hours: Interval | None
    topped_up: Decimal
    oil: Consumption | None
    oil_why: str
    why: str
    carried: Decimal | None = None
    asides: tuple[str, ...] = ()

    @property
    def meter(self) -> Meter:
        """Give the meter that the log is kept by."""
        return self.count.meter

    @property
    def reading(self) -> Decimal | None:
        """Give what the meter of the log read at the service, in h."""
        return figure(self.service, self.meter.field)

    @property
    def tach(self) -> Decimal | None:
        """Give the tach time of the service, in h."""
        return figure(self.service, "tach_time")


def figure(service: Service, name: str, position: Position = None) -> Decimal | None:
    """Give a number as confirmed, or None."""
    return service.figure(name, position)


def word(service: Service, name: str) -> str | None:
    """Give a word as confirmed, or None."""
    entry = service.entry(name)
    return entry.value if entry is not None and isinstance(entry.value, str) else None


def truth(service: Service, name: str) -> bool | None:
    """Give a yes or no as confirmed, or None."""
    entry = service.entry(name)
    return entry.value if entry is not None and isinstance(entry.value, bool) else None


def is_oil_change(service: Service) -> bool:
    """Tell whether the oil was changed: only oil drained, or put in as a fill, makes a change.

    Oil put in is a fill in a kind of job that changes oil, unless it is little and nothing tells of
    a drain or a filter: then it is a top-up.
    """
    if (figure(service, "oil_drained") or Decimal(0)) > 0:
        return True
    filled = figure(service, "oil_added") or Decimal(0)
    if service.job.kind not in OIL_CHANGES or filled <= 0:
        return False
    signs = any(truth(service, name) for name in DRAIN_SIGNS) or _names_filter(service)
    return signs or filled > rules()["top_up"]["most_qt"]


def _names_filter(service: Service) -> bool:
    return any(service.entry(name) for name in ("filter_part_number", "filter_torque"))


def is_filter_change(service: Service) -> bool:
    """Tell whether a new filter was fitted: it is named or torqued, or said to be safetied.

    Outside an oil change only its part number tells, since an old filter can be torqued again.
    """
    if not is_oil_change(service):
        return service.entry("filter_part_number") is not None
    return _names_filter(service) or truth(service, "filter_safetied") is True


def in_order(services: Iterable[Service], count: Count | None = None) -> list[Service]:
    """Give services by day, then meter, then number; those with no day come last."""
    services = list(services)
    count = count or count_of(services, Terms())

    def place(service: Service) -> tuple[date, Decimal, int]:
        read = figure(service, count.meter.field)
        carried = Decimal(0) if read is None else count.carried(read, service.on)
        return service.on or date.max, carried, service.job.id

    return sorted(services, key=place)


def lines(services: Iterable[Service], terms: Terms = Terms()) -> list[Line]:
    """Give each service with what lies between it and the last oil change, the oldest first."""
    services = list(services)
    count = count_of(services, terms)
    made: list[Line] = []
    last: Service | None = None
    last_read = _start(count, terms)
    filter_read = last_read
    added: list[Decimal] = []
    used: list[Consumption] = []
    for service in in_order(services, count):
        read = _carried(service, count)
        hours, why = _since(last_read, read, count.meter)
        filter_hours, _ = _since(filter_read, read, count.meter)
        change = is_oil_change(service)
        oil, oil_why = _used(last, service, hours, why, added, terms) if change else (None, "")
        if oil is not None:
            ask = changed(oil, used, terms.units)
            used.append(oil)
            oil = replace(oil, notes=(*oil.notes, *filter(None, (ask, _unsettled(last)))))
        topped = sum(added, Decimal(0))
        made.append(
            Line(
                service,
                count,
                last,
                hours,
                filter_hours,
                topped,
                oil,
                oil_why,
                why,
                read,
                _asides(service, terms.units),
            )
        )
        if change:
            last, last_read, added = service, read, []
        elif (quarts := figure(service, "oil_added")) is not None:
            added = [*added, quarts]
        if is_filter_change(service):
            filter_read = read
    return made


def _start(count: Count, terms: Terms) -> Decimal | None:
    read = of_start(count.meter, terms.start)
    return None if read is None else count.carried(read, terms.start.day or date.min)


def _carried(service: Service, count: Count) -> Decimal | None:
    read = figure(service, count.meter.field)
    return None if read is None else count.carried(read, service.on)


def _since(then: Decimal | None, now: Decimal | None, meter: Meter) -> tuple[Interval | None, str]:
    if now is None:
        return None, f"no {meter.name} time is confirmed for it"
    if then is None:
        return None, f"no {meter.name} time of the change before is known"
    try:
        return hours_between(then, now), ""
    except InputError as error:
        return None, str(error)


def _used(
    last: Service | None,
    now: Service,
    hours: Interval | None,
    why: str,
    added: Sequence[Decimal],
    terms: Terms,
) -> tuple[Consumption | None, str]:
    if last is None:
        return None, "the change before is not in the record"
    after, before = figure(last, "oil_level"), figure(now, "oil_level_before")
    if after is None:
        return None, "no oil level was confirmed after the change before"
    if before is None:
        return None, "no oil level was confirmed before this drain"
    if hours is None:
        return None, why
    try:
        return consumption(
            after, before, hours, added, limit=terms.oil_use_limit, units=terms.units
        ), ""
    except InputError as error:
        return None, str(error)


def level_too_soon(service: Service) -> bool:
    """Tell whether the oil level was read before the run-up, while the new filter was still empty.

    The level that counts is the one after it. False where the moments are not known.
    """
    level = service.entry("oil_level")
    ran = [service.entry(name) for name in ("runup_rpm", "oil_pressure")]
    moments = [e.said_at for e in ran if e is not None and e.said_at is not None]
    at = level.said_at if level is not None else None
    return at is not None and bool(moments) and at < min(moments)


def _unsettled(last: Service | None) -> str:
    if last is None or not level_too_soon(last):
        return ""
    return (
        "the level after the change before was read before the run-up, when the new filter had not "
        "filled: less was used than this says"
    )


def not_counted(service: Service, units: Units = US) -> str:
    """Say why a job that was to change the oil counts as no change; empty where it does."""
    if service.job.kind not in OIL_CHANGES or is_oil_change(service) or not service.entries:
        return ""
    if quarts := figure(service, "oil_added"):
        put = units.show(quarts, "qt")
        return f"{put} put in and nothing said of a drain or a filter: taken for a top-up"
    return "neither oil drained nor oil put in is confirmed: no oil change is counted"


def _asides(service: Service, units: Units) -> tuple[str, ...]:
    said = [aside] if (aside := not_counted(service, units)) else []
    if level_too_soon(service):
        said.append(
            "the oil level was read before the run-up; the one that counts is after it, when the "
            "filter has filled"
        )
    return tuple(said)
