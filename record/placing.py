"""Which draft of the queue a new reading belongs to: the same again, a better one, a new one."""

from __future__ import annotations

from dataclasses import replace

from extract.values.draft import Draft, Evidence, Value
from record.defects import slot_of
from record.entries import Entry
from record.tables import DraftRow
from record.values import same


def again(new: Draft, old: Draft) -> bool:
    """Tell whether a draft is an old one once more."""
    return (
        slot_of(new) == slot_of(old)
        and (new.media, new.start, new.end) == (old.media, old.start, old.end)
        and same(new.value, old.value)
    )


def _witnesses(draft: Draft) -> set[str]:
    return {draft.media, *(e.media for e in draft.also)}


def covers(new: Draft, old: Draft) -> bool:
    """Tell whether a new reading leaves nothing of an old one out: its recordings, or its value."""
    if slot_of(new) != slot_of(old):
        return False
    kept = any(same(old.value, a.value) for a in new.alternatives)
    return kept or _witnesses(old) <= _witnesses(new)


def agrees(new: Draft, old: Draft) -> bool:
    """Tell whether two drafts give one value of one slot."""
    return slot_of(new) == slot_of(old) and same(new.value, old.value)


def with_witnesses(new: Draft, old: Draft) -> Draft:
    """Give the new draft with those recordings that told the same before and that it leaves out."""
    if not agrees(new, old):
        return new
    first = Evidence(old.media, old.heard, old.start, old.end, old.said_at, old.quad)
    left = [e for e in (first, *old.also) if e.media not in _witnesses(new)]
    return replace(new, also=(*new.also, *left))


def _values(draft: Draft) -> list[Value]:
    return [draft.value, *(a.value for a in draft.alternatives)]


def settled(
    new: Draft, decided: list[tuple[DraftRow, Draft]], entered: list[Entry]
) -> DraftRow | None:
    """Give the decided row that leaves nothing new in this draft, if there is one."""
    alike = [(row, old) for row, old in decided if slot_of(old) == slot_of(new)]
    seen: list[Value] = [v for _, old in alike for v in _values(old)]
    seen += [e.value for e in entered if e.value is not None]
    if not all(any(same(v, s) for s in seen) for v in _values(new)):
        return None
    for row, old in alike:
        if _witnesses(new) & _witnesses(old):
            return row
    return None
