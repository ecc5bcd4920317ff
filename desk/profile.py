"""The aircraft's profile: what `aircraft.toml` may say, how it is read, how `begin` makes it."""

from __future__ import annotations

import difflib
import os
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from capture.errors import InputError
from desk import recurring
from extract.values.known import Known
from extract.values.units import US, Units
from record.terms import Overhaul, Recurring, Reference, Start, Terms

PROFILE_NAME = "aircraft.toml"

# US fluid ounces in each unit that an additive's ratio may use: NIST Handbook 44, Appendix C
# (1 gal = 4 qt = 8 pt = 128 fl oz; 1 fl oz = 29.573 529 562 5 mL). Kept as figures so that the
# command line starts without loading a unit library.
_FL_OZ = {
    "fl oz": Decimal(1),
    "oz": Decimal(1),
    "pt": Decimal(16),
    "qt": Decimal(32),
    "gal": Decimal(128),
    "ml": 1 / Decimal("29.5735295625"),
    "l": 1000 / Decimal("29.5735295625"),
}
_MEASURE = "fl oz|oz|pt|qt|gal|ml|l"
_RATIO = re.compile(rf"([\d.]+)\s*({_MEASURE})\s*(?:to|:|per)\s*([\d.]+)\s*({_MEASURE})")


@dataclass(frozen=True, slots=True)
class Last:
    """The last service before this record began: hours on the meters, the day; None: not known."""

    tach_time: Decimal | None = None
    hour_meter_time: Decimal | None = None
    date: date | None = None


@dataclass(frozen=True, slots=True)
class Profile:
    """An aircraft as its owner describes it; None, or empty, where the owner has not said.

    `sump_capacity` in qt; `filter_torque` and `plug_torque` are (low, high) in ft-lb; `oil` a grade
    such as `SAE 50`; `additive_per_qt` in fl oz of additive to a quart of oil; the intervals in
    hours and in calendar months, whichever comes first, `interval_hours_no_filter` after a change
    without a new filter; `hours_by` is the field of the meter that the log is kept by;
    `warn_hours`, `warn_days` are how long before due to say so; `oil_use_limit` is the maker's, in
    qt/h; `overhaul_tach_time`, `overhaul_hour_meter_time` are what the meters read when the engine
    was last overhauled on `overhaul_date`, for the slip that goes with an oil sample;
    `units` are those the owner reads and writes; `recurring` is what recurs beside the oil and
    `references` are directives and bulletins, kept and never judged;
    `heard` are the pairs (as heard, as meant) of words that recognition makes of the owner's.
    """

    registration: str = ""
    zone: ZoneInfo = field(default_factory=lambda: local_zone(os.environ))
    sump_capacity: Decimal | None = None
    filter_part_number: str | None = None
    filter_torque: tuple[Decimal, Decimal] | None = None
    plug_torque: tuple[Decimal, Decimal] | None = None
    oil: str | None = None
    additive: str | None = None
    additive_per_qt: Decimal | None = None
    interval_hours: Decimal | None = None
    interval_hours_no_filter: Decimal | None = None
    interval_months: int | None = None
    hours_by: str | None = None
    warn_hours: Decimal | None = None
    warn_days: int | None = None
    oil_use_limit: Decimal | None = None
    overhaul_tach_time: Decimal | None = None
    overhaul_hour_meter_time: Decimal | None = None
    overhaul_date: date | None = None
    units: Units = US
    words: tuple[str, ...] = ()
    heard: tuple[tuple[str, str], ...] = ()
    last: Last = Last()
    recurring: tuple[Recurring, ...] = ()
    references: tuple[Reference, ...] = ()

    def known(self, on: date | None = None) -> Known:
        """Give the part of the profile that reading may use; `on` is the day of the job."""
        return Known(
            last_tach=self.last.tach_time,
            last_hour_meter=self.last.hour_meter_time,
            last_date=self.last.date,
            sump_capacity=self.sump_capacity,
            filter_torque=self.filter_torque,
            plug_torque=self.plug_torque,
            filter_part_number=self.filter_part_number,
            oil_grade=self.oil,
            additive=self.additive,
            words=self.words,
            heard=self.heard,
            on=on,
        )

    def overhaul(self) -> Overhaul:
        """Give what is known of the engine's last overhaul."""
        return Overhaul(self.overhaul_tach_time, self.overhaul_hour_meter_time, self.overhaul_date)

    def terms(self) -> Terms:
        """Give the part of the profile that the reckoning needs."""
        last = self.last
        return Terms(
            start=Start(last.tach_time, last.date, last.hour_meter_time),
            meter=self.hours_by,
            hours=self.interval_hours,
            hours_no_filter=self.interval_hours_no_filter,
            months=self.interval_months,
            warn_hours=self.warn_hours,
            warn_days=self.warn_days,
            oil_use_limit=self.oil_use_limit,
            units=self.units,
        )


def local_zone(env: Mapping[str, str]) -> ZoneInfo:
    """Give this machine's own zone by name, or UTC where it names none."""
    names = [env.get("TZ", "").lstrip(":")]
    linked = os.path.realpath("/etc/localtime")
    if "zoneinfo/" in linked:
        names.append(linked.split("zoneinfo/")[-1])
    for name in filter(None, names):
        try:
            return ZoneInfo(name)
        except (KeyError, ValueError, OSError):
            continue
    return ZoneInfo("UTC")


def read_profile(text: str, where: Path, zone: ZoneInfo) -> Profile:
    """Read a profile from its text; `zone` serves where the file names none.

    Raises:
        InputError: not TOML, a key that is not one of ours, a value that cannot be.
    """
    try:
        raw = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        raise InputError("is not valid TOML", where, str(error)) from None
    last, heard = (_table(raw, name, where) for name in ("last", "heard"))
    recurs = recurring.recurring(raw.pop("recurring", []), _RECURRING_KEYS, _read, where)
    kept = recurring.references(raw.pop("reference", []), _REFERENCE_KEYS, _read, where)
    made = _read(raw, _KEYS, where, "")
    made.setdefault("zone", zone)
    _to_record(made)
    if "additive_ratio" in made:
        made["additive_per_qt"] = made.pop("additive_ratio")
    own = (*made.get("words", ()), made.get("additive", ""))
    return Profile(
        **made,
        recurring=recurs,
        references=kept,
        heard=_heard(heard, own, where),
        last=Last(**_read(last, _LAST_KEYS, where, "last.")),
    )


def _to_record(made: dict[str, Any]) -> None:
    """Bring what the owner wrote in units of their own to those of the record, unrounded."""
    units = made.get("units", US)
    for name, unit in _MEASURED.items():
        found = made.get(name)
        if isinstance(found, tuple):
            made[name] = tuple(units.back(value, unit) for value in found)
        elif found is not None:
            made[name] = units.back(found, unit)


def _table(raw: dict[str, Any], name: str, where: Path) -> dict[str, Any]:
    table = raw.pop(name, {})
    if not isinstance(table, dict):
        raise InputError(f"{name}: is a table", where, f"write [{name}] on a line of its own")
    return table


def _heard(raw: Mapping[str, Any], own: Sequence[str], where: Path) -> tuple[tuple[str, str], ...]:
    if not raw:
        return ()
    from extract.mend.taught import hindrance, tidy

    made: dict[str, str] = {}
    for heard, meant in raw.items():
        why = hindrance(heard, meant, own) if isinstance(meant, str) else "text in quotes is meant"
        if not why and tidy(heard) in made:
            why = "it is there twice"
        if why:
            raise InputError(f"heard.{heard}: {meant!r} will not do", where, why)
        made[tidy(heard)] = tidy(meant)
    return tuple(made.items())


def _read(
    raw: Mapping[str, Any], keys: Mapping[str, Any], where: Path, prefix: str
) -> dict[str, Any]:
    made = {}
    for named, value in raw.items():
        key = _ONCE.get(named, named)
        if key not in keys:
            near = difflib.get_close_matches(key, keys, n=1, cutoff=0.5)
            todo = f"is it {prefix}{near[0]}?" if near else f"the keys are {', '.join(keys)}"
            raise InputError(f"{prefix}{key}: no such key", where, todo)
        try:
            made[key] = keys[key](value)
        except (ValueError, TypeError, KeyError, InvalidOperation, OSError) as error:
            raise InputError(f"{prefix}{key}: {value!r} will not do", where, str(error)) from None
    return {key: value for key, value in made.items() if value not in (None, "", ())}


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError("text in quotes is meant")
    return value.strip()


def _number(value: Any) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, int | Decimal) or value < 0:
        raise ValueError("a number of 0 or more is meant, without quotes")
    return Decimal(value)


def _months(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise ValueError("a whole number of months is meant")
    return value


def _truth(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError("true or false is meant")
    return value


def _days(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise ValueError("a whole number of days is meant")
    return value


def _meter(value: Any) -> str | None:
    meters = {"": None, "tach": "tach_time", "hour meter": "hour_meter_time"}
    if _text(value).lower() not in meters:
        raise ValueError('the meter that the log is kept by is meant, "tach" or "hour meter"')
    return meters[_text(value).lower()]


def _range(value: Any) -> tuple[Decimal, Decimal]:
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError("two numbers are meant, lowest first, as in [16, 18]")
    low, high = map(_number, value)
    if low > high:
        raise ValueError("the lower number comes first")
    return low, high


def _units(value: Any) -> Units:
    ways = {"nm": "N·m", "c": "°C", "l": "L", "ml": "mL"}
    return Units.of(tuple(ways.get(word.lower(), word) for word in _words(value)))


def _words(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list):
        raise ValueError('a list of words is meant, as in ["pigtail", "gascolator"]')
    return tuple(filter(None, map(_text, value)))


def _zone(value: Any) -> ZoneInfo:
    try:
        return ZoneInfo(_text(value))
    except (KeyError, ValueError, OSError):
        raise ValueError("a zone's name is meant, as in America/Chicago") from None


def _date(value: Any) -> date:
    if type(value) is date:
        return value
    try:
        return date.fromisoformat(_text(value))
    except ValueError:
        raise ValueError("a date is meant, as in 2026-03-14") from None


def _ratio(value: Any) -> Decimal | None:
    if not _text(value):
        return None
    found = _RATIO.fullmatch(_text(value).lower())
    if not found:
        raise ValueError('additive to oil is meant, as in "1 pt to 10 qt"')
    share, unit, oil, oil_unit = found.groups()
    quarts = Decimal(oil) * _FL_OZ[oil_unit] / _FL_OZ["qt"]
    if not quarts:
        raise ValueError("no oil in the ratio")
    return Decimal(share) * _FL_OZ[unit] / quarts


_KEYS = {
    "registration": _text,
    "zone": _zone,
    "sump_capacity": _number,
    "filter_part_number": _text,
    "filter_torque": _range,
    "plug_torque": _range,
    "oil": _text,
    "additive": _text,
    "additive_ratio": _ratio,
    "interval_hours": _number,
    "interval_hours_no_filter": _number,
    "interval_months": _months,
    "hours_by": _meter,
    "warn_hours": _number,
    "warn_days": _days,
    "oil_use_limit": _number,
    "overhaul_tach_time": _number,
    "overhaul_hour_meter_time": _number,
    "overhaul_date": _date,
    "units": _units,
    "words": _words,
}
# The unit of the record for each key that is a measure; what the file says is in the owner's.
_MEASURED = {
    "sump_capacity": "qt",
    "filter_torque": "ft-lb",
    "plug_torque": "ft-lb",
    "oil_use_limit": "qt",
}
_LAST_KEYS = {"tach_time": _number, "hour_meter_time": _number, "date": _date}
_RECURRING_KEYS = {
    "what": _text,
    "hours": _number,
    "months": _months,
    "end_of_month": _truth,
    "last_hours": _number,
    "last_date": _date,
    "until_hours": _number,
    "until_date": _date,
    "by": _meter,
    "note": _text,
}
_REFERENCE_KEYS = {"text": _text, "date": _date}
# A key that had another name once is still read.
_ONCE = {"hobbs_time": "hour_meter_time"}


def quoted(text: str) -> str:
    """Give text as a TOML string."""
    inside = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{inside}"'


def begin(
    home: Path,
    registration: str,
    zone: ZoneInfo,
    answers: Mapping[str, str] | None = None,
    name: str = PROFILE_NAME,
) -> Path:
    """Make the home and a profile in it, with a comment on every line; give the profile's path.

    `answers` are further keys with their values in TOML, a key of a table as `last.date`; `name` is
    the file's, for a further aircraft of the home.

    Raises:
        InputError: there is a profile already, or the home cannot be written.
    """
    made = home / name
    text = (Path(__file__).parent / "data" / PROFILE_NAME).read_text("utf-8")
    text = text.replace('registration = ""', f"registration = {quoted(registration)}")
    text = text.replace('zone = "UTC"', f'zone = "{zone.key}"')
    for key, value in (answers or {}).items():
        bare = key.rpartition(".")[2]
        commented = next(line for line in text.splitlines() if line.startswith(f"# {bare} = "))
        text = text.replace(f"\n{commented}\n", f"\n{bare} = {value}\n", 1)
    try:
        made.parent.mkdir(parents=True, exist_ok=True)
        with made.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise InputError("there already, left as it is", made, "edit it") from None
    except OSError as error:
        raise InputError(
            f"cannot be written ({error.strerror})", made, "choose another --home"
        ) from None
    return made
