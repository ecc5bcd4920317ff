"""Decisions and entries as plain values; how a value is entered, and how that is taken back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from sqlmodel import Session, col, select

from extract.values.draft import Draft, Position, Value
from record import chain, heads
from record.errors import RefusedError
from record.tables import DecisionRow, EntryRow
from record.values import NONE, dump, iso, moment, name_now, names_of, pack, position, unpack, utc
from record.witnesses import sources


@dataclass(frozen=True, slots=True)
class Decision:
    """What a named person decided, and when.

    `action` is confirm, amend, reject, add, late (an add after the job was closed), undo, retract
    (the undo of an add), correct, withdraw, close, reopen, defer, clear (a defect) or attach (a
    signed page); `draft` the number of the draft it decided, if any; `doubts` those that stood
    then, and so were accepted by `by`; `although` why a value was given that was doubtful; `shown`
    what `by` had before their eyes, as JSON; `rests` on what, the SHA-256 of each file by the name
    it had then.
    """

    id: int
    job: int
    draft: int | None
    action: str
    by: str
    at: datetime
    because: str
    doubts: tuple[str, ...]
    although: str = ""
    shown: str = ""
    rests: Mapping[str, str] = field(default_factory=dict, hash=False)


@dataclass(frozen=True, slots=True)
class Entry:
    """A value as a named person entered it.

    `value` is None where an earlier entry was withdrawn. `supersedes` is the entry it replaced,
    `superseded_by` the one that replaced it; the one that counts has None there. `said` is the
    value with its unit as it was said or typed, where that is not the field's unit. `start`, `end`
    are seconds into `media`, whose SHA-256 is `sha256` as the decision sealed it (None in older
    ones); `said_at` carries its offset. `undone` marks an entry that was taken
    back as if it had never been, and the row that took it back.
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
    undone: bool = False
    sha256: str | None = None

    @property
    def source(self) -> str:
        """Give its file by name, and by the beginning of its hash; empty where there is none."""
        return named(self.media, self.sha256)

    @property
    def slot(self) -> tuple[str, Position]:
        """Give what the entry is about: its field and its position."""
        return self.name, self.position

    @property
    def counts(self) -> bool:
        """Tell whether this is the value of the record: not replaced, withdrawn or taken back."""
        return not self.undone and self.superseded_by is None and self.value is not None


def named(name: str, sha256: str | None) -> str:
    """Give a file as it is named to people: `memo_03.wav #3f9a1c20d4e5`, by what is in it."""
    return f"{name} #{sha256[: heads.SHORT]}" if name and sha256 else name


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
        row.although or "",
        row.shown or "",
        sources(row.evidence),
    )


def entry_of(
    row: EntryRow,
    superseded_by: int | None = None,
    *,
    undone: bool = False,
    evidence: str | None = None,
) -> Entry:
    """Give the frozen value of a row; `evidence` is that of its decision."""
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
        undone,
        sources(evidence).get(row.media) if row.media else None,
    )


def decisions(session: Session, job: int | None = None) -> list[Decision]:
    """Give all decisions, of one job if named, in the order in which they were made."""
    query = select(DecisionRow).order_by(col(DecisionRow.id))
    rows = session.exec(query if job is None else query.where(DecisionRow.job_id == job))
    return [decision_of(row) for row in rows]


def entries(
    session: Session, job: int | None = None, name: str | None = None, *, every: bool = False
) -> list[Entry]:
    """Give the entries that count, oldest first; with `every`, also those replaced or withdrawn.

    What was taken back counts for nothing: what it had replaced stands as if nothing had been.
    """
    query = (
        select(EntryRow, DecisionRow.action, DecisionRow.evidence)
        .join(DecisionRow, col(EntryRow.decision_id) == DecisionRow.id)
        .order_by(col(EntryRow.id))
    )
    if job is not None:
        query = query.where(EntryRow.job_id == job)
    if name is not None:
        query = query.where(col(EntryRow.name).in_(names_of(name)))
    made = session.exec(query).all()
    rows = [row for row, _, _ in made]
    told = {row.id: evidence for row, _, evidence in made}
    undoing = {row.decision_id for row, action, _ in made if action in chain.UNDOES}
    back = {row.supersedes: row.id for row in rows if row.decision_id in undoing}
    later: dict[int, int] = {}
    last: dict[tuple[int, str, str], int] = {}
    for row in rows:
        if row.id in back or row.decision_id in undoing:
            continue
        slot = row.job_id, name_now(row.name), row.position
        if slot in last:
            later[last[slot]] = row.id
        last[slot] = row.id
    for row in rows:  # a defect is ended by an entry of a later job
        if row.supersedes and row.id not in back and row.decision_id not in undoing:
            later.setdefault(row.supersedes, row.id)
    found = [
        entry_of(
            row,
            back.get(row.id) or later.get(row.id),
            undone=row.id in back or row.decision_id in undoing,
            evidence=told[row.id],
        )
        for row in rows
    ]
    return found if every else [e for e in found if e.counts]


def standing(session: Session, job: int, name: str, position: Position) -> Entry | None:
    """Give the last entry of a slot that was not taken back: its value, or its withdrawal."""
    every = entries(session, job, name, every=True)
    alive = [e for e in every if e.position == position and not e.undone]
    return alive[-1] if alive else None


def enter(session: Session, decision: DecisionRow, draft: Draft, value: Value) -> Entry:
    """Enter a decided value. It replaces the entry that its job has for the same slot."""
    before = standing(session, decision.job_id, draft.name, draft.position)
    kind, text = pack(value)
    said = draft.said_at
    words = (draft.name.replace("_", " "), draft.position, text, draft.unit, draft.heard)
    row = chain.enter(
        session,
        job_id=decision.job_id,
        decision_id=decision.id,
        supersedes=before.id if before else None,
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
    return entry_of(row, evidence=decision.evidence)


def get(session: Session, entry: int) -> Entry:
    """Give an entry by its number. Raises RefusedError where there is none, or it was replaced."""
    row = session.get(EntryRow, entry)
    if row is None:
        raise RefusedError(f"there is no entry e{entry}")
    found = next(
        e for e in entries(session, row.job_id, name_now(row.name), every=True) if e.id == entry
    )
    if found.superseded_by is not None or found.undone:
        later = found.superseded_by
        raise RefusedError(
            f"entry e{entry} was taken back"
            if found.undone
            else f"entry e{entry} was already replaced by entry e{later}"
        )
    return found


def take_back(session: Session, entry: int, decision: DecisionRow) -> None:
    """Undo an entry that stands: what it had replaced stands again, with its own evidence.

    Nothing is removed: a row without a value says that the entry was taken back.
    """
    replace(session, entry_of(session.get_one(EntryRow, entry)), decision, NONE, "")


def replace(
    session: Session,
    old: Entry,
    decision: DecisionRow,
    kind: str,
    value: str,
    said: str | None = None,
) -> Entry:
    """Put a new entry in the place of one that stands, with the same evidence."""
    row = session.get_one(EntryRow, old.id)
    copied = row.model_dump(
        exclude={"id", "decision_id", "kind", "value", "prev", "hash", "supersedes"}
    )
    words = (old.name.replace("_", " "), value, old.unit, decision.because)
    new = {
        "name": old.name,
        "decision_id": decision.id,
        "supersedes": old.id,
        "kind": kind,
        "value": value,
        "said": said,
        "by": decision.by,
        "at": decision.at,
        "text": " ".join(w for w in words if w),
    }
    return entry_of(chain.enter(session, **{**copied, **new}), evidence=decision.evidence)


def origin(session: Session, entry: Entry) -> int | None:
    """Give the number of the draft that an entry came from, through what it corrected."""
    made = {d.id: d for d in decisions(session, entry.job)}
    every = {e.id: e for e in entries(session, entry.job, entry.name, every=True)}
    at: Entry | None = entry
    while at is not None:
        if (draft := made[at.decision].draft) is not None:
            return draft
        at = every.get(at.supersedes or 0)
    return None
