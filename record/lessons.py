"""What people decided at the desk, beside the words that were heard: evidence of mishearing.

Reads only. What follows from it is for the desk to show and for a person to say.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sqlmodel import Session

from capture.observed import Transcript
from extract.values.draft import Position, Value
from record import jobs, media, queue
from record.entries import Entry, entries
from record.values import same


@dataclass(frozen=True, slots=True)
class Decided:
    """A draft that a person decided, and the stretch of a memo in which its words stand.

    `state` is confirmed, amended or rejected; a draft that was confirmed and whose entry was put
    right or withdrawn later counts as amended. `entered` is the value of the record, None where
    there is none. `start` and `end` are seconds into the memo.
    """

    draft: int
    state: str
    name: str
    position: Position
    value: Value
    unit: str | None
    entered: Value | None
    by: str
    heard: str
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Memo:
    """A memo as heard, and every decision about what was said in it, in the order of speaking."""

    name: str
    transcript: Transcript
    decided: tuple[Decided, ...]


def memos(session: Session, aircraft: str | None = None) -> list[Memo]:
    """Give every memo that was heard, of one aircraft if named, in the order in which they began.

    A memo about which nothing is decided yet is among them: what was heard there and not read back
    is evidence too.
    """
    made = []
    for job in jobs.jobs(session, aircraft):
        decided = _decided(session, job.id)
        for one in media.media(session, job.id, every=False):
            heard = media.transcript_of(session, one.id)
            if heard is not None:
                here = sorted(decided.get(one.name, ()), key=lambda d: (d.start, d.draft))
                made.append(Memo(one.name, heard, tuple(here)))
    return made


def _decided(session: Session, job: int) -> dict[str, list[Decided]]:
    """Give what was decided in a job, by the memo that the draft is of.

    Further witnesses of a draft are left out: they may have told another value.
    """
    every = entries(session, job, every=True)
    made: dict[str, list[Decided]] = {}
    for queued in queue.drafts(session, job):
        draft, decision = queued.draft, queued.decision
        if decision is None:
            continue
        entered = _now(every, decision.id)
        value = entered.value if entered else None
        state = queued.state
        if state == "confirmed" and (value is None or not same(value, draft.value)):
            state = "amended"
        if draft.start is None or draft.end is None:
            continue  # a photo, or typed
        one = Decided(
            queued.id,
            state,
            draft.name,
            draft.position,
            draft.value,
            draft.unit,
            value,
            decision.by,
            draft.heard,
            draft.start,
            draft.end,
        )
        made.setdefault(draft.media, []).append(one)
    return made


def _now(every: Iterable[Entry], decision: int) -> Entry | None:
    """Give the entry that a decision made, or the one that has taken its place since."""
    by_id = {entry.id: entry for entry in every}
    found = next((e for e in by_id.values() if e.decision == decision), None)
    while found is not None and found.superseded_by in by_id:
        found = by_id[found.superseded_by]
    return found
