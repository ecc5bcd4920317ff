"""Laboratory reports in the record: added by a named person, chained, corrected by a later one."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from functools import cached_property
from typing import Any

from sqlmodel import Session, col, select

from record import chain, heads, jobs
from record.before import by_job, day_among
from record.errors import RefusedError
from record.history import Line, lines
from record.proof import Proof
from record.reading import SessionRows
from record.reports import LabReport, level
from record.seals import link_seal
from record.service import services
from record.tables import LabReportRow
from record.terms import Terms
from record.values import dump, now

NEAR = Decimal(1)  # h; hours on the oil are often given whole, and people round


@dataclass(frozen=True, slots=True)
class Kept:
    """A report as it stands in the record: which job's sample, who entered it, what it replaced."""

    id: int
    job: int | None
    aircraft: str | None
    supersedes: int | None
    superseded_by: int | None
    report: LabReport
    by: str
    at: datetime
    because: str


def add(
    session: Session,
    report: LabReport,
    by: str,
    *,
    job: int | None = None,
    aircraft: str | None = None,
    supersedes: int | None = None,
    because: str = "",
    today: date | None = None,
    terms: Terms = Terms(),
    ground: Ground | None = None,
) -> Kept:
    """Add a report; with `supersedes`, in the place of a wrong one, which stays, and with a reason.

    Without `job`, the report joins the job of the same aircraft and day, where there is just one.
    What does not fit that job, `today` or the aircraft's `terms` becomes a doubt that is kept.
    `ground` is what several are held against, read once for all of them. Raises `RefusedError`: no
    name, no reason for a correction, the same laboratory's report on the same sample there already,
    or no such report or job.
    """
    by = chain.person(by)
    ground = ground or Ground(session, aircraft, terms)
    standing = ground.standing
    if supersedes is not None:
        because = chain.reason(because)
        if supersedes not in standing:
            raise RefusedError(f"there is no report {supersedes} that counts")
        job = standing[supersedes].job if job is None else job
    for kept in ground.alike.get(_sample(report), ()):
        if kept.id != supersedes and _same_sample(kept.report, report):
            raise RefusedError(
                f"report {kept.id} of {kept.report.lab} on the sample of "
                f"{report.taken.isoformat()} is there already, entered by {kept.by}",
                todo="correct it instead",
            )
    if job is not None:
        jobs.get(session, job)
    else:
        found = ground.days.get(report.taken, [])
        job = found[0] if len(found) == 1 else None
    doubts = (*report.doubts, *_against(report, job, today, ground))
    row = LabReportRow(
        **_next(session),
        aircraft=aircraft,
        job_id=job,
        supersedes=supersedes,
        lab=report.lab,
        number=report.number,
        taken=report.taken.isoformat(),
        tach=None if report.tach is None else str(report.tach),
        hours=None if report.hours is None else str(report.hours),
        levels=dump({symbol: found.text for symbol, found in report.levels.items()}),
        note=report.note,
        source=report.source,
        doubts=dump(doubts),
        by=by,
        at=now(),
        because=because,
    )
    row.hash = sealed(row)
    session.add(row)
    session.flush()
    made = _kept(row, None)
    ground.add(made)
    return made


@dataclass
class Ground:
    """What reports of one aircraft are held against: those that count, its jobs, and its terms.

    Read once, so that a file of many reports takes a time in line with its rows; good for one
    session in which nothing else is entered.
    """

    session: Session
    aircraft: str | None = None
    terms: Terms = field(default_factory=Terms)

    @cached_property
    def standing(self) -> dict[int, Kept]:
        """Give the reports that count, by their numbers."""
        return {kept.id: kept for kept in reports(self.session, self.aircraft)}

    @cached_property
    def alike(self) -> dict[tuple[str, date], list[Kept]]:
        """Give the reports that count, by laboratory and day."""
        found: dict[tuple[str, date], list[Kept]] = {}
        for kept in self.standing.values():
            found.setdefault(_sample(kept.report), []).append(kept)
        return found

    @cached_property
    def days(self) -> dict[date | None, list[int]]:
        """Give the jobs by their days."""
        found: dict[date | None, list[int]] = {}
        entered = by_job(self.session, "service_date")
        for job in jobs.jobs(self.session, self.aircraft):
            found.setdefault(day_among(job, entered.get(job.id, [])), []).append(job.id)
        return found

    @cached_property
    def lines(self) -> dict[int, Line]:
        """Give each job in its place among the others."""
        every = jobs.jobs(self.session, self.aircraft)
        found = lines(services(self.session, every), self.terms)
        return {line.service.job.id: line for line in found}

    def add(self, kept: Kept) -> None:
        """Take in a report that was added, in the place of the one that it supersedes."""
        old = self.standing.pop(kept.supersedes, None) if kept.supersedes else None
        if old is not None:
            self.alike[_sample(old.report)].remove(old)
        self.alike.setdefault(_sample(kept.report), []).append(kept)
        self.standing[kept.id] = kept


def _sample(report: LabReport) -> tuple[str, date]:
    return report.lab.lower(), report.taken


def _same_sample(one: LabReport, other: LabReport) -> bool:
    return _sample(one) == _sample(other) and (
        one.number == other.number or not (one.number and other.number)
    )


def _against(report: LabReport, job: int | None, today: date | None, ground: Ground) -> list[str]:
    """Say what of a report does not fit its job or today, each in a sentence."""
    today = today or date.fromisoformat(now()[:10])
    found = []
    if report.taken > today:
        found.append(f"the sample is of {report.taken}, later than today ({today})")
    if job is None:
        return found
    line = ground.lines.get(job)
    if line is None:
        return found
    on, read = line.service.on, line.tach if line.tach is not None else line.reading
    if on is not None and on != report.taken:
        found.append(f"the sample is of {report.taken}, and job {job} of {on}")
    if None not in (read, report.tach) and read != report.tach:
        found.append(f"the report has the tach at {report.tach} h, and job {job} at {read} h")
    if line.hours is not None and report.hours is not None:
        low, high = line.hours.low - NEAR, line.hours.high + NEAR
        if not low <= report.hours <= high:
            found.append(
                f"the report has {report.hours} h on the oil, and job {job} {line.hours.value} h"
            )
    return found


def _next(session: Session) -> dict[str, Any]:
    last, seal = head(session)
    return {"id": last + 1, "prev": seal, "hash": ""}


def head(session: Session) -> tuple[int, str]:
    """Give the last place of the chain and its hash; (0, sixty-four zeros) when it is empty."""
    return heads.end(session, LabReportRow)


def sealed(row: LabReportRow) -> str:
    """Give the SHA-256 of a row: all its columns but the hash, as canonical JSON."""
    return link_seal("lab_report", row.model_dump())


def prove(session: Session) -> chain.Broken | None:
    """Walk the chain of the reports; give the first break, or None where every link holds."""
    return next(Proof(SessionRows(session)).reports(), None)


def reports(session: Session, aircraft: str | None = None, *, every: bool = False) -> list[Kept]:
    """Give the reports that count, by the day of the sample; with `every`, also those replaced."""
    query = select(LabReportRow).order_by(col(LabReportRow.taken), col(LabReportRow.id))
    if aircraft is not None:
        query = query.where(LabReportRow.aircraft == aircraft)
    rows = session.exec(query).all()
    later = {row.supersedes: row.id for row in rows if row.supersedes}
    found = [_kept(row, later.get(row.id)) for row in rows]
    return found if every else [kept for kept in found if kept.superseded_by is None]


def read_off(session: Session) -> set[str]:
    """Give the hashes of the photos that reports were read off; they lie in the vault too."""
    sources = session.exec(
        select(LabReportRow.source).where(col(LabReportRow.source).like("photo %"))
    )
    return {source.rpartition(" ")[2] for source in sources}


def _kept(row: LabReportRow, superseded_by: int | None) -> Kept:
    report = LabReport(
        row.lab,
        date.fromisoformat(row.taken),
        {symbol: level(text) for symbol, text in json.loads(row.levels).items()},
        None if row.tach is None else Decimal(row.tach),
        None if row.hours is None else Decimal(row.hours),
        row.number,
        row.note,
        row.source,
        tuple(json.loads(row.doubts)),
    )
    return Kept(
        row.id,
        row.job_id,
        row.aircraft,
        row.supersedes,
        superseded_by,
        report,
        row.by,
        datetime.fromisoformat(row.at),
        row.because,
    )
