"""The meters that count hours, and what the owner laid down in the profile about them. Light."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from types import MappingProxyType

from extract.values.units import US, Units
from record.rules import rules


@dataclass(frozen=True, slots=True)
class Meter:
    """A meter: the field of its reading, its name, and the fields by which its change is stated.

    `fastest` is how many hours it can count in one hour by the clock.
    """

    field: str
    name: str
    removed: str
    fitted: str
    fastest: Decimal


# A tach counts revolutions: at 2700 rpm with a reference of 2400 it runs 1.125 times the clock
# (facts of the tach drive: 1200 rpm counts half, 2400 one to one). An hour meter cannot outrun it.
METERS: Mapping[str, Meter] = MappingProxyType(
    {
        m.field: m
        for m in (
            Meter("tach_time", "tach", "tach_removed", "tach_fitted", Decimal("1.125")),
            Meter(
                "hour_meter_time",
                "hour meter",
                "hour_meter_removed",
                "hour_meter_fitted",
                Decimal(1),
            ),
        )
    }
)
TACH = METERS["tach_time"]


@dataclass(frozen=True, slots=True)
class Start:
    """The last service before the record began, from the profile; None where not known.

    `tach` and `hour_meter` are what the two meters read then, in h.
    """

    tach: Decimal | None = None
    day: date | None = None
    hour_meter: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Overhaul:
    """What the meters read at the engine's last overhaul, in h, and the day; None: not known."""

    tach: Decimal | None = None
    hour_meter: Decimal | None = None
    on: date | None = None


@dataclass(frozen=True, slots=True)
class Terms:
    """Intervals, margins and limits of one aircraft; None where the owner has not said.

    `meter` is the field of the meter that the log is kept by (`tach_time`, `hour_meter_time`);
    `hours` the interval after a change with a new filter and `hours_no_filter` after one without,
    both in h; `months` the interval in calendar months; `warn_hours`, `warn_days` how long before
    due to say so; `oil_use_limit` the maker's limit for the oil used, in qt an hour;
    `units` are those that the owner reads.
    """

    start: Start = Start()
    meter: str | None = None
    hours: Decimal | None = None
    hours_no_filter: Decimal | None = None
    months: int | None = None
    warn_hours: Decimal | None = None
    warn_days: int | None = None
    oil_use_limit: Decimal | None = None
    units: Units = US

    def interval(self, *, filtered: bool) -> tuple[Decimal, str]:
        """Give the hours to the next oil change, and why it is not the owner's own figure, if so.

        50 h after a change with a new filter and 25 h after one without (common practice; the
        maker's figure comes first). Without a new filter the owner's `hours` do not stretch it.
        """
        rule = rules()["oil_interval"]
        if filtered:
            return self.hours or Decimal(rule["filter_h"]), ""
        if self.hours_no_filter:
            return self.hours_no_filter, ""
        screen = Decimal(rule["screen_h"])
        if self.hours and self.hours <= screen:
            return self.hours, ""
        said = (
            f"{screen} h, because no new filter is confirmed for the last change "
            "(`interval_hours_no_filter` in the profile, if the maker says otherwise)"
        )
        return screen, said


@dataclass(frozen=True, slots=True)
class Recurring:
    """One thing that recurs, as the owner's profile has it; None where it does not say.

    It is due `hours` of `meter` after `last_hours`, or `months` after `last_day`, whichever comes
    first; with `end_of_month` on the last day of that month. `until_hours` and `until_day` say
    outright when it is due. `meter` is the field of the meter, None for the one that the log is
    kept by; `note` is text that is kept and never judged.
    """

    what: str
    hours: Decimal | None = None
    months: int | None = None
    end_of_month: bool = False
    last_hours: Decimal | None = None
    last_day: date | None = None
    until_hours: Decimal | None = None
    until_day: date | None = None
    meter: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Reference:
    """A directive or bulletin kept with the aircraft: its text and day, never judged."""

    text: str
    day: date | None = None
