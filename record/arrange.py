"""Where memos, photos and jobs belong, as a named person says it: moved, split, joined, set aside.

Nothing is lost by it and nothing decided goes along unseen: a value that was decided from what is
moved is taken back by the same person, and waits again where its recording went. Each act is a link
of the record's chain and can be reversed by another. What was heard and read must then be drafted
anew for the jobs concerned (`desk.drafting.again`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session, col, select

from capture.observed import Instant
from extract.values.draft import Draft
from record import chain, correct, entries, jobs, media, queue
from record.errors import RefusedError
from record.rows import draft_of
from record.tables import ArrangementRow, DraftRow, JobRow, MediaRow
from record.values import dump_evidence, iso


@dataclass(frozen=True, slots=True)
class Arrangement:
    """What a person did, and when. `media` is what it was done to, None for the job itself."""

    id: int
    job: int
    media: int | None
    action: str
    was: str
    becomes: str
    by: str
    at: datetime
    because: str


@dataclass(frozen=True, slots=True)
class Done:
    """What an act touched: the jobs to draft anew, and how many decided values were taken back."""

    jobs: tuple[int, ...]
    taken_back: int = 0


def arrangements(session: Session, job: int | None = None) -> list[Arrangement]:
    """Give what was arranged, oldest first; of one job, what went from it or came to it."""
    found = []
    for row in session.exec(select(ArrangementRow).order_by(col(ArrangementRow.id))):
        to = row.action in ("move", "split", "join") and row.becomes == str(job)
        if job is None or row.job_id == job or to:
            at = datetime.fromisoformat(row.at)
            found.append(
                Arrangement(
                    row.id,
                    row.job_id,
                    row.media_id,
                    row.action,
                    row.was,
                    row.becomes,
                    row.by,
                    at,
                    row.because,
                )
            )
    return found


def move(
    session: Session,
    numbers: Sequence[int],
    to: int | None,
    by: str,
    because: str = "",
    *,
    action: str = "move",
) -> Done:
    """Move memos and photos to another open job, or to a new one where `to` is None.

    A new job has the aircraft of the one they come from. Raises RefusedError: no name, nothing to
    move, a job that is closed, not there or set aside.
    """
    by = chain.person(by)
    found = [_media(session, number) for number in dict.fromkeys(numbers)]
    if not found:
        raise RefusedError("nothing was named to move", todo="name memos or photos")
    origins = {row.job_id for row in found if row.job_id is not None}
    if to is None:
        first = jobs.get(session, found[0].job_id) if found[0].job_id else None
        aircraft = first.aircraft if first else None
        to = jobs.job_for(session, None, kind=None, new=True, aircraft=aircraft)
    elif jobs.need_open(session, to).aside:
        raise RefusedError(f"job {to} is set aside", todo=f"take it back first: job {to}")
    taken = 0
    for row in found:
        if row.job_id == to:
            continue
        if row.job_id is not None:
            jobs.need_open(session, row.job_id)
            taken += _release(session, row, by, because or f"moved to job {to}")
        _carry_over(session, row, to, by, because, action)
    return Done(tuple(sorted({*origins, to})), taken)


def _carry_over(
    session: Session, row: MediaRow, to: int, by: str, because: str, action: str
) -> None:
    was, waiting = row.job_id, _waiting(session, row, chain.ASIDE)
    _forget(session, row)
    twin = select(MediaRow).where(MediaRow.job_id == to, MediaRow.name == row.name)
    if session.exec(twin).first():
        row.name = media.own_name(row.original, row.sha256)
    there = {m.name for m in media.media(session, to)}
    for draft in waiting:
        stood, draft.state = draft.state, queue.WAITING  # only what waits may be changed
        draft.job_id, draft.media = to, row.name
        draft.also = dump_evidence(tuple(e for e in draft_of(draft).also if e.media in there))
        session.add(draft)
        session.flush()
        draft.state = stood
        session.add(draft)
    row.job_id = to
    session.add(row)
    told = {"was": str(was or ""), "becomes": str(to), "because": because}
    chain.arrange(session, was or to, action, by, media=row.id, **told)


def split(session: Session, job: int, numbers: Sequence[int], by: str, because: str = "") -> Done:
    """Put some of a job's memos and photos into a new job. Raises as `move` does.

    Refused too where they are not of the job, or are all there is in it.
    """
    here = {m.id for m in media.media(session, job)}
    if not set(numbers) <= here:
        raise RefusedError(f"what is split off must be of job {job}")
    if set(numbers) == here:
        raise RefusedError(f"that is all of job {job}", todo="name a part of it")
    return move(session, numbers, None, by, because, action="split")


def join(session: Session, job: int, into: int, by: str, because: str = "") -> Done:
    """Put all of a job into another; the empty one is set aside. Raises as `move` does."""
    by = chain.person(by)
    if job == into:
        raise RefusedError("a job cannot be joined to itself", todo="name two jobs")
    jobs.need_open(session, job)
    taken = 0
    for queued in queue.drafts(session, job):
        if not queued.draft.media:  # typed at the desk: nothing but the job holds it
            taken += _undo(session, queued.id, queued.state, by)
    here = [m.id for m in media.media(session, job)]
    if here:
        taken += move(session, here, into, by, because, action="join").taken_back
    elif jobs.need_open(session, into).aside:
        raise RefusedError(f"job {into} is set aside")
    typed = select(DraftRow).where(DraftRow.job_id == job, DraftRow.media == "")
    for row in session.exec(typed).all():
        row.job_id = into
        session.add(row)
    _put_aside(session, job, by, because or f"joined to job {into}")
    return Done((job, into), taken)


def set_kind(session: Session, job: int, kind: str, by: str, because: str = "") -> Done:
    """Say which kind of job it is; from then on none is offered. Raises RefusedError."""
    by, row = chain.person(by), jobs.need_open(session, job)
    chain.arrange(session, job, "kind", by, was=row.kind, becomes=kind, because=because)
    row.kind, row.offered = kind, ""
    session.add(row)
    session.flush()
    return Done((job,))


def set_aircraft(session: Session, job: int, aircraft: str, by: str, because: str = "") -> Done:
    """Say which aircraft a job is of; empty for none. Raises RefusedError."""
    by, row = chain.person(by), jobs.need_open(session, job)
    was = row.aircraft or ""
    chain.arrange(session, job, "aircraft", by, was=was, becomes=aircraft, because=because)
    row.aircraft = aircraft or None
    session.add(row)
    session.flush()
    return Done((job,))


def aside(session: Session, job: int, by: str, because: str, number: int | None = None) -> Done:
    """Set a memo or photo of a job aside, or the whole job: kept, and not counted.

    Raises RefusedError: no name, no reason, closed, set aside already.
    """
    by, because = chain.person(by), chain.reason(because)
    jobs.need_open(session, job)
    if number is None:
        _put_aside(session, job, by, because)
        return Done((job,))
    row = _of(session, job, number)
    if row.aside:
        raise RefusedError(f"{row.name} is set aside already")
    taken = _release(session, row, by, because)
    _forget(session, row)
    for draft in _waiting(session, row):
        draft.state = chain.ASIDE
        session.add(draft)
    row.aside = True
    session.add(row)
    told = {"was": "", "becomes": chain.ASIDE, "because": because}
    chain.arrange(session, job, "aside", by, media=number, **told)
    return Done((job,), taken)


def back(session: Session, job: int, by: str, because: str = "", number: int | None = None) -> Done:
    """Take back what was set aside. Raises RefusedError: no name, closed, not set aside."""
    by, row = chain.person(by), jobs.need_open(session, job)
    it: JobRow | MediaRow = row
    if number is not None:
        it = _of(session, job, number)
        query = select(DraftRow).where(DraftRow.job_id == job, DraftRow.media == it.name)
        for draft in session.exec(query.where(DraftRow.state == chain.ASIDE)).all():
            draft.state = queue.WAITING
            session.add(draft)
    if not it.aside:
        what = it.name if isinstance(it, MediaRow) else f"job {job}"
        raise RefusedError(f"{what} is not set aside")
    it.aside = False
    session.add(it)
    told = {"was": chain.ASIDE, "becomes": "", "because": because}
    chain.arrange(session, job, "back", by, media=number, **told)
    return Done((job,))


def shift_clock(
    session: Session, numbers: Sequence[int], shift: timedelta, by: str, because: str = ""
) -> Done:
    """Put right when memos or photos began, where their clock is known to be off by `shift`.

    Raises RefusedError: no name, a time that is not known, a closed job.
    """
    by = chain.person(by)
    touched = set()
    for number in dict.fromkeys(numbers):
        row = _media(session, number)
        began = media.media_of(row).began
        if began is None or row.job_id is None:
            raise RefusedError(f"no time is known for {row.name}")
        jobs.need_open(session, row.job_id)
        right = Instant(began.at + shift, "person", 60.0, f"its clock was put right by {by}")
        told = {"was": iso(began.at) or "", "becomes": iso(right.at) or "", "because": because}
        media.set_began(session, number, right)
        chain.arrange(session, row.job_id, "clock", by, media=number, **told)
        touched.add(row.job_id)
    return Done(tuple(sorted(touched)))


def put_away(
    session: Session, job: int, kept: Iterable[int], gives_way: Callable[[Draft], bool]
) -> None:
    """Let drafts go that wait in a job and have no place there after it was drafted anew.

    That are those of which no recording is left in the job, those that a draft of `kept` tells in
    full, and those that `gives_way` names. They stay in the record as set aside.
    """
    standing = set(kept)
    here = {m.name for m in media.media(session, job, every=False)}
    rows = session.exec(
        select(DraftRow).where(DraftRow.job_id == job, DraftRow.state == queue.WAITING)
    ).all()
    full = [draft_of(row) for row in rows if row.id in standing]
    for row in rows:
        draft = draft_of(row)
        if row.id in standing or not draft.media:
            continue
        gone = not (_witnesses(draft) & here)
        if gone or gives_way(draft) or any(_tells(one, draft) for one in full):
            row.state = chain.ASIDE
            session.add(row)
    session.flush()


def _witnesses(draft: Draft) -> set[str]:
    return {draft.media, *(e.media for e in draft.also)}


def _tells(one: Draft, other: Draft) -> bool:
    """Tell whether a draft rests on all that another rests on: that one was read anew in it."""
    return one.slot == other.slot and _witnesses(other) <= _witnesses(one)


def _media(session: Session, number: int) -> MediaRow:
    row = session.get(MediaRow, number)
    if row is None:
        raise RefusedError(f"there is no memo or photo {number}")
    return row


def _of(session: Session, job: int, number: int) -> MediaRow:
    row = _media(session, number)
    if row.job_id != job:
        raise RefusedError(f"{row.name} is not of job {job}")
    return row


def _put_aside(session: Session, job: int, by: str, because: str) -> None:
    row = jobs.need_open(session, job)
    if row.aside:
        raise RefusedError(f"job {job} is set aside already")
    row.aside = True
    session.add(row)
    chain.arrange(session, job, "aside", by, was="", becomes=chain.ASIDE, because=because)


def _waiting(session: Session, row: MediaRow, *more: str) -> list[DraftRow]:
    """Give the drafts that stand with a memo or photo and wait, or are of `more` states."""
    states = (queue.WAITING, *more)
    query = select(DraftRow).where(DraftRow.job_id == row.job_id, DraftRow.media == row.name)
    return list(session.exec(query.where(col(DraftRow.state).in_(states))).all())


def _forget(session: Session, row: MediaRow) -> None:
    """Let what waits in a job no longer name as a witness what goes from it."""
    query = select(DraftRow).where(DraftRow.job_id == row.job_id, DraftRow.state == queue.WAITING)
    for draft in session.exec(query).all():
        also = draft_of(draft).also
        left = tuple(e for e in also if e.media != row.name)
        if len(left) < len(also):
            draft.also = dump_evidence(left)
            session.add(draft)


def _undo(session: Session, draft: int, state: str, by: str) -> int:
    if state in (queue.WAITING, chain.ASIDE):
        return 0
    queue.undo(session, draft, by, moved=True)
    return 1


def _release(session: Session, row: MediaRow, by: str, because: str) -> int:
    """Take back what was decided from a memo or photo; give how many values that were."""
    if row.job_id is None:
        return 0
    query = select(DraftRow).where(DraftRow.job_id == row.job_id, DraftRow.media == row.name)
    found = list(session.exec(query).all())
    taken = sum(_undo(session, d.id or 0, d.state, by) for d in found)
    for entry in entries.entries(session, row.job_id):
        if entry.media == row.name:  # corrected since: an undo of the draft does not reach it
            correct.withdraw(session, entry.id, by, because)
            taken += 1
    return taken
