"""Jobs: one piece of work on one aircraft, opened by what is taken in, closed by a named person."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import func
from sqlmodel import Session, col, select

from capture.observed import Instant
from record import chain
from record.errors import RefusedError
from record.tables import DraftRow, JobRow, MediaRow
from record.values import kind_now, moment, now

ONE_JOB = timedelta(hours=24)  # media that lie this close together belong to one job
KIND = "oil-and-filter"
WEAK_S = 12 * 3600.0  # a time that may be off by more than this does not tell the day
UNKNOWN = "free"  # the kind of a job before anything was said that tells
NOT_YET = "nothing was said yet that tells"


@dataclass(frozen=True, slots=True)
class Job:
    """A piece of work. `first`, `last` are when its media began; `waiting` counts open drafts.

    `offered` says from what its kind was offered, and is empty once a person has said the kind.
    What is `aside` is kept and not counted.
    """

    id: int
    kind: str
    aircraft: str | None
    opened_at: datetime
    closed_at: datetime | None
    closed_by: str | None
    first: datetime | None
    last: datetime | None
    waiting: int
    offered: str = ""
    aside: bool = False

    @property
    def is_open(self) -> bool:
        """Tell whether drafts can still be put and decided."""
        return self.closed_at is None


def job_for(
    session: Session,
    when: datetime | None,
    *,
    kind: str | None = KIND,
    job: int | None = None,
    new: bool = False,
    aircraft: str | None = None,
) -> int:
    """Give the job of media of this moment: `job` if named, else one open and near, else new.

    Near means within 24 h of its media, those of a weak time left out (`is_weak`); where the
    moment or the job's media are not known, the newest open job of this kind and aircraft will do.
    With `kind` None a job of any kind will, and a new one has none yet: see `offer`. Raises
    RefusedError for a job that is closed or not there.
    """
    if job is not None:
        if need_open(session, job).aside:
            raise RefusedError(f"job {job} is set aside", todo="take it back first")
        return job
    if not new:
        query = select(JobRow).where(
            col(JobRow.closed_at).is_(None),
            col(JobRow.aside).is_(False),
            col(JobRow.aircraft) == aircraft,
        )
        if kind is not None:
            query = query.where(JobRow.kind == kind)
        for row in session.exec(query.order_by(col(JobRow.id).desc())):
            if _near(session, row.id or 0, when):
                return row.id or 0
    row = JobRow(
        kind=kind or UNKNOWN,
        aircraft=aircraft,
        opened_at=now(),
        offered="" if kind else NOT_YET,
    )
    session.add(row)
    session.flush()
    return row.id or 0


def offer(session: Session, job: int, kind: str, why: str) -> None:
    """Give a job the kind that what was said tells, until a person has said it; `why` is shown."""
    row = session.get(JobRow, job)
    if row and row.offered and row.closed_at is None and (row.kind, row.offered) != (kind, why):
        row.kind, row.offered = kind, why
        session.add(row)
        session.flush()


def _near(session: Session, job: int, when: datetime | None) -> bool:
    sure, weak = _began(session, job)
    if when is None or not (sure or weak):
        return True
    if sure:
        return min(sure) - ONE_JOB <= when <= max(sure) + ONE_JOB
    return any(abs(at - when) <= ONE_JOB for at in weak)  # each by itself: they make no range


def _began(session: Session, job: int) -> tuple[list[datetime], list[datetime]]:
    """Give when the media of a job began: those of a sure time, and those of a weak one."""
    return _all_began(session, job).get(job, ([], []))


def _all_began(
    session: Session, job: int | None = None
) -> dict[int, tuple[list[datetime], list[datetime]]]:
    """Give the same of every job that has such media, or of the one, in one question."""
    query = select(
        MediaRow.job_id, MediaRow.began, MediaRow.began_source, MediaRow.began_uncertainty_s
    ).where(col(MediaRow.began).is_not(None), col(MediaRow.aside).is_(False))
    if job is not None:
        query = query.where(MediaRow.job_id == job)
    found: dict[int, tuple[list[datetime], list[datetime]]] = {}
    for its, began, source, off in session.exec(query):
        if its is not None and began:
            at = datetime.fromisoformat(began)
            weak = is_weak(Instant(at, source or "file", off or 0.0))
            found.setdefault(its, ([], []))[weak].append(at)
    return found


def is_weak(began: Instant | None) -> bool:
    """Tell whether a time is too weak to say on which day something was: it never widens a job."""
    return began is None or began.source == "file" or began.uncertainty_s > WEAK_S


def _span(began: tuple[list[datetime], list[datetime]]) -> tuple[datetime | None, datetime | None]:
    sure, weak = began
    every = sure or weak
    return (min(every), max(every)) if every else (None, None)


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


def jobs(session: Session, aircraft: str | None = None, *, every: bool = False) -> list[Job]:
    """Give the jobs that count, of one aircraft if named, oldest first; or `every` one."""
    query = select(JobRow).order_by(col(JobRow.id))
    if not every:
        query = query.where(col(JobRow.aside).is_(False))
    rows = session.exec(query if aircraft is None else query.where(JobRow.aircraft == aircraft))
    found = rows.all()
    began, waits = _all_began(session), _all_waiting(session)  # asked once, however many jobs
    return [_made(row, began.get(row.id or 0), waits.get(row.id or 0, 0)) for row in found]


def _job(session: Session, row: JobRow) -> Job:
    job = row.id or 0
    return _made(row, _began(session, job), waiting(session, job))


def _made(row: JobRow, began: tuple[list[datetime], list[datetime]] | None, waits: int) -> Job:
    first, last = _span(began or ([], []))
    return Job(
        row.id or 0,
        kind_now(row.kind),
        row.aircraft,
        datetime.fromisoformat(row.opened_at),
        moment(row.closed_at),
        row.closed_by,
        first,
        last,
        0 if row.aside else waits,
        row.offered,
        row.aside,
    )


def _all_waiting(session: Session) -> dict[int, int]:
    """Count the drafts that nobody has decided yet, by job."""
    query = select(DraftRow.job_id, func.count()).where(DraftRow.state == "waiting")
    return dict(session.exec(query.group_by(col(DraftRow.job_id))).all())


def waiting(session: Session, job: int) -> int:
    """Count the drafts of a job that nobody has decided yet."""
    query = select(func.count()).select_from(DraftRow)
    return session.exec(query.where(DraftRow.job_id == job, DraftRow.state == "waiting")).one()


def close(
    session: Session, job: int, by: str, *, because: str = "", left: tuple[str, ...] = ()
) -> None:
    """Freeze a job; `record.closing` says what is `left` and asks for the reason first.

    What is left and why it is closed all the same stand in the decision. Drafts that wait stay as
    they are. Raises RefusedError: no name, closed already, drafts still waiting and no reason.
    """
    by = chain.person(by)
    row = need_open(session, job)
    if (undecided := waiting(session, job)) and not because:
        raise RefusedError(
            f"job {job} has {undecided} draft{'s' * (undecided > 1)} that nobody has decided",
            todo="confirm, amend or reject first, or say why it is closed all the same",
        )
    decision = chain.decide(session, job, "close", by, because=because, doubts=left, media=None)
    row.closed_at, row.closed_by = decision.at, by
    session.add(row)
    session.flush()
