"""What the record of a job calls for: entered, drafted and waiting, or never said.

It shows and asks; it rules on nothing. A limit comes from the profile, the maker's papers in it, or
a published figure that is named; what is adverse comes from the catalogue.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from extract.values.adverse import Finding
from extract.values.catalogue import Catalogue
from extract.values.defects import CLEARED, DEFECT, told
from extract.values.draft import Position
from extract.values.known import NOTHING, Known
from record.adverse import finding_of
from record.entries import Entry
from record.history import figure
from record.queue import Queued
from record.rules import items_of, not_work
from record.service import Service
from record.shop import wire_note, wire_turns

ENTERED, WAITING, UNSAID = "entered", "waiting", "never said"


@dataclass(frozen=True, slots=True)
class Check:
    """One line of a job's checklist.

    `state` is `entered` (by a named person), `waiting` (drafted, nobody decided) or `never said`;
    `called_for` tells whether the record of its kind of job needs it. `waits` are the drafts that
    wait, also beside an entered value. `items` are the numbers in 14 CFR 43 Appendix A(c) it comes
    under; `finding` is what is adverse about its value, entered or drafted; `outside` says in
    sentences which limit a value passed, `accepted` who entered it nevertheless and why.
    """

    name: str
    position: Position
    state: str
    called_for: bool
    entry: Entry | None
    items: tuple[int, ...]
    waits: tuple[Queued, ...] = ()
    finding: Finding | None = None
    outside: tuple[str, ...] = ()
    accepted: str = ""


def checklist(service: Service, catalogue: Catalogue, known: Known = NOTHING) -> list[Check]:
    """Give the checklist of a job: what is called for, what is usual, then all else said of it."""
    kind = catalogue.jobs.get(service.job.kind)
    required, usual = (kind.required, kind.usual) if kind else ((), ())
    drafted = {(q.draft.name, q.draft.position) for q in service.waiting}
    slots = dict.fromkeys([*service.entries, *sorted(drafted, key=str)])
    made: list[Check] = []
    for name in dict.fromkeys((*required, *usual, *(name for name, _ in slots))):
        places = [place for one, place in slots if one == name]
        made += [
            _said(service, name, place, name in required, catalogue, known) for place in places
        ]
        if not places:
            made.append(Check(name, None, UNSAID, name in required, None, items_of(name)))
    return made


def _said(
    service: Service,
    name: str,
    position: Position,
    called_for: bool,
    catalogue: Catalogue,
    known: Known,
) -> Check:
    entry = service.entry(name, position)
    waits = tuple(
        q for q in service.waiting if (q.draft.name, q.draft.position) == (name, position)
    )
    if entry is None:
        found = [f for q in waits if (f := finding_of(name, q.draft.value, catalogue, known))]
        bad = found[0] if found else None
        return Check(
            name,
            position,
            WAITING,
            called_for,
            None,
            items_of(name, waits[0].draft.value),
            waits,
            bad,
        )
    bad = finding_of(name, entry.value, catalogue, known)
    outside = tuple(outside_of(service, entry, catalogue, known))
    accepted = _accepted(service, entry) if outside or bad else ""
    return Check(
        name,
        position,
        ENTERED,
        called_for,
        entry,
        items_of(name, entry.value),
        waits,
        bad,
        outside,
        accepted,
    )


def unlisted(service: Service) -> list[Entry]:
    """Give the entered work that comes under no line of the preventive list, as far as is known."""
    return [
        entry
        for entry in service.entries.values()
        if entry.name not in not_work()
        and not (entry.name == DEFECT and told(entry.value or "").state != CLEARED)
        and not items_of(entry.name, entry.value)
    ]


def _accepted(service: Service, entry: Entry) -> str:
    decision = service.decision(entry)
    why = f": {decision.because}" if decision.because else "; no reason was given"
    return f"entered by {decision.by}, {decision.at.date().isoformat()}{why}"


def outside_of(
    service: Service, entry: Entry, catalogue: Catalogue, known: Known = NOTHING
) -> list[str]:
    """Say which limits a confirmed value is outside of, each in a sentence; empty where none."""
    if not isinstance(entry.value, Decimal):
        return []
    value, name = entry.value, entry.name
    field = catalogue.fields.get(name)
    found = []
    if field is not None and not field.plausible(value):
        found.append(f"{field.low} to {field.high} {field.unit} is what is plausible")
    bad = finding_of(name, value, catalogue, known)
    if bad is not None and bad.why:
        found.append(bad.why)
    return found + _wire(service, name, value)


def _wire(service: Service, name: str, value: Decimal) -> list[str]:
    if name == "lockwire_diameter":
        return [note] if (note := wire_note(value)) else []
    diameter = figure(service, "lockwire_diameter")
    if name != "lockwire_twist" or diameter is None:
        return []
    turns = wire_turns(diameter, value)
    if any(t.inside for t in turns):
        return []
    return [f"{t.low} to {t.high} turns an inch by {t.source}" for t in turns]
