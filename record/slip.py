"""The slip that goes to the laboratory with an oil sample, filled from confirmed values alone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from extract.values.units import US, Units
from record.errors import RefusedError
from record.history import Line, figure, truth, word
from record.shop import short
from record.terms import TACH, Overhaul

UNCONFIRMED = "no sample was confirmed"
BLANK = ""  # to be written in by hand: the record does not know it


@dataclass(frozen=True, slots=True)
class SlipLine:
    """One line of the slip; `value` is empty where the record does not know, and `why` says why."""

    label: str
    value: str
    why: str = ""


def slip(
    line: Line,
    *,
    registration: str,
    overhaul: Overhaul = Overhaul(),
    usual_oil: str | None = None,
    additive: str | None = None,
    units: Units = US,
) -> list[SlipLine]:
    """Give the lines of the sample slip for a service.

    What a laboratory's form asks for: hours on the oil, hours since overhaul, oil and additive, oil
    added since the last change (NAVEDTRA 14008 and TB 43-0211 for what a form must carry). The oil
    in the sample is the oil that went in at the change before; `usual_oil` and `additive` are the
    profile's and are marked so; `units` are those that the owner reads. Where nobody confirmed that
    a sample was taken, the slip says so. Raises `RefusedError` where the record says that none was.
    """
    service = line.service
    if truth(service, "sample_taken") is False:
        raise RefusedError(
            f"job {service.job.id} says that no oil sample was taken",
            todo="correct that entry if one was",
        )
    taken = truth(service, "sample_taken") is True
    said = service.entry("sample_taken")
    day = service.on.isoformat() if service.on and taken else BLANK
    at = said.said_at.isoformat(" ", "minutes") if said and said.said_at else BLANK
    hours = line.hours.value if line.hours else None
    made = [
        SlipLine("Aircraft", registration, "not in the profile"),
        SlipLine("Sample taken", "yes" if taken else BLANK, UNCONFIRMED),
        SlipLine("Sample taken on", day, "no day known" if taken else UNCONFIRMED),
        SlipLine("At", at, "nobody said when"),
        SlipLine(
            "When in the drain", f"“{said.heard}”" if said and said.media else BLANK, "not said"
        ),
        SlipLine(
            "Sample volume", _measure(figure(service, "sample_volume"), "fl oz", units), "not noted"
        ),
        SlipLine(
            f"{line.meter.name.capitalize()} time", _measure(line.reading, "h"), "not confirmed"
        ),
        SlipLine("Hours on the oil", _measure(hours, "h"), line.why),
        SlipLine("Hours since overhaul", *_overhaul(line, overhaul)),
        SlipLine("Make-up oil since the change", _measure(line.topped_up, "qt", units)),
        SlipLine("Oil in the sample", _oil(line, usual_oil), "the change before does not say"),
        SlipLine("Additive in the sample", _additive(line, additive, units), "none noted"),
        SlipLine("Filter opened", _yes(truth(service, "filter_opened")), "not noted"),
        SlipLine("Metal in the filter", word(service, "metal_found") or BLANK, "not noted"),
    ]
    return [replace(one, why="") if one.value else one for one in made]


def _oil(line: Line, usual: str | None) -> str:
    told = [word(line.before, name) for name in ("oil_grade", "oil_kind")] if line.before else []
    if not any(told):
        return f"{usual} (the usual oil of the profile)" if usual else BLANK
    return ", ".join(filter(None, told))


def _additive(line: Line, additive: str | None, units: Units) -> str:
    ounces = figure(line.before, "additive_added") if line.before else None
    if ounces is None:
        return BLANK
    return " ".join(filter(None, (_measure(ounces, "fl oz", units), additive)))


def _measure(value: Decimal | None, unit: str, units: Units = US) -> str:
    return BLANK if value is None else f"{short(units.value(value, unit), 2)} {units.own(unit)}"


def _overhaul(line: Line, overhaul: Overhaul) -> tuple[str, str]:
    """Give the hours since overhaul, counted on past a changed meter; else nothing, and why."""
    read = overhaul.tach if line.meter is TACH else overhaul.hour_meter
    if read is None:
        return BLANK, "not in the profile"
    if line.reading is None or line.carried is None:
        return BLANK, f"no {line.meter.name} time is confirmed"
    if line.count.changes and overhaul.on is None:
        return BLANK, (
            f"the {line.meter.name} was changed; `overhaul_date` in the profile tells which one "
            "was read"
        )
    hours = line.carried - line.count.carried(read, overhaul.on or date.min)
    if hours < 0:
        return BLANK, (
            f"the {line.meter.name} reads less than at the overhaul: was it changed? (`cowlnote "
            "meter`)"
        )
    return _measure(hours, "h"), ""


def _yes(value: bool | None) -> str:
    return BLANK if value is None else "yes" if value else "no"
