"""The aircraft's profile: what `aircraft.toml` may say, how it is read, how `begin` makes it."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from capture.errors import InputError
from desk import recurring, written
from desk.particulars import NO_ENGINE, PLAIN, Engine, Paper
from desk.profile_keys import (
    ENGINE_KEYS,
    KEYS,
    LAST_KEYS,
    MEASURED,
    PAPER_KEYS,
    RECURRING_KEYS,
    REFERENCE_KEYS,
    read,
    table,
)
from extract.values.known import Known
from extract.values.units import US, Units
from record.terms import Overhaul, Recurring, Reference, Start, Terms

PROFILE_NAME = "aircraft.toml"


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
    `references` are directives and bulletins, kept and never judged; `engine` and `paper` are for
    the papers;
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
    engine: Engine = NO_ENGINE
    paper: Paper = PLAIN

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
    last, heard = (table(raw, name, where) for name in ("last", "heard"))
    engine, paper = (table(raw, name, where) for name in ("engine", "paper"))
    recurs = recurring.recurring(raw.pop("recurring", []), RECURRING_KEYS, read, where)
    kept = recurring.references(raw.pop("reference", []), REFERENCE_KEYS, read, where)
    made = read(raw, KEYS, where, "")
    made.setdefault("zone", zone)
    _to_record(made)
    if "additive_ratio" in made:
        made["additive_per_qt"] = made.pop("additive_ratio")
    own = (*made.get("words", ()), made.get("additive", ""))
    return Profile(
        **made,
        engine=Engine(**read(engine, ENGINE_KEYS, where, "engine.")),
        paper=Paper(**read(paper, PAPER_KEYS, where, "paper.")),
        recurring=recurs,
        references=kept,
        heard=_heard(heard, own, where),
        last=Last(**read(last, LAST_KEYS, where, "last.")),
    )


def _to_record(made: dict[str, Any]) -> None:
    """Bring what the owner wrote in units of their own to those of the record, unrounded."""
    units = made.get("units", US)
    for name, unit in MEASURED.items():
        found = made.get(name)
        if isinstance(found, tuple):
            made[name] = tuple(units.back(value, unit) for value in found)
        elif found is not None:
            made[name] = units.back(found, unit)


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
        written.new(made, text.encode())
    except FileExistsError:
        raise InputError("there already, left as it is", made, "edit it") from None
    except OSError as error:
        raise InputError(
            f"cannot be written ({error.strerror})", made, "choose another --home"
        ) from None
    return made
