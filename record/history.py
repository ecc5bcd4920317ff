"""The services of an aircraft in order, and what lies between them. Pure functions of services."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from capture.errors import InputError
from extract.values.draft import Position
from record.compute import Consumption, Due, Interval, consumption, hours_between, next_due
from record.rules import rules
from record.service import Service

OIL_CHANGES = ("oil-and-filter", "oil-only")


@dataclass(frozen=True, slots=True)
class Start:
    """The last service before the record began, from the profile; None where not known."""

    tach: Decimal | None = None
    day: date | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """One service in its place among the others.

    `before` is the oil change before it, None where that is not in the record. `hours` are since
    the last oil change and `filter_hours` since the last filter, None where one of the two readings
    is missing; `topped_up` is what was added in between, in qt. `oil` is the oil burnt since, None
    with the reason in `oil_why` where it cannot be reckoned. `why` says what kept the hours from
    being reckoned.
    """

    service: Service
    before: Service | None
    hours: Interval | None
    filter_hours: Interval | None
    topped_up: Decimal
    oil: Consumption | None
    oil_why: str
    why: str

    @property
    def tach(self) -> Decimal | None:
        """Give the tach time of the service, in h."""
        return figure(self.service, "tach_time")


def figure(service: Service, name: str, position: Position = None) -> Decimal | None:
    """Give a number as confirmed, or None."""
    entry = service.entry(name, position)
    return entry.value if entry is not None and isinstance(entry.value, Decimal) else None


def word(service: Service, name: str) -> str | None:
    """Give a word as confirmed, or None."""
    entry = service.entry(name)
    return entry.value if entry is not None and isinstance(entry.value, str) else None


def truth(service: Service, name: str) -> bool | None:
    """Give a yes or no as confirmed, or None."""
    entry = service.entry(name)
    return entry.value if entry is not None and isinstance(entry.value, bool) else None


def is_oil_change(service: Service) -> bool:
    """Tell whether the oil was changed: by the kind of job with oil put in, or by oil drained."""
    drained = figure(service, "oil_drained") is not None or truth(service, "drain_closed") is True
    filled = figure(service, "oil_added") is not None
    return drained or (service.job.kind in OIL_CHANGES and filled)


def is_filter_change(service: Service) -> bool:
    """Tell whether a filter was fitted, by anything said of the new one."""
    names = ("filter_part_number", "filter_torque", "filter_safetied")
    return is_oil_change(service) and any(service.entry(name) for name in names)


def in_order(services: Iterable[Service]) -> list[Service]:
    """Give services by day, then tach, then number; those with no day come last."""
    return sorted(
        services,
        key=lambda s: (s.on or date.max, figure(s, "tach_time") or Decimal(0), s.job.id),
    )


def lines(services: Iterable[Service], start: Start = Start()) -> list[Line]:
    """Give each service with what lies between it and the last oil change, the oldest first."""
    made: list[Line] = []
    last: Service | None = None
    last_tach, filter_tach = start.tach, start.tach
    added: list[Decimal] = []
    for service in in_order(services):
        tach = figure(service, "tach_time")
        hours, why = _since(last_tach, tach)
        filter_hours, _ = _since(filter_tach, tach)
        change = is_oil_change(service)
        oil, oil_why = _burnt(last, service, last_tach, tach, added) if change else (None, "")
        topped = sum(added, Decimal(0))
        made.append(Line(service, last, hours, filter_hours, topped, oil, oil_why, why))
        if change:
            last, last_tach, added = service, tach, []
        elif (quarts := figure(service, "oil_added")) is not None:
            added = [*added, quarts]
        if is_filter_change(service):
            filter_tach = tach
    return made


def _since(then: Decimal | None, now: Decimal | None) -> tuple[Interval | None, str]:
    if now is None:
        return None, "no tach time is confirmed for it"
    if then is None:
        return None, "no tach time of the change before is known"
    try:
        return hours_between(then, now), ""
    except InputError as error:
        return None, str(error)


def _burnt(
    last: Service | None,
    now: Service,
    then_tach: Decimal | None,
    tach: Decimal | None,
    added: Sequence[Decimal],
) -> tuple[Consumption | None, str]:
    if last is None:
        return None, "the change before is not in the record"
    after, before = figure(last, "oil_level"), figure(now, "oil_level_before")
    if after is None:
        return None, "no oil level was confirmed after the change before"
    if before is None:
        return None, "no oil level was confirmed before this drain"
    if then_tach is None or tach is None:
        return None, "a tach time is missing"
    try:
        return consumption(after, before, then_tach, tach, added), ""
    except InputError as error:
        return None, str(error)


def due(
    services: Iterable[Service],
    today: date,
    *,
    start: Start = Start(),
    now_tach: Decimal | None = None,
    hours: Decimal | None = None,
    months: int | None = None,
) -> Due:
    """Say when the next oil change is due, from the last one in the record or from `start`.

    `now_tach` is the reading today; without it the newest confirmed one serves. `hours` and
    `months` are the profile's; without them 50 h after a filter, 25 h after none, and 4 months
    (common practice: the maker's figure comes first).
    """
    ordered = in_order(services)
    changes = [s for s in ordered if is_oil_change(s)]
    last_tach, last_day = start.tach, start.day
    filtered = True
    if changes:
        last_tach, last_day = figure(changes[-1], "tach_time"), changes[-1].on
        filtered = is_filter_change(changes[-1])
    rule = rules()["oil_interval"]
    if hours is None:
        hours = Decimal(rule["filter_h"] if filtered else rule["screen_h"])
    read = [t for s in ordered if (t := figure(s, "tach_time")) is not None]
    if now_tach is None:
        now_tach = max(read, default=start.tach)
    return next_due(
        last_tach,
        last_day,
        now_tach=now_tach,
        today=today,
        hours=hours,
        months=months,
        hours_a_day=_use(ordered, start),
    )


def _use(ordered: Sequence[Service], start: Start) -> Decimal | None:
    read = [(s.on, t) for s in ordered if s.on and (t := figure(s, "tach_time")) is not None]
    if start.day and start.tach is not None:
        read.insert(0, (start.day, start.tach))
    if len(read) < 2 or (days := (read[-1][0] - read[0][0]).days) <= 0:
        return None
    return (read[-1][1] - read[0][1]) / days
