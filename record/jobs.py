"""Jobs: one piece of work on one aircraft, opened by what is taken in, closed by a named person."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import func
from sqlmodel import Session, col, select

from record import chain
from record.errors import RefusedError
from record.tables import DraftRow, JobRow, MediaRow
from record.values import moment, now

ONE_JOB = timedelta(hours=24)  # media that lie this close together belong to one job
KIND = "oil-and-filter"


@dataclass(frozen=True, slots=True)
class Job:
    """A piece of work. `first`, `last` are when its media began; `waiting` counts open drafts."""

    id: int
    kind: str
    aircraft: str | None
    opened_at: datetime
    closed_at: datetime | None
    closed_by: str | None
    first: datetime | None
    last: datetime | None
    waiting: int

    @property
    def is_open(self) -> bool:
        """Tell whether drafts can still be put and decided."""
        return self.closed_at is None


def job_for(
    session: Session,
    when: datetime | None,
    *,
    kind: str = KIND,
    job: int | None = None,
    new: bool = False,
    aircraft: str | None = None,
) -> int:
    """Give the job of media of this moment: `job` if named, else one open and near, else new.

    Near means within 24 h of its media; where the moment or the job's media are not known, the
    newest open job of this kind and aircraft will do. Raises RefusedError for a job that is closed
    or not there.
    """
    if job is not None:
        return need_open(session, job).id or 0
    if not new:
        query = select(JobRow).where(
            col(JobRow.closed_at).is_(None), JobRow.kind == kind, col(JobRow.aircraft) == aircraft
        )
        for row in session.exec(query.order_by(col(JobRow.id).desc())):
            if _near(session, row.id or 0, when):
                return row.id or 0
    row = JobRow(kind=kind, aircraft=aircraft, opened_at=now())
    session.add(row)
    session.flush()
    return row.id or 0


def _near(session: Session, job: int, when: datetime | None) -> bool:
    first, last = _span(session, job)
    if when is None or first is None or last is None:
        return True
    return first - ONE_JOB <= when <= last + ONE_JOB


def _span(session: Session, job: int) -> tuple[datetime | None, datetime | None]:
    query = select(MediaRow.began).where(MediaRow.job_id == job, col(MediaRow.began).is_not(None))
    began = session.exec(query.order_by(col(MediaRow.began_utc))).all()
    return (moment(began[0]), moment(began[-1])) if began else (None, None)


def need_open(session: Session, job: int) -> JobRow:
    """Give the row of a job that is there and open, ours alone until the session ends.

    Raises RefusedError otherwise.
    """
    row = session.get(JobRow, job, with_for_update=True)
    if row is None:
        raise RefusedError(f"there is no job {job}", todo="see `cowlnote jobs`")
    if row.closed_at:
        raise RefusedError(
            f"job {job} was closed by {row.closed_by} at {row.closed_at}",
            todo="correct an entry of it, or start a new job",
        )
    return row


def get(session: Session, job: int) -> Job:
    """Give one job. Raises RefusedError when there is none of that number."""
    row = session.get(JobRow, job)
    if row is None:
        raise RefusedError(f"there is no job {job}", todo="see `cowlnote jobs`")
    return _job(session, row)


def jobs(session: Session, aircraft: str | None = None) -> list[Job]:
    """Give all jobs, of one aircraft if named, oldest first."""
    query = select(JobRow).order_by(col(JobRow.id))
    rows = session.exec(query if aircraft is None else query.where(JobRow.aircraft == aircraft))
    return [_job(session, row) for row in rows.all()]


def _job(session: Session, row: JobRow) -> Job:
    job = row.id or 0
    first, last = _span(session, job)
    opened = datetime.fromisoformat(row.opened_at)
    closed = moment(row.closed_at)
    return Job(
        job,
        row.kind,
        row.aircraft,
        opened,
        closed,
        row.closed_by,
        first,
        last,
        waiting(session, job),
    )


def waiting(session: Session, job: int) -> int:
    """Count the drafts of a job that nobody has decided yet."""
    query = select(func.count()).select_from(DraftRow)
    return session.exec(query.where(DraftRow.job_id == job, DraftRow.state == "waiting")).one()


def close(session: Session, job: int, by: str) -> None:
    """Freeze a job. Raises RefusedError: no name, closed already, drafts still waiting."""
    by = chain.person(by)
    row = need_open(session, job)
    if left := waiting(session, job):
        raise RefusedError(
            f"job {job} has {left} draft{'s' * (left > 1)} that nobody has decided",
            todo="confirm, amend or reject first",
        )
    decision = chain.decide(session, job, "close", by)
    row.closed_at, row.closed_by = decision.at, by
    session.add(row)
    session.flush()
