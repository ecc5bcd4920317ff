"""The slip that goes to the laboratory with an oil sample, filled from confirmed values alone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from record.errors import RefusedError
from record.history import Line, figure, truth, word
from record.shop import short

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
    overhaul_tach: Decimal | None = None,
    usual_oil: str | None = None,
    additive: str | None = None,
) -> list[SlipLine]:
    """Give the lines of the sample slip for a service.

    What a laboratory's form asks for: hours on the oil, hours since overhaul, oil and additive, oil
    added since the last change (NAVEDTRA 14008 and TB 43-0211 for what a form must carry). The oil
    in the sample is the oil that went in at the change before; `usual_oil` and `additive` are the
    profile's and are marked so. `overhaul_tach` is the tach at the last overhaul, in h. Raises
    `RefusedError` where the record says that no sample was taken.
    """
    service = line.service
    if truth(service, "sample_taken") is False:
        raise RefusedError(
            f"job {service.job.id} says that no oil sample was taken",
            todo="correct that entry if one was",
        )
    said = service.entry("sample_taken")
    at = said.said_at.isoformat(" ", "minutes") if said and said.said_at else BLANK
    hours = line.hours.value if line.hours else None
    made = [
        SlipLine("Aircraft", registration, "not in the profile"),
        SlipLine(
            "Sample taken on", service.on.isoformat() if service.on else BLANK, "no day known"
        ),
        SlipLine("At", at, "nobody said when"),
        SlipLine(
            "When in the drain", f"“{said.heard}”" if said and said.media else BLANK, "not said"
        ),
        SlipLine("Sample volume", _measure(figure(service, "sample_volume"), "fl oz"), "not noted"),
        SlipLine("Tach time", _measure(line.tach, "h"), "not confirmed"),
        SlipLine("Hours on the oil", _measure(hours, "h"), line.why),
        SlipLine("Hours since overhaul", _overhaul(line.tach, overhaul_tach), "not in the profile"),
        SlipLine("Make-up oil since the change", _measure(line.topped_up, "qt")),
        SlipLine("Oil in the sample", _oil(line, usual_oil), "the change before does not say"),
        SlipLine("Additive in the sample", _additive(line, additive), "none noted"),
        SlipLine("Filter opened", _yes(truth(service, "filter_opened")), "not noted"),
        SlipLine("Metal in the filter", word(service, "metal_found") or BLANK, "not noted"),
    ]
    return [replace(one, why="") if one.value else one for one in made]


def _oil(line: Line, usual: str | None) -> str:
    grade = word(line.before, "oil_grade") if line.before else None
    if grade is None:
        return f"{usual} (the usual oil of the profile)" if usual else BLANK
    return grade


def _additive(line: Line, additive: str | None) -> str:
    ounces = figure(line.before, "additive_added") if line.before else None
    if ounces is None:
        return BLANK
    return " ".join(filter(None, (_measure(ounces, "fl oz"), additive)))


def _measure(value: Decimal | None, unit: str) -> str:
    return BLANK if value is None else f"{short(value, 2)} {unit}"


def _overhaul(tach: Decimal | None, overhaul: Decimal | None) -> str:
    return BLANK if tach is None or overhaul is None else _measure(tach - overhaul, "h")


def _yes(value: bool | None) -> str:
    return BLANK if value is None else "yes" if value else "no"
