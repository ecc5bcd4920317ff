"""The services of an aircraft as lines of text: history, what is due, the slip."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

from desk.findings import MARK
from desk.opening import Opened
from extract.values.catalogue import Catalogue
from extract.values.draft import plain
from extract.values.units import US, Units
from record import history, jobs, journal, lab
from record.compute import in_units
from record.history import Line, figure, is_oil_change, word
from record.rules import metals
from record.service import Service, services
from record.shop import short
from record.slip import UNCONFIRMED, SlipLine

if TYPE_CHECKING:
    from desk.profile import Profile
    from record.store import Store


@dataclass(frozen=True, slots=True)
class Ledger:
    """All services of an aircraft in order, with what lies between them, and its oil reports."""

    lines: tuple[Line, ...]
    reports: tuple[lab.Kept, ...]

    def reports_of(self, one: Service) -> list[lab.Kept]:
        """Give the laboratories' reports on the sample of a service."""
        return [kept for kept in self.reports if kept.job == one.job.id]


def open_ledger(here: Opened) -> Ledger:
    """Gather the services and reports of the profile's aircraft, or of all where it names none.

    It is gathered once for each head of the record, which no change leaves as it was.
    """
    with here.store.session(write=False) as session:
        head = journal.head(session)
        held = _LAST.get(here.store)
        if held is None or held[:2] != (head, id(here.settings.profile)):
            held = head, id(here.settings.profile), here.settings.profile, _gather(here, session)
            _LAST[here.store] = held
    return held[3]


# the last ledger of each open record, with the head and the profile that it was gathered for
_LAST: WeakKeyDictionary[Store, tuple[tuple[int, str], int, Profile, Ledger]] = WeakKeyDictionary()


def _gather(here: Opened, session: Any) -> Ledger:
    registration = here.settings.profile.registration or None
    mine = [
        j for j in jobs.jobs(session) if registration is None or j.aircraft in (None, registration)
    ]
    lines = history.lines(services(session, mine, here.catalogue), here.settings.profile.terms())
    return Ledger(tuple(lines), tuple(lab.reports(session, registration)))


def columns(rows: Sequence[Sequence[str]]) -> list[str]:
    """Lay rows of cells out in columns, two spaces between, no space at the end."""
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]))]
    return [
        "  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip() for row in rows
    ]


HEAD = (
    "date",
    "job",
    "tach",
    "work",
    "h on oil",
    "oil in",
    "qt an hour",
    "metal",
    "oil report (Fe, Cu ppm)",
)


def history_text(ledger: Ledger, catalogue: Catalogue, units: Units = US) -> list[str]:
    """Give one line a service, the oldest first; below them, what kept a sum from being made."""
    if not ledger.lines:
        return ["no services in the record"]
    meter = ledger.lines[0].meter.name
    named = {"tach": meter, "qt an hour": f"{units.own('qt')} an hour"}
    rows: list[Sequence[str]] = [tuple(named.get(c, c) for c in HEAD)]
    for line in ledger.lines:
        rows.append(_row(line, ledger.reports_of(line.service), catalogue, units))
    notes = [
        f"{_day(line.service)}, job {line.service.job.id}: {note}"
        for line in ledger.lines
        for note in _notes(line)
    ]
    return [*columns(rows), *([""] if notes else []), *notes]


def _row(
    line: Line, reports: Iterable[lab.Kept], catalogue: Catalogue, units: Units
) -> Sequence[str]:
    one = line.service
    kind = catalogue.jobs.get(one.job.kind)
    added = figure(one, "oil_added")
    return (
        _day(one),
        str(one.job.id),
        _read(line),
        kind.label if kind else one.job.kind,
        short(line.hours.value, 1) if line.hours else "",
        units.show(added, "qt") if added is not None else "",
        _rate(line, units),
        _metal(one, catalogue),
        "; ".join(_report(kept) for kept in reports),
    )


def _read(line: Line) -> str:
    """Give what the meter read; of a meter that was changed, the old one and the new."""
    old, new = (figure(line.service, name) for name in (line.meter.removed, line.meter.fitted))
    if old is not None and new is not None:
        return f"{old} → {new}"
    return str(line.reading) if line.reading is not None else "not confirmed"


def _rate(line: Line, units: Units) -> str:
    if line.oil is None or line.oil.per_hour is None:
        return ""
    return in_units(line.oil.per_hour, "qt", units).show("", 3).replace("  ", " ")


def _metal(one: Service, catalogue: Catalogue) -> str:
    found = word(one, "metal_found") or ""
    bad = catalogue.fields["metal_found"].finding(found or None)
    return f"{MARK} {found}" if bad else found


def _report(kept: lab.Kept) -> str:
    figures = kept.report.levels
    shown = " ".join(
        f"{s} {figures[s].text}" for s in metals() if s in figures and s in ("Fe", "Cu")
    )
    return f"{kept.report.lab}: {shown}" if shown else kept.report.lab


def _notes(line: Line) -> list[str]:
    notes = []
    if line.service.on is None:
        notes.append("no date is confirmed, so its place among the others is not known")
    if is_oil_change(line.service) and line.oil is None:
        notes.append(f"no oil consumption: {line.oil_why}")
    elif line.oil is not None:
        notes += line.oil.notes
    if is_oil_change(line.service) and line.hours is None:
        notes.append(f"no hours on the oil: {line.why}")
    notes += line.asides
    if line.service.missing:
        notes.append(
            f"not confirmed: {', '.join(n.replace('_', ' ') for n in line.service.missing)}"
        )
    return notes


def _day(one: Service) -> str:
    return one.on.isoformat() if one.on else "no date"


def history_json(ledger: Ledger) -> list[dict[str, Any]]:
    """Give the history JSON-ready; intervals as [low, value, high], an endless one as null."""
    return [
        {
            "job": line.service.job.id,
            "kind": line.service.job.kind,
            "date": line.service.on.isoformat() if line.service.on else None,
            "meter": line.meter.name,
            "tach_time": _plain(line.tach),
            "hour_meter_time": _plain(figure(line.service, "hour_meter_time")),
            "hours_on_oil": _three(line.hours),
            "hours_on_filter": _three(line.filter_hours),
            "topped_up_qt": _plain(line.topped_up),
            "oil_added_qt": _plain(figure(line.service, "oil_added")),
            "used_qt": _three(line.oil.used if line.oil else None),
            "qt_per_hour": _three(line.oil.per_hour if line.oil else None),
            "hours_per_qt": _three(line.oil.per_quart if line.oil else None),
            "oil_note": "; ".join(line.oil.notes) if line.oil else line.oil_why,
            "metal_found": word(line.service, "metal_found"),
            "missing": list(line.service.missing),
            "reports": [
                {
                    "id": k.id,
                    "lab": k.report.lab,
                    "ppm": {s: v.text for s, v in k.report.levels.items()},
                }
                for k in ledger.reports_of(line.service)
            ],
        }
        for line in ledger.lines
    ]


def _plain(value: Decimal | None) -> Any:
    return None if value is None or not value.is_finite() else plain(value)


def _three(interval: Any) -> list[Any] | None:
    return (
        None
        if interval is None
        else [_plain(v) for v in (interval.low, interval.value, interval.high)]
    )


def slip_text(lines: Sequence[SlipLine]) -> list[str]:
    """Give the sample slip as lines; what the record does not know is left to be written in."""
    width = max(len(line.label) for line in lines)
    blank = "_" * 24
    unconfirmed = any(line.why == UNCONFIRMED for line in lines)
    return [
        "OIL SAMPLE SLIP",
        *([f"{UNCONFIRMED.upper()}: the record does not say that one was taken."] * unconfirmed),
        "",
        *(f"{line.label.ljust(width)}  {line.value or f'{blank} ({line.why})'}" for line in lines),
        "",
        "Filled from confirmed values alone. Check it against the bottle before it goes.",
    ]


def awaited(ledger: Ledger) -> list[str]:
    """Say of which jobs an oil sample was taken and no laboratory's report is in the record."""
    told = []
    for line in ledger.lines:
        taken = line.service.entry("sample_taken")
        if taken is not None and taken.value is True and not ledger.reports_of(line.service):
            told.append(f"sample of {_day(line.service)}, job {line.service.job.id}")
    return told


def job_slip(here: Opened, job: int | None) -> list[str]:
    """Give the slip for the oil sample of a job, the one named or the newest oil change."""
    from desk.lookup import line_of
    from record.slip import slip

    profile = here.settings.profile
    made = slip(
        line_of(here, job, sampled=True),
        registration=profile.registration,
        overhaul=profile.overhaul(),
        usual_oil=profile.oil,
        additive=profile.additive,
        units=profile.units,
    )
    return slip_text(made)
