"""The queue: drafts wait here until a named person confirms, amends or rejects them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlmodel import Session, col, select

from extract.values.catalogue import Catalogue
from extract.values.defects import FINDINGS
from extract.values.draft import Draft, Evidence, Position, Value
from record import chain, defects, jobs, typed
from record.entries import Decision, Entry, decision_of, enter, entries, take_back
from record.errors import RefusedError
from record.rows import columns, draft_of
from record.tables import DecisionRow, DraftRow, JobRow
from record.values import name_now, same

WAITING = "waiting"


@dataclass(frozen=True, slots=True)
class Queued:
    """A draft in the queue, and the decision on it once there is one."""

    id: int
    job: int
    state: str
    draft: Draft
    decision: Decision | None

    def to_json(self) -> dict[str, Any]:
        """Give the catalogue's keys, and `id`, `job`, `state`."""
        return {**self.draft.to_json(), "id": self.id, "job": self.job, "state": self.state}


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
    for alike in (_same, _covers, _agrees):
        for index, draft in enumerate(drafts):
            for key, (_, old) in waiting.items():
                if index not in placed and alike(draft, old):
                    placed[index] = waiting.pop(key)[0]
                    made[index] = _with_witnesses(draft, old)
                    break
    for index, draft in enumerate(made):
        entered = [e for e in entries(session, job, draft.name) if e.position == draft.position]
        row = placed.get(index) or _settled(draft, decided, entered)
        filled = columns(draft.with_doubt(*(_already(e) for e in entered)))
        if row is None:
            row = DraftRow(job_id=job, **filled)
        elif row.state == WAITING:
            row.sqlmodel_update(filled)
        session.add(row)
        placed[index] = row
    session.flush()
    return [placed[index].id or 0 for index in range(len(drafts))]


_slot = defects.slot_of


def _same(new: Draft, old: Draft) -> bool:
    return (
        _slot(new) == _slot(old)
        and (new.media, new.start, new.end) == (old.media, old.start, old.end)
        and same(new.value, old.value)
    )


def _witnesses(draft: Draft) -> set[str]:
    return {draft.media, *(e.media for e in draft.also)}


def _covers(new: Draft, old: Draft) -> bool:
    """Tell whether a new reading leaves nothing of an old one out: its recordings, or its value."""
    if _slot(new) != _slot(old):
        return False
    kept = any(same(old.value, a.value) for a in new.alternatives)
    return kept or _witnesses(old) <= _witnesses(new)


def _agrees(new: Draft, old: Draft) -> bool:
    return _slot(new) == _slot(old) and same(new.value, old.value)


def _with_witnesses(new: Draft, old: Draft) -> Draft:
    """Give the new draft with those recordings that told the same before and that it leaves out."""
    if not _agrees(new, old):
        return new
    first = Evidence(old.media, old.heard, old.start, old.end, old.said_at, old.quad)
    left = [e for e in (first, *old.also) if e.media not in _witnesses(new)]
    return replace(new, also=(*new.also, *left))


def _values(draft: Draft) -> list[Value]:
    return [draft.value, *(a.value for a in draft.alternatives)]


def _settled(
    new: Draft, decided: list[tuple[DraftRow, Draft]], entered: list[Entry]
) -> DraftRow | None:
    """Give the decided row that leaves nothing new in this draft, if there is one."""
    alike = [(row, old) for row, old in decided if _slot(old) == _slot(new)]
    seen: list[Value] = [v for _, old in alike for v in _values(old)]
    seen += [e.value for e in entered if e.value is not None]
    if not all(any(same(v, s) for s in seen) for v in _values(new)):
        return None
    for row, old in alike:
        if _witnesses(new) & _witnesses(old):
            return row
    return None


def _already(entry: Entry) -> str:
    value = entry.value
    said = ("yes" if value else "no") if isinstance(value, bool) else str(value)
    return f"already entered as {f'{said} {entry.unit}' if entry.unit else said} by {entry.by}"


def drafts(session: Session, job: int | None = None, state: str | None = None) -> list[Queued]:
    """Give drafts, of one job or state if named: doubts first, then in the order of speaking.

    Drafts of what was moved or set aside are left out, unless that state or job is named.
    """
    query = select(DraftRow)
    if job is not None:
        query = query.where(DraftRow.job_id == job)
    else:
        counting = select(JobRow.id).where(col(JobRow.aside).is_(False))
        query = query.where(col(DraftRow.job_id).in_(counting))
    if state is None:
        query = query.where(DraftRow.state != chain.ASIDE)
    else:
        query = query.where(DraftRow.state == state)
    made = (
        select(DecisionRow)
        .where(col(DecisionRow.draft_id).is_not(None))
        .order_by(col(DecisionRow.id))
    )
    by_draft = {d.draft_id: decision_of(d) for d in session.exec(made)}
    found = [_queued(row, by_draft.get(row.id)) for row in session.exec(query)]
    return sorted(found, key=_order)


def _order(queued: Queued) -> tuple[bool, float, int]:
    said = queued.draft.said_at
    return not queued.draft.doubts, said.timestamp() if said else 0.0, queued.id


def _queued(row: DraftRow, decision: Decision | None) -> Queued:
    # a draft that waits again after an undo has no decision that counts
    counts = decision if row.state not in (WAITING, chain.ASIDE) else None
    return Queued(row.id or 0, row.job_id, row.state, draft_of(row), counts)


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
    return _queued(row, decision_of(last) if last else None)


def _need_waiting(session: Session, draft: int) -> DraftRow:
    row = _row(session, draft)
    jobs.need_open(session, row.job_id)
    session.refresh(row)  # somebody else may have decided it before the job was ours alone
    if row.state != WAITING:
        decision = get(session, draft).decision
        who = f" by {decision.by}" if decision else ""
        raise RefusedError(
            f"draft {draft} was already {row.state}{who}", todo="correct its entry instead"
        )
    return row


def _decide(
    session: Session, row: DraftRow, action: str, state: str, by: str, **told: Any
) -> DecisionRow:
    decision = chain.decide(session, row.job_id, action, by, draft=row, **told)
    row.state = state
    session.add(row)
    session.flush()
    return decision


def confirm(session: Session, ids: Iterable[int], by: str) -> list[Entry]:
    """Enter drafts as they stand; their doubts are thereby accepted by this person. All or none.

    Raises RefusedError: no name, no such draft, already decided, job closed.
    """
    chain.person(by)
    made = []
    for row in [_need_waiting(session, i) for i in dict.fromkeys(ids)]:
        draft = draft_of(row)
        decision = _decide(session, row, "confirm", "confirmed", by, doubts=draft.doubts)
        made.append(enter(session, decision, draft, draft.value))
    return made


def amend(
    session: Session,
    draft: int,
    text: str,
    by: str,
    because: str,
    catalogue: Catalogue | None = None,
) -> Entry:
    """Enter what a person typed in the place of a draft; the draft stays as it was heard.

    Raises RefusedError as `confirm` does, and where no reason is given; InputError for text that
    cannot be a value of the field.
    """
    by, because = chain.person(by), chain.reason(because)
    row = _need_waiting(session, draft)
    made = typed.value(name_now(row.name), text, catalogue)
    told = {"because": because, "doubts": made.doubts}
    decision = _decide(session, row, "amend", "amended", by, **told)
    return enter(session, decision, replace(draft_of(row), said=made.said), made.value)


def reject(session: Session, draft: int, by: str, because: str) -> Decision:
    """Say that a draft is not to be entered, and why; it stays visible as rejected."""
    by, because = chain.person(by), chain.reason(because)
    row = _need_waiting(session, draft)
    told = {"because": because, "doubts": draft_of(row).doubts}
    return decision_of(_decide(session, row, "reject", "rejected", by, **told))


def undo(session: Session, draft: int, by: str) -> Queued:
    """Take a decision back while its job is open: the entry is withdrawn, the draft waits again.

    Both the decision and its taking back stay in the record. Raises RefusedError: no name, no such
    draft, not decided, job closed.
    """
    by = chain.person(by)
    queued = get(session, draft)
    jobs.need_open(session, queued.job)
    if queued.state == WAITING or queued.decision is None:
        raise RefusedError(f"draft {draft} is not decided yet")
    decided = queued.decision.id
    decision = _decide(session, _row(session, draft), "undo", WAITING, by)
    for entry in entries(session, queued.job, queued.draft.name):
        if entry.decision == decided:
            take_back(session, entry.id, decision)
    return get(session, draft)


def add(
    session: Session,
    job: int,
    name: str,
    text: str,
    by: str,
    position: Position = None,
    catalogue: Catalogue | None = None,
    because: str = "",
) -> Entry:
    """Enter a value that a person typed and nobody spoke. Raises as `amend` does."""
    by = chain.person(by)
    jobs.need_open(session, job)
    made = typed.value(name, text, catalogue)
    value, doubts = made.value, made.doubts
    place = typed.place(name, position, catalogue)
    unit = typed.field(name, catalogue).unit
    if name in FINDINGS and place is None:
        place = defects.next_number(session, job)
    draft = Draft(name, value, unit, place, "", None, None, None, f"typed: {text}", 1.0, doubts)
    draft = replace(draft, said=made.said)
    row = DraftRow(job_id=job, **columns(draft))
    session.add(row)
    session.flush()
    told = {"doubts": doubts, "because": " ".join(because.split())}
    decision = _decide(session, row, "add", "confirmed", by, **told)
    return enter(session, decision, draft, value)
