"""Laboratory reports from what was typed or a CSV file into the record. Knows no screen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from capture.errors import InputError

if TYPE_CHECKING:
    from desk.opening import Opened
    from record.lab import Kept
    from record.reports import LabReport


def made(
    figures: Mapping[str, str] | Sequence[str],
    laboratory: str,
    date: str,
    hours: str = "",
    tach: str = "",
    number: str = "",
    note: str = "",
    source: str = "typed",
) -> LabReport:
    """Make a report of figures by metal, or as `Fe=22`. Raises InputError for what cannot be."""
    from record.reports import day, hours_of, make

    return make(
        laboratory,
        day(date),
        figures if isinstance(figures, Mapping) else _pairs(figures),
        hours=hours_of(hours),
        tach=hours_of(tach),
        number=number,
        note=note,
        source=source,
    )


def _pairs(figures: Sequence[str]) -> dict[str, str]:
    pairs = [figure.partition("=") for figure in figures]
    for name, sign, _ in pairs:
        if not sign:
            raise InputError(f"'{name}' has no figure", todo="write it as Fe=22")
    if len({name for name, _, _ in pairs}) < len(pairs):
        raise InputError("a metal is given twice", todo="give each once")
    return {name: text for name, _, text in pairs}


def from_csv(file: Path, laboratory: str) -> tuple[LabReport, ...]:
    """Read the reports of a CSV file; all or none. Raises InputError."""
    from record.reports import read_csv

    try:
        text = file.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "not text in UTF-8"
        raise InputError(f"cannot be read ({why})", file, "save it as CSV in UTF-8") from None
    return read_csv(text, source=file.name, lab=laboratory)


def held(here: Opened) -> dict[str, Any]:
    """Give what a report is held against besides its job: today, and the owner's terms."""
    profile = here.settings.profile
    return {"today": datetime.now(profile.zone).date(), "terms": profile.terms()}


def enter(
    here: Opened, reports: Sequence[LabReport], by: str, job: int | None = None
) -> list[Kept]:
    """Enter reports in a person's name, all or none; each joins the job of its day."""
    from record import lab as kept

    aircraft = here.settings.profile.registration or None
    told = held(here)
    with here.store.session() as session:
        told["ground"] = kept.Ground(session, aircraft, told["terms"])
        return [kept.add(session, one, by, job=job, aircraft=aircraft, **told) for one in reports]


def correct(here: Opened, number: int, report: LabReport, by: str, because: str) -> Kept:
    """Put a right report in the place of a wrong one; the wrong one stays, with the reason."""
    from record import lab as kept

    aircraft = here.settings.profile.registration or None
    with here.store.session() as session:
        return kept.add(
            session,
            report,
            by,
            aircraft=aircraft,
            supersedes=number,
            because=because,
            **held(here),
        )


def report_text(report: LabReport) -> list[str]:
    """Say what a report holds, and what is doubtful in it."""
    given = " ".join(f"{s}={v.text}" for s, v in report.levels.items())
    hours = f" {report.hours} h" if report.hours is not None else ""
    told = f"{report.lab}, {report.taken.isoformat()}{hours}: {given}"
    return [told, *(f"  ? {doubt}" for doubt in report.doubts)]


def entered_text(done: Sequence[Kept]) -> list[str]:
    """Say of each report that it was entered, where, by whom, and what is doubtful in it."""
    told = []
    for one in done:
        where = f"job {one.job}" if one.job is not None else "no job of that day"
        told.append(
            f"report {one.id}: {one.report.lab}, sample of {one.report.taken.isoformat()}, "
            f"{where}, entered by {one.by}"
        )
        told += [f"  ? {doubt}" for doubt in one.report.doubts]
    return told
