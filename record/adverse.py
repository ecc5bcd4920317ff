"""What stands open in a job: adverse answers, entered or waiting, and what they became later.

An adverse answer is resolved by a later value of the same field and in no other way; both stay.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from extract.values.adverse import Finding
from extract.values.catalogue import Catalogue
from extract.values.draft import SAID_BEFORE, STATED_TOO, Position, Value
from extract.values.known import NOTHING, Known
from record.entries import Entry
from record.queue import Queued
from record.service import Service


@dataclass(frozen=True, slots=True)
class Bad:
    """One adverse answer: `entry` where a person entered it, `waits` where nobody decided yet."""

    name: str
    position: Position
    value: Value
    unit: str | None
    finding: Finding
    entry: Entry | None = None
    waits: Queued | None = None

    @property
    def stands(self) -> bool:
        """Tell whether it is open; False where it is only to be heeded."""
        return self.finding.stands


def finding_of(
    name: str, value: Value | None, catalogue: Catalogue, known: Known = NOTHING
) -> Finding | None:
    """Give what is adverse about a value of a field, or None; a field nobody knows has nothing."""
    field = catalogue.fields.get(name)
    return field.finding(value, known) if field is not None else None


def entered(service: Service, catalogue: Catalogue, known: Known = NOTHING) -> list[Bad]:
    """Give the adverse answers among the values that count, what stands open first.

    A good value that was said before the bad one it took the place of resolves nothing; one that a
    person typed counts when it was typed.
    """
    made = []
    for entry in service.entries.values():
        later = service.became(entry)
        if later is not None:  # a defect is judged by what became of it in a later job
            entry = replace(entry, value=later.value)
        if (bad := _bad(entry, catalogue, known)) is not None:
            made.append(bad)
            continue
        for old, _ in before(service, entry, catalogue, known):
            told = _bad(old, catalogue, known)
            typed = service.decision(entry).action in ("add", "correct")
            if told is not None and told.stands and not typed and _said_after(old, entry):
                made.append(told)
    return sorted(made, key=lambda bad: not bad.stands)


def _bad(entry: Entry, catalogue: Catalogue, known: Known) -> Bad | None:
    found = finding_of(entry.name, entry.value, catalogue, known)
    if found is None or entry.value is None:
        return None
    return Bad(entry.name, entry.position, entry.value, entry.unit, found, entry=entry)


def _said_after(old: Entry, new: Entry) -> bool:
    if not (old.media and new.media) or old.said_at is None or new.said_at is None:
        return False
    return old.said_at > new.said_at


def waiting(queued: Iterable[Queued], catalogue: Catalogue, known: Known = NOTHING) -> list[Bad]:
    """Give the adverse answers among drafts that nobody has decided, what would stand first.

    A draft counts where its value is adverse; where only another reading of it is, it does not.
    """
    made = [
        Bad(d.name, d.position, d.value, d.unit, found, waits=q)
        for q in queued
        if (d := q.draft) is not None
        and (found := finding_of(d.name, d.value, catalogue, known)) is not None
    ]
    return sorted(made, key=lambda bad: not bad.stands)


def before(
    service: Service, entry: Entry, catalogue: Catalogue, known: Known = NOTHING
) -> list[tuple[Entry, Finding]]:
    """Give the adverse values that an entry took the place of, oldest first.

    What was taken back by an undo never stood, and is left out; of two with one value the later.
    """
    every = {e.id: e for e in (*service.entries.values(), *service.replaced)}
    found: dict[str, tuple[Entry, Finding]] = {}
    at: Entry | None = entry
    while at is not None and at.supersedes is not None:
        old = every.get(at.supersedes)
        undone = service.decision(at).action == "undo"
        if old is not None and not undone and old.value != entry.value:
            bad = finding_of(old.name, old.value, catalogue, known)
            if bad is not None:
                found.setdefault(str(old.value), (old, bad))
        at = old
    return list(reversed(found.values()))


def said_too(
    service: Service, entry: Entry, catalogue: Catalogue, known: Known = NOTHING
) -> list[tuple[Entry, Finding]]:
    """Give the adverse values that were said of the same thing in the draft of a good entry.

    *It was weeping; ran it again, no leaks*, in one go, is one draft: the last value is its own,
    the others stay with it. Each is given as the entry that it would have been.
    """
    number = service.decision(entry).draft
    found: list[tuple[Entry, Finding]] = []
    for queued in service.decided:
        if queued.id != number or finding_of(entry.name, entry.value, catalogue, known):
            continue
        for other in queued.draft.alternatives:
            bad = finding_of(entry.name, other.value, catalogue, known)
            if bad is not None and other.why in (STATED_TOO, SAID_BEFORE):
                found.append((replace(entry, value=other.value), bad))
    return found


def withdrawn(
    service: Service, catalogue: Catalogue, known: Known = NOTHING
) -> list[tuple[Entry, Finding, str]]:
    """Give adverse values that were withdrawn with no value in their place, and why."""
    later = {e.supersedes: e for e in service.replaced if e.supersedes}
    made = []
    for old in service.replaced:
        new = later.get(old.id)
        if new is None or new.value is not None or service.decision(new).action != "withdraw":
            continue
        bad = finding_of(old.name, old.value, catalogue, known)
        if bad is not None and old.slot not in service.entries:
            made.append((old, bad, service.decision(new).because))
    return made
