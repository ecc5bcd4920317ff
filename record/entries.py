"""Decisions and entries as plain values; how a value is entered, and how it is corrected."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from extract.values.catalogue import Catalogue
from extract.values.draft import Draft, Position, Value
from record import chain, typed
from record.errors import RefusedError
from record.tables import DecisionRow, EntryRow
from record.values import NONE, dump, iso, moment, name_now, names_of, pack, position, unpack, utc


@dataclass(frozen=True, slots=True)
class Decision:
    """What a named person decided, and when.

    `action` is confirm, amend, reject, add, undo, correct, withdraw, close,
    reopen, defer or clear (a defect); `draft` the number of
    the draft it decided, if any; `doubts` those that stood then, and so were accepted by `by`.
    """

    id: int
    job: int
    draft: int | None
    action: str
    by: str
    at: datetime
    because: str
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """A value as a named person entered it.

    `value` is None where an earlier entry was withdrawn. `supersedes` is the entry it replaced,
    `superseded_by` the one that replaced it; the one that counts has None there. `said` is the
    value with its unit as it was said or typed, where that is not the field's unit. `start`, `end`
    are seconds into `media`, `said_at` carries its offset.
    """

    id: int
    job: int
    decision: int
    supersedes: int | None
    superseded_by: int | None
    name: str
    position: Position
    value: Value | None
    unit: str | None
    said: str | None
    media: str
    start: float | None
    end: float | None
    said_at: datetime | None
    heard: str
    by: str
    at: datetime

    @property
    def slot(self) -> tuple[str, Position]:
        """Give what the entry is about: its field and its position."""
        return self.name, self.position

    @property
    def counts(self) -> bool:
        """Tell whether this is the value of the record: neither replaced nor withdrawn."""
        return self.superseded_by is None and self.value is not None


def decision_of(row: DecisionRow) -> Decision:
    """Give the frozen value of a row."""
    return Decision(
        row.id,
        row.job_id,
        row.draft_id,
        row.action,
        row.by,
        datetime.fromisoformat(row.at),
        row.because,
        tuple(json.loads(row.doubts)),
    )


def entry_of(row: EntryRow, superseded_by: int | None = None) -> Entry:
    """Give the frozen value of a row."""
    return Entry(
        row.id,
        row.job_id,
        row.decision_id,
        row.supersedes,
        superseded_by,
        name_now(row.name),
        position(row.position),
        None if row.kind == NONE else unpack(row.kind, row.value),
        row.unit,
        row.said,
        row.media,
        row.start_s,
        row.end_s,
        moment(row.said_at),
        row.heard,
        row.by,
        datetime.fromisoformat(row.at),
    )


def decisions(session: Session, job: int | None = None) -> list[Decision]:
    """Give all decisions, of one job if named, in the order in which they were made."""
    query = select(DecisionRow).order_by(col(DecisionRow.id))
    rows = session.exec(query if job is None else query.where(DecisionRow.job_id == job))
    return [decision_of(row) for row in rows]


def entries(
    session: Session, job: int | None = None, name: str | None = None, *, every: bool = False
) -> list[Entry]:
    """Give the entries that count, oldest first; with `every`, also those replaced or withdrawn."""
    query = select(EntryRow).order_by(col(EntryRow.id))
    if job is not None:
        query = query.where(EntryRow.job_id == job)
    if name is not None:
        query = query.where(col(EntryRow.name).in_(names_of(name)))
    rows = session.exec(query).all()
    later = {row.supersedes: row.id for row in rows if row.supersedes}
    found = [entry_of(row, later.get(row.id)) for row in rows]
    return found if every else [e for e in found if e.counts]


def enter(session: Session, decision: DecisionRow, draft: Draft, value: Value) -> Entry:
    """Enter a decided value. It replaces the entry that its job has for the same slot."""
    before = [
        e
        for e in entries(session, decision.job_id, draft.name, every=True)
        if e.position == draft.position and e.superseded_by is None
    ]
    kind, text = pack(value)
    said = draft.said_at
    words = (draft.name.replace("_", " "), draft.position, text, draft.unit, draft.heard)
    row = chain.enter(
        session,
        job_id=decision.job_id,
        decision_id=decision.id,
        supersedes=before[-1].id if before else None,
        name=draft.name,
        position=dump(draft.position),
        kind=kind,
        value=text,
        unit=draft.unit,
        said=draft.said,
        media=draft.media,
        start_s=draft.start,
        end_s=draft.end,
        said_at=iso(said),
        said_utc=utc(said or datetime.fromisoformat(decision.at)),
        heard=draft.heard,
        by=decision.by,
        at=decision.at,
        text=" ".join(str(w) for w in (*words, decision.because) if w is not None),
    )
    return entry_of(row)


def _standing(session: Session, entry: int) -> EntryRow:
    row = session.get(EntryRow, entry)
    if row is None:
        raise RefusedError(f"there is no entry {entry}")
    later = session.exec(select(EntryRow.id).where(EntryRow.supersedes == entry)).first()
    if later is not None:
        raise RefusedError(f"entry {entry} was already replaced by entry {later}")
    return row


def correct(
    session: Session,
    entry: int,
    text: str,
    by: str,
    because: str,
    catalogue: Catalogue | None = None,
) -> Entry:
    """Put a new entry in the place of a wrong one, in an open or a closed job; the old stays.

    Raises RefusedError: no name, no reason, no such entry, already replaced. Raises InputError for
    text that cannot be a value of the field.
    """
    old = _standing(session, entry)
    by, because = chain.person(by), chain.reason(because)
    made = typed.value(name_now(old.name), text, catalogue)
    job, doubts = old.job_id, made.doubts
    decision = chain.decide(session, job, "correct", by, because=because, doubts=doubts)
    return _replace(session, old, decision, *pack(made.value), said=made.said)


def withdraw(session: Session, entry: int, by: str, because: str) -> Entry:
    """Take an entry back with no value in its place; the old stays, with who, when and why."""
    old = _standing(session, entry)
    by, because = chain.person(by), chain.reason(because)
    decision = chain.decide(session, old.job_id, "withdraw", by, because=because)
    return _replace(session, old, decision, NONE, "")


def take_back(session: Session, entry: int, decision: DecisionRow) -> Entry:
    """Undo an entry by a decision that was already made; what it had replaced counts again."""
    old = _standing(session, entry)
    before = session.get(EntryRow, old.supersedes) if old.supersedes else None
    if before is None:
        return _replace(session, old, decision, NONE, "")
    return _replace(session, old, decision, before.kind, before.value, before)


def _replace(
    session: Session,
    old: EntryRow,
    decision: DecisionRow,
    kind: str,
    value: str,
    evidence: EntryRow | None = None,
    said: str | None = None,
) -> Entry:
    copied = (evidence or old).model_dump(
        exclude={"id", "decision_id", "kind", "value", "prev", "hash", "supersedes"}
    )
    words = (old.name.replace("_", " "), value, old.unit, decision.because)
    new = {
        "name": name_now(old.name),
        "decision_id": decision.id,
        "supersedes": old.id,
        "kind": kind,
        "value": value,
        "said": evidence.said if evidence else said,
        "by": decision.by,
        "at": decision.at,
        "text": " ".join(w for w in words if w),
    }
    return entry_of(chain.enter(session, **{**copied, **new}))
