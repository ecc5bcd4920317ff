"""The queue: drafts wait here until a named person confirms, amends or rejects them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlmodel import Session, col, select

from extract.values.catalogue import Catalogue
from extract.values.defects import FINDINGS
from extract.values.draft import Draft, Position, Value
from extract.values.known import NOTHING, Known
from record import chain, defects, jobs, placing, slots, typed
from record.entries import (
    Decision,
    Entry,
    decision_of,
    enter,
    entries,
    entry_of,
    standing,
    take_back,
)
from record.errors import RefusedError
from record.judge import Judge
from record.rows import columns, draft_of
from record.seen import Seen, of_entry, text_of
from record.tables import DecisionRow, DraftRow, EntryRow, JobRow

WAITING = "waiting"


@dataclass(frozen=True, slots=True)
class Queued:
    """A draft in the queue, and the decision on it once there is one.

    `version` counts how often its contents changed while it waited, from 1; `entered` is the value
    that the decision on it entered, None where it entered none; `said` how that was typed.
    """

    id: int
    job: int
    state: str
    draft: Draft
    decision: Decision | None
    version: int = 1
    entered: Value | None = None
    said: str | None = None

    @property
    def number(self) -> str:
        """Give its number as a person names it: `7`, and `7b`, `7c` once its contents changed."""
        return f"{self.id}{chr(ord('a') + self.version - 1) if self.version > 1 else ''}"

    def to_json(self) -> dict[str, Any]:
        """Give the catalogue's keys, and `id`, `job`, `state`."""
        return {**self.draft.to_json(), "id": self.id, "job": self.job, "state": self.state}

    def seen(self, catalogue: Catalogue | None = None, judge: Judge | None = None) -> Seen:
        """Give it as it is shown now; with `judge`, while it waits, also with the newest doubts."""
        draft, version = self.draft, f"{self.id}.{self.version}"
        if self.decision is not None:
            value, said = draft.value, draft.said
            if self.entered is not None:
                value, said = self.entered, self.said
            text = text_of(draft.name, value, draft.unit, catalogue, said)
            return Seen(text, draft.unit, draft.position, f"{version}@{self.decision.id}")
        doubts = draft.doubts if judge is None else draft.with_doubt(*judge.of(draft)).doubts
        text = text_of(draft.name, draft.value, draft.unit, catalogue, draft.said)
        return Seen(text, draft.unit, draft.position, version, doubts)


def put(session: Session, job: int, drafts: Sequence[Draft]) -> list[int]:
    """Put drafts into the queue of an open job; give the number of each, in the same order.

    The same draft again is not doubled. A new reading of the same recordings takes the place of one
    that waits; another recording that tells the same is kept with it. One that was decided stays as
    it is: what is new about it waits as a draft of its own, with a doubt. Raises RefusedError for a
    job that is closed or not there.
    """
    jobs.need_open(session, job)
    query = select(DraftRow).where(DraftRow.job_id == job).order_by(col(DraftRow.id))
    rows = [(row, draft_of(row)) for row in session.exec(query)]
    waiting = {id(row): (row, old) for row, old in rows if row.state == WAITING}
    decided = [(row, old) for row, old in rows if row.state not in (WAITING, chain.ASIDE)]
    placed: dict[int, DraftRow] = {}
    drafts = defects.numbered(session, job, drafts)
    made = list(drafts)
    for alike in (placing.again, placing.covers, placing.agrees):
        for index, draft in enumerate(drafts):
            for key, (_, old) in waiting.items():
                if index not in placed and alike(draft, old):
                    placed[index] = waiting.pop(key)[0]
                    made[index] = placing.with_witnesses(draft, old)
                    break
    for index, draft in enumerate(made):
        entered = [e for e in entries(session, job, draft.name) if e.position == draft.position]
        row = placed.get(index) or placing.settled(draft, decided, entered)
        filled = columns(draft.with_doubt(*(_already(e) for e in entered)))
        if row is None:
            row = DraftRow(job_id=job, **filled)
        elif row.state == WAITING and filled != {key: getattr(row, key) for key in filled}:
            row.sqlmodel_update({**filled, "version": row.version + 1})
        session.add(row)
        placed[index] = row
    session.flush()
    return [placed[index].id or 0 for index in range(len(drafts))]


def _already(entry: Entry) -> str:
    value = entry.value
    said = ("yes" if value else "no") if isinstance(value, bool) else str(value)
    return f"already entered as {f'{said} {entry.unit}' if entry.unit else said} by {entry.by}"


def drafts(session: Session, job: int | None = None, state: str | None = None) -> list[Queued]:
    """Give drafts, of one job or state if named: doubts first, then in the order of speaking.

    Drafts of what was moved or set aside are left out, unless that state or job is named.
    """
    which = DraftRow.state != chain.ASIDE if state is None else DraftRow.state == state
    if job is None:
        counting = select(JobRow.id).where(col(JobRow.aside).is_(False))
        query = select(DraftRow).where(col(DraftRow.job_id).in_(counting), which)
    else:
        query = select(DraftRow).where(DraftRow.job_id == job, which)
    # only the decisions of these drafts, and only their entries: what waits is soon found
    its = query.with_only_columns(col(DraftRow.id))
    made = select(DecisionRow).where(col(DecisionRow.draft_id).in_(its))
    ids = made.with_only_columns(col(DecisionRow.id))
    given = select(EntryRow).where(col(EntryRow.decision_id).in_(ids))
    rows = session.exec(made.order_by(col(DecisionRow.id)))
    by_draft = {d.draft_id: decision_of(d) for d in rows}
    values = {entry.decision_id: entry_of(entry) for entry in session.exec(given)}
    found = []
    for row in session.exec(query):
        decision = by_draft.get(row.id)
        found.append(_queued(row, decision, values.get(decision.id) if decision else None))
    return sorted(found, key=_order)


def _order(queued: Queued) -> tuple[bool, float, int]:
    said = queued.draft.said_at
    return not queued.draft.doubts, said.timestamp() if said else 0.0, queued.id


def _queued(row: DraftRow, decision: Decision | None, entered: Entry | None) -> Queued:
    # a draft that waits again after an undo has no decision that counts
    counts = decision if row.state not in (WAITING, chain.ASIDE) else None
    made = Queued(row.id or 0, row.job_id, row.state, draft_of(row), counts, row.version)
    return replace(made, entered=entered.value, said=entered.said) if counts and entered else made


def waiting(session: Session, job: int | None = None) -> list[Queued]:
    """Give the drafts that nobody has decided yet, doubts first."""
    return drafts(session, job, WAITING)


def _row(session: Session, draft: int) -> DraftRow:
    row = session.get(DraftRow, draft)
    if row is None:
        raise RefusedError(f"there is no draft {draft}", todo="see `cowlnote drafts`")
    return row


def get(session: Session, draft: int) -> Queued:
    """Give one draft of the queue. Raises RefusedError when there is none of that number."""
    row = _row(session, draft)
    made = (
        select(DecisionRow)
        .where(DecisionRow.draft_id == draft)
        .order_by(col(DecisionRow.id).desc())
    )
    last = session.exec(made).first()
    if last is None:
        return _queued(row, None, None)
    entry = session.exec(select(EntryRow).where(EntryRow.decision_id == last.id)).first()
    return _queued(row, decision_of(last), entry_of(entry) if entry else None)


def _ours(session: Session, draft: int) -> tuple[DraftRow, Queued]:
    """Give a draft of an open job, ours alone until the session ends."""
    row = _row(session, draft)
    jobs.need_open(session, row.job_id)
    session.refresh(row)  # somebody else may have decided it before the job was ours alone
    return row, get(session, draft)


def _need_waiting(session: Session, draft: int) -> tuple[DraftRow, Queued]:
    row, queued = _ours(session, draft)
    if row.state != WAITING:
        who = f" by {queued.decision.by}" if queued.decision else ""
        raise RefusedError(
            f"draft {draft} was already {row.state}{who}",
            todo="correct its entry instead, with `cowlnote correct` or on its record page",
        )
    return row, queued


def _held(queued: Queued, now: Seen, seen: Seen | None) -> Seen:
    """Give what was shown, which must be what is there now; without it, what is there now."""
    if seen is not None:
        seen.hold_against(now, f"draft {queued.number}")
    return now


def _decide(session: Session, row: DraftRow, action: str, by: str, **told: Any) -> DecisionRow:
    decision = chain.decide(session, row.job_id, action, by, draft=row, **told)
    row.state = chain.STATES[action]
    session.add(row)
    session.flush()
    return decision


def confirm(
    session: Session,
    ids: Iterable[int],
    by: str,
    *,
    because: str = "",
    replaces: Collection[int] = (),
    seen: Mapping[int, Seen] | None = None,
    catalogue: Catalogue | None = None,
    known: Known = NOTHING,
) -> list[Entry]:
    """Enter drafts as they stand; their doubts are thereby accepted by this person. All or none.

    `seen` is what was shown of each; `replaces` names the entries whose place they take with
    another value, which needs a reason. Raises RefusedError: no name, no such draft, already
    decided, job closed; StaleError: not what was shown; ReplacesError.
    """
    by, because = chain.person(by), " ".join(because.split())
    made, judges = [], dict[int, Judge]()
    for number in dict.fromkeys(ids):
        row, queued = _need_waiting(session, number)
        if row.job_id not in judges:
            judges[row.job_id] = Judge(session, row.job_id, catalogue, known)
        draft = queued.draft
        now = queued.seen(catalogue, judges[row.job_id])
        shown = _held(queued, now, (seen or {}).get(number))
        slots.need_leave(session, row.job_id, draft, replaces, because, catalogue)
        told = {"because": because, "doubts": now.doubts, "shown": shown.kept()}
        decision = _decide(session, row, "confirm", by, **told)
        made.append(enter(session, decision, draft, draft.value))
    return made


def amend(
    session: Session,
    draft: int,
    text: str,
    by: str,
    because: str,
    catalogue: Catalogue | None = None,
    *,
    although: str = "",
    replaces: Collection[int] = (),
    seen: Seen | None = None,
    known: Known = NOTHING,
) -> Entry:
    """Enter what a person gave in the place of a draft; the draft stays as it was heard.

    `although` says why a doubtful value is right. Raises as `confirm` does, and RefusedError where
    no reason is given; DoubtedError; InputError for text that cannot be a value of the field.
    """
    by, because = chain.person(by), chain.reason(because)
    row, queued = _need_waiting(session, draft)
    judge = Judge(session, row.job_id, catalogue, known)
    shown = _held(queued, queued.seen(catalogue, judge), seen)
    made = typed.value(queued.draft.name, text, catalogue)
    given = replace(queued.draft, value=made.value, said=made.said)
    old = slots.need_leave(session, row.job_id, given, replaces, because, catalogue)
    doubts = judge.need(given, although, old=old)
    told = {"because": because, "doubts": doubts, "shown": shown.kept(pressed=text.strip())}
    decision = _decide(session, row, "amend", by, although=although.strip(), **told)
    return enter(session, decision, given, made.value)


def reject(
    session: Session,
    draft: int,
    by: str,
    because: str,
    *,
    seen: Seen | None = None,
    catalogue: Catalogue | None = None,
) -> Decision:
    """Say that a draft is not to be entered, and why; it stays visible as rejected."""
    by, because = chain.person(by), chain.reason(because)
    row, queued = _need_waiting(session, draft)
    if seen is not None:  # a doubt that came up since speaks for rejecting, not against it
        now = queued.seen(catalogue)
        seen.hold_against(replace(now, doubts=()), f"draft {queued.number}")
    shown = seen or queued.seen(catalogue)
    told = {"because": because, "doubts": queued.draft.doubts, "shown": shown.kept()}
    return decision_of(_decide(session, row, "reject", by, **told))


def undo(
    session: Session,
    draft: int,
    by: str,
    *,
    seen: Seen | None = None,
    catalogue: Catalogue | None = None,
    moved: bool = False,
) -> Queued:
    """Take a decision back while its job is open; all is then as it was before it.

    The draft waits again; one that a person had typed is retracted. What its entry had replaced
    stands again, with its own evidence. Both the decision and its taking back stay in the record.
    With `moved`, as when its recording goes to another job, the draft waits whoever gave it, and
    its entry is taken back from under one that has replaced it.
    Raises RefusedError: no name, no such draft, not decided, its entry replaced since, job closed;
    StaleError: not what was shown.
    """
    by = chain.person(by)
    row, queued = _ours(session, draft)
    if queued.decision is None or row.state == "retracted":
        raise RefusedError(
            f"draft {draft} is not decided yet"
            if queued.decision is None
            else f"draft {draft} was taken back already"
        )
    shown = _held(queued, queued.seen(catalogue), seen)
    every = entries(session, queued.job, queued.draft.name, every=True)
    mine = next((e for e in every if e.decision == queued.decision.id), None)
    if mine is not None and mine.superseded_by is not None and not moved:
        later = next(e for e in every if e.id == mine.superseded_by)
        raise RefusedError(
            f"the value of draft {draft} was replaced since by {later.by}",
            todo="take that back first, or correct it with `cowlnote correct`",
        )
    action = "retract" if queued.decision.action == "add" and not moved else "undo"
    decision = _decide(session, row, action, by, shown=shown.kept())
    if mine is not None:
        take_back(session, mine.id, decision)
    return get(session, draft)


def add(
    session: Session,
    job: int,
    name: str,
    text: str,
    by: str,
    position: Position = None,
    catalogue: Catalogue | None = None,
    *,
    because: str = "",
    although: str = "",
    replaces: Collection[int] = (),
    known: Known = NOTHING,
) -> Entry:
    """Enter a value that a person typed and nobody spoke. Raises as `amend` does.

    Into a closed job it is a late entry: it needs a reason, and a slot that holds no value.
    """
    by, because = chain.person(by), " ".join(because.split())
    late = slots.need_late(session, job, because)
    made = typed.value(name, text, catalogue)
    place = typed.place(name, position, catalogue)
    unit = typed.field(name, catalogue).unit
    if name in FINDINGS and place is None:
        place = defects.next_number(session, job)
    draft = Draft(name, made.value, unit, place, "", None, None, None, f"typed: {text}", 1.0)
    draft = replace(draft, said=made.said)
    before = standing(session, job, name, place)
    if late and before is not None and before.value is not None:
        raise RefusedError(
            f"{typed.label(name, place, catalogue)} is entered already as "
            f"{of_entry(before, catalogue).value}",
            todo=f"correct it with `cowlnote correct e{before.id}` or on its record page",
        )
    old = slots.need_leave(session, job, draft, replaces, because, catalogue)
    doubts = Judge(session, job, catalogue, known).need(draft, although, old=old)
    row = DraftRow(job_id=job, state="confirmed", **columns(draft.with_doubt(*doubts)))
    session.add(row)
    session.flush()
    stood = Seen("", unit, place, "") if before is None else of_entry(before, catalogue)
    told = {"because": because, "doubts": doubts, "shown": stood.kept(pressed=text.strip())}
    action = "late" if late else "add"
    decision = _decide(session, row, action, by, although=although.strip(), **told)
    return enter(session, decision, draft, made.value)
