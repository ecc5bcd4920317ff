"""What each key of `aircraft.toml` may say, and how it is read."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from capture.errors import InputError
from desk.particulars import country
from extract.values.units import Units

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


def table(raw: dict[str, Any], name: str, where: Path) -> dict[str, Any]:
    """Take a table of that name out of a file; nothing where there is none."""
    table = raw.pop(name, {})
    if not isinstance(table, dict):
        raise InputError(f"{name}: is a table", where, f"write [{name}] on a line of its own")
    return table


def read(
    raw: Mapping[str, Any], keys: Mapping[str, Any], where: Path, prefix: str
) -> dict[str, Any]:
    """Read what a table says, each key by its own rule.

    Raises `InputError`: a key that is none, a value that cannot be.
    """
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


KEYS = {
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
MEASURED = {
    "sump_capacity": "qt",
    "filter_torque": "ft-lb",
    "plug_torque": "ft-lb",
    "oil_use_limit": "qt",
}
ENGINE_KEYS = {
    "name": _text,
    "serial": _text,
    "total_time": _number,
    "at_tach_time": _number,
    "at_hour_meter_time": _number,
    "at_date": _date,
}
PAPER_KEYS = {"country": country, "logbook": _text, "data": _text, "revision": _text}
LAST_KEYS = {"tach_time": _number, "hour_meter_time": _number, "date": _date}
RECURRING_KEYS = {
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
REFERENCE_KEYS = {"text": _text, "date": _date}
# A key that had another name once is still read.
_ONCE = {"hobbs_time": "hour_meter_time"}
