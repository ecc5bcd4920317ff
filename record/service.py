"""One service as confirmed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from types import MappingProxyType

from sqlmodel import Session

from extract.values.catalogue import Catalogue, load
from extract.values.defects import DEFECT
from extract.values.draft import Position
from record import defects, heads, jobs, media, queue
from record.before import day_among, day_of, number
from record.defects import Defect
from record.entries import Decision, Entry, decisions, entries
from record.jobs import Job
from record.media import Media
from record.queue import Queued

Slot = tuple[str, Position]
Change = tuple[str, date, Decimal, Decimal]


@dataclass(frozen=True, slots=True)
class Service:
    """A job as the record has it.

    `entries` are the values that count, by field and position, in catalogue order; `replaced` the
    entries that a later one corrected, superseded or withdrew (what was undone is none of them);
    `missing` and `usual_missing` the fields that its kind of job calls for, or usually has, and
    that are not entered; `on` is the day of the work as entered, else of its media, else None;
    `waiting` are the drafts that nobody has decided, `decided` the others; `defects` are those
    with an entry in it, as they stand now over all jobs; `changes` are those of the aircraft's
    meters: field, day, what the old one read when it was taken off and the new one when it was
    fitted. `head` is that of the whole record when this was read, as it is printed.
    """

    job: Job
    entries: Mapping[Slot, Entry]
    replaced: tuple[Entry, ...]
    missing: tuple[str, ...]
    usual_missing: tuple[str, ...]
    decisions: tuple[Decision, ...]
    media: tuple[Media, ...]
    on: date | None
    waiting: tuple[Queued, ...] = ()
    decided: tuple[Queued, ...] = ()
    defects: tuple[Defect, ...] = ()
    changes: tuple[Change, ...] = ()
    head: str = ""

    def entry(self, name: str, position: Position = None) -> Entry | None:
        """Give the entry of a field, or None."""
        return self.entries.get((name, position))

    def became(self, entry: Entry) -> Entry | None:
        """Give what became of a defect in a later job, or None where that says nothing of it."""
        found = (d.now for d in self.defects if any(e.id == entry.id for e in d.every))
        return next((now for now in found if now.job != self.job.id and now.id > entry.id), None)

    def figure(self, name: str, position: Position = None) -> Decimal | None:
        """Give a number as confirmed, or None."""
        entry = self.entry(name, position)
        return entry.value if entry is not None and isinstance(entry.value, Decimal) else None

    def decision(self, entry: Entry) -> Decision:
        """Give the decision by which an entry was made."""
        return next(d for d in self.decisions if d.id == entry.decision)


def service(session: Session, job: int, catalogue: Catalogue | None = None) -> Service:
    """Give one job as confirmed. Raises RefusedError when there is none of that number."""
    found = jobs.get(session, job)
    parts = _Parts(
        entries(session, job, every=True),
        decisions(session, job),
        media.media(session, job, every=False),
        queue.drafts(session, job),
    )
    every = _all_defects(session, parts.entries)
    changes, head = _changes(session, found.aircraft), _head(session)
    return _made(found, parts, catalogue or load(), every, changes, head)


def services(
    session: Session, its: Sequence[Job], catalogue: Catalogue | None = None
) -> list[Service]:
    """Give several jobs as confirmed, each as `service` does, in as few questions as for one."""
    catalogue = catalogue or load()
    every = entries(session, every=True)
    parts = {job.id: _Parts([], [], [], []) for job in its}
    for entry in every:
        if entry.job in parts:
            parts[entry.job].entries.append(entry)
    for decision in decisions(session):
        if decision.job in parts:
            parts[decision.job].decisions.append(decision)
    for one in media.media(session, every=False):
        if one.job in parts:
            parts[one.job].media.append(one)
    for queued in queue.drafts(session):
        if queued.job in parts:
            parts[queued.job].drafts.append(queued)
    found = _all_defects(session, every)
    changes = {aircraft: _changes(session, aircraft) for aircraft in {job.aircraft for job in its}}
    head = _head(session)
    return [_made(job, parts[job.id], catalogue, found, changes[job.aircraft], head) for job in its]


def _head(session: Session) -> str:
    return heads.shown(*heads.of_record(session))


@dataclass(frozen=True, slots=True)
class _Parts:
    """What the record holds of one job; all of it, in order."""

    entries: list[Entry]
    decisions: list[Decision]
    media: list[Media]
    drafts: list[Queued]


def _made(
    job: Job,
    parts: _Parts,
    catalogue: Catalogue,
    found: Sequence[Defect],
    changes: tuple[Change, ...],
    head: str,
) -> Service:
    order = {name: place for place, name in enumerate(catalogue.fields)}
    counting = sorted(
        (e for e in parts.entries if e.counts),
        key=lambda e: (order.get(e.name, len(order)), e.name, str(e.position).rjust(3)),
    )
    names = {e.name for e in counting}
    kind = catalogue.jobs.get(job.kind)
    return Service(
        job,
        MappingProxyType({e.slot: e for e in counting}),
        tuple(e for e in parts.entries if not e.counts and not e.undone),
        tuple(n for n in (kind.required if kind else ()) if n not in names),
        tuple(n for n in (kind.usual if kind else ()) if n not in names),
        tuple(parts.decisions),
        tuple(parts.media),
        day_among(job, counting),
        tuple(q for q in parts.drafts if q.state == queue.WAITING),
        tuple(q for q in parts.drafts if q.state != queue.WAITING),
        tuple(d for d in found if any(e.job == job.id for e in d.every)),
        changes,
        head,
    )


def _changes(session: Session, aircraft: str | None) -> tuple[Change, ...]:
    fits = {m: entries(session, name=f"{m}_fitted") for m in ("tach", "hour_meter")}
    if not any(fits.values()):
        return ()  # as in most records: no meter was ever changed
    made = []
    for meter, found in fits.items():
        for fitted in found:
            old = number(entries(session, fitted.job, f"{meter}_removed"))
            its = jobs.get(session, fitted.job)
            mine = not its.aside and its.aircraft in (None, aircraft)
            day = day_of(session, its) if mine else None
            if old is not None and day is not None and isinstance(fitted.value, Decimal):
                made.append((f"{meter}_time", day, old, fitted.value))
    return tuple(sorted(made))


def _all_defects(session: Session, every: list[Entry]) -> Sequence[Defect]:
    return defects.defects(session) if any(e.name == DEFECT for e in every) else ()
