"""One service as confirmed."""

from __future__ import annotations

from collections.abc import Mapping
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
    changes: tuple[tuple[str, date, Decimal, Decimal], ...] = ()
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
    catalogue = catalogue or load()
    order = {name: place for place, name in enumerate(catalogue.fields)}
    every = entries(session, job, every=True)
    counting = sorted(
        (e for e in every if e.counts),
        key=lambda e: (order.get(e.name, len(order)), e.name, str(e.position).rjust(3)),
    )
    names = {e.name for e in counting}
    drafts = queue.drafts(session, job)
    kind = catalogue.jobs.get(found.kind)
    return Service(
        found,
        MappingProxyType({e.slot: e for e in counting}),
        tuple(e for e in every if not e.counts and not e.undone),
        tuple(n for n in (kind.required if kind else ()) if n not in names),
        tuple(n for n in (kind.usual if kind else ()) if n not in names),
        tuple(decisions(session, job)),
        tuple(media.media(session, job, every=False)),
        day_among(found, counting),
        tuple(q for q in drafts if q.state == queue.WAITING),
        tuple(q for q in drafts if q.state != queue.WAITING),
        _defects(session, job, every),
        _changes(session, found.aircraft),
        heads.shown(*heads.of_record(session)),
    )


def _changes(
    session: Session, aircraft: str | None
) -> tuple[tuple[str, date, Decimal, Decimal], ...]:
    made = []
    for field in ("tach", "hour_meter"):
        for fitted in entries(session, name=f"{field}_fitted"):
            old = number(entries(session, fitted.job, f"{field}_removed"))
            its = jobs.get(session, fitted.job)
            mine = not its.aside and its.aircraft in (None, aircraft)
            day = day_of(session, its) if mine else None
            if old is not None and day is not None and isinstance(fitted.value, Decimal):
                made.append((f"{field}_time", day, old, fitted.value))
    return tuple(sorted(made))


def _defects(session: Session, job: int, every: list[Entry]) -> tuple[Defect, ...]:
    if not any(e.name == DEFECT for e in every):
        return ()
    return tuple(d for d in defects.defects(session) if any(e.job == job for e in d.every))
