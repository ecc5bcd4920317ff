"""Findings in the record: their numbers in a job, and what became of each defect.

A finding has its number in its job, shared by defects and remarks, so that no finding takes the
place of another. A defect's state changes by an entry that supersedes the one before it, in the
same job or in a later one; all of them stay.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from sqlmodel import Session, select

from capture.errors import InputError
from extract.values.defects import (
    CLEARED,
    DEFECT,
    DEFERRED,
    FINDINGS,
    OPEN,
    finding_of,
    likeness,
    one_thing,
    told,
)
from extract.values.draft import Draft, Position, Value
from record import chain, entries, jobs
from record.entries import Entry
from record.errors import RefusedError
from record.jobs import Job
from record.rows import draft_of
from record.tables import DraftRow
from record.values import dump, pack, utc

ACTIONS = {OPEN: "reopen", DEFERRED: "defer", CLEARED: "clear"}
LIKE = 0.6  # share of telling words with which two findings may be one; the project's own choice


@dataclass(frozen=True, slots=True)
class Defect:
    """A defect over all jobs: the entry that found it, the newest one, and all that were made.

    `days` are those of the jobs of `every`, None where a job has none.
    """

    first: Entry
    now: Entry
    every: tuple[Entry, ...]
    days: tuple[date | None, ...] = ()

    def on(self, entry: Entry) -> date | None:
        """Give the day of the job that an entry of it was made in, or None."""
        of = zip(self.every, self.days, strict=True)
        return next((day for one, day in of if one.id == entry.id), None)

    @property
    def ref(self) -> str:
        """Give how a person names it: job and number, `3.2`."""
        return f"{self.first.job}.{self.first.position}"

    @property
    def state(self) -> str:
        """Give open, deferred or cleared."""
        return told(self.now.value or "").state

    @property
    def until(self) -> str:
        """Give what it was put off until, or nothing."""
        return told(self.now.value or "").until

    @property
    def words(self) -> str:
        """Give the finding as it was first entered."""
        return told(self.first.value or "").words


def slot_of(draft: Draft) -> tuple[str, Position]:
    """Give what a draft is about; a remark and a defect of one number are one finding."""
    return ("finding" if draft.name in FINDINGS else draft.name), draft.position


def numbered(session: Session, job: int, drafts: Sequence[Draft]) -> list[Draft]:
    """Give the drafts with a number for each finding: the one that it had, else the next free."""
    if not any(d.name in FINDINGS and d.position is None for d in drafts):
        return list(drafts)
    rows = session.exec(select(DraftRow).where(DraftRow.job_id == job)).all()
    had = [d for row in rows if (d := draft_of(row)).name in FINDINGS]
    following = next_number(session, job)
    taken: set[Position] = set()
    made = []
    for draft in drafts:
        if draft.name in FINDINGS and draft.position is None:
            old = next((h for h in had if h.position not in taken and one_thing(h, draft)), None)
            place = old.position if old else following
            following += old is None
            taken.add(place)
            draft = replace(draft, position=place)
        made.append(draft)
    return made


def next_number(session: Session, job: int) -> int:
    """Give the next free number of a finding in a job, from 1."""
    query = select(DraftRow).where(DraftRow.job_id == job)
    places = [d.position for row in session.exec(query) if (d := draft_of(row)).name in FINDINGS]
    places += [e.position for e in entries.entries(session, job, every=True) if e.name in FINDINGS]
    return max((p for p in places if isinstance(p, int)), default=0) + 1


def defects(session: Session, aircraft: str | None = None) -> list[Defect]:
    """Give every defect that counts, of one aircraft if named, the oldest first."""
    rows = entries.entries(session, name=DEFECT, every=True)
    if not rows:
        return []
    counting = {j.id: j for j in jobs.jobs(session)}
    days = {j: _day(session, counting[j]) for j in {r.job for r in rows} if j in counting}
    after = {e.supersedes: e for e in rows if e.supersedes}
    made = []
    for first in rows:
        its = counting.get(first.job)
        if first.supersedes is None and its and aircraft in (None, its.aircraft):
            every = tuple(_line(first, after))
            if stack := _standing(e for e in every if e.job in counting):
                when = tuple(days.get(e.job) for e in every)
                made.append(Defect(stack[0], stack[-1], every, when))
    return made


def _day(session: Session, job: Job) -> date | None:
    for entry in entries.entries(session, job.id, "service_date"):
        if isinstance(entry.value, date):
            return entry.value
    return job.first.date() if job.first else None


def _line(first: Entry, after: dict[int, Entry]) -> Iterable[Entry]:
    at: Entry | None = first
    while at is not None:
        yield at
        at = after.get(at.id)


def _standing(every: Iterable[Entry]) -> list[Entry]:
    """Give what stands of a line of entries: one withdrawn leaves what was there before it."""
    stack: list[Entry] = []
    for entry in every:
        if entry.value is None:
            del stack[-1:]
        else:
            stack.append(entry)
    return stack


def not_cleared(session: Session, aircraft: str | None = None) -> list[Defect]:
    """Give the defects that are open or deferred."""
    return [d for d in defects(session, aircraft) if d.state != CLEARED]


def find(session: Session, ref: str) -> Defect:
    """Give a defect by job and number, `3.2`. Raises InputError, RefusedError where none is."""
    job, _, number = ref.strip().partition(".")
    if not (job.isdecimal() and number.isdecimal()):
        raise InputError(f"“{ref}” names no defect", todo="write job and number, as 3.1")
    for defect in defects(session):
        named = (defect.first, defect.now)
        if any((e.job, e.position) == (int(job), int(number)) for e in named):
            return defect
    raise RefusedError(f"there is no defect {ref}", todo="see `cowlnote defects --all`")


def settle(
    session: Session,
    ref: str,
    state: str,
    by: str,
    because: str,
    *,
    until: str = "",
    job: int | None = None,
) -> Entry:
    """Say what became of a defect, in the name of a person; what it was before stays.

    `job` is the one in which it was done: by default the newest open one of the aircraft. Raises
    RefusedError: no name, no reason, no such defect, in that state already, no open job, or one of
    an earlier day; InputError for another state.
    """
    by, because = chain.person(by), chain.reason(because)
    if state not in ACTIONS:
        raise InputError(f"“{state}” is no state of a defect", todo="open, deferred or cleared")
    defect = find(session, ref)
    value = finding_of(defect.words, state, until)
    if defect.now.value == value:
        raise RefusedError(f"defect {ref} is {state} already, by {defect.now.by}")
    number = job if job is not None else _open_job(session, defect)
    jobs.need_open(session, number)
    found, then = defect.on(defect.first), _day(session, jobs.get(session, number))
    if found and then and then < found:
        raise RefusedError(
            f"job {number} is of {then}, and the defect was found on {found}", todo="name another"
        )
    last = defect.every[-1]
    decision = chain.decide(session, number, ACTIONS[state], by, because=because)
    here = number == defect.now.job
    place = defect.now.position if here else next_number(session, number)
    row = chain.enter(
        session,
        job_id=number,
        decision_id=decision.id,
        supersedes=last.id,
        name=DEFECT,
        position=dump(place),
        kind=pack(value)[0],
        value=value,
        unit=None,
        said=None,
        media="",
        start_s=None,
        end_s=None,
        said_at=None,
        said_utc=utc(datetime.fromisoformat(decision.at)),
        heard=f"defect {defect.ref}: {because}",
        by=by,
        at=decision.at,
        text=f"defect {value} {because}",
    )
    return entries.entry_of(row)


def new_job(session: Session, ref: str) -> int:
    """Open a job for what became of a defect; give its number."""
    aircraft = jobs.get(session, find(session, ref).first.job).aircraft
    return jobs.job_for(session, None, kind=jobs.UNKNOWN, new=True, aircraft=aircraft)


def _open_job(session: Session, defect: Defect) -> int:
    aircraft = jobs.get(session, defect.first.job).aircraft
    running = [j.id for j in jobs.jobs(session, aircraft) if j.is_open and j.id >= defect.now.job]
    if not running:
        raise RefusedError(
            "no job is open to keep this in", todo="name it with --in, or --in new for a new one"
        )
    return running[-1]


def like(found: Iterable[Defect], value: Value, job: int | None = None) -> list[Defect]:
    """Give the defects of other jobs that are in words much like a finding's."""
    return [d for d in found if d.first.job != job and likeness(d.words, value) >= LIKE]
