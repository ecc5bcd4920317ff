"""What the record of a job calls for: what is there, what is missing, what was outside its limit.

It shows and asks; it rules on nothing. A limit comes from the profile, the maker's papers in it, or
a published figure that is named.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from extract.values.catalogue import Catalogue
from extract.values.known import NOTHING, Known
from record.entries import Entry
from record.history import figure
from record.rules import items, rules
from record.service import Service
from record.shop import compression, wire_note, wire_turns

THERE, MISSING, NOT_NOTED = "there", "missing", "not noted"


@dataclass(frozen=True, slots=True)
class Check:
    """One line of a job's checklist.

    `state` is `there`, `missing` (its record calls for it) or `not noted` (usual, not called for);
    `items` are the numbers in 14 CFR 43 Appendix A(c) it comes under; `outside` says in sentences
    which limit a value passed, `accepted` who entered it nevertheless and why.
    """

    name: str
    state: str
    entry: Entry | None
    items: tuple[int, ...]
    outside: tuple[str, ...] = ()
    accepted: str = ""


def checklist(service: Service, catalogue: Catalogue, known: Known = NOTHING) -> list[Check]:
    """Give the checklist of a job: what is called for, what is usual, then all else entered."""
    kind = catalogue.jobs.get(service.job.kind)
    required, usual = (kind.required, kind.usual) if kind else ((), ())
    made: list[Check] = []
    for name in dict.fromkeys((*required, *usual, *(e.name for e in service.entries.values()))):
        found = [e for e in service.entries.values() if e.name == name]
        if found:
            made += [_there(service, entry, catalogue, known) for entry in found]
        else:
            made.append(Check(name, MISSING if name in required else NOT_NOTED, None, _items(name)))
    return made


def _items(name: str) -> tuple[int, ...]:
    return tuple(number for number, item in items().items() if name in item.fields)


def _there(service: Service, entry: Entry, catalogue: Catalogue, known: Known) -> Check:
    outside = tuple(outside_of(service, entry, catalogue, known))
    accepted = _accepted(service, entry) if outside else ""
    return Check(entry.name, THERE, entry, _items(entry.name), outside, accepted)


def _accepted(service: Service, entry: Entry) -> str:
    decision = service.decision(entry)
    why = f": {decision.because}" if decision.because else "; no reason was given"
    return f"entered by {decision.by}, {decision.at.date().isoformat()}{why}"


def outside_of(
    service: Service, entry: Entry, catalogue: Catalogue, known: Known = NOTHING
) -> list[str]:
    """Say which limits a confirmed value is outside of, each in a sentence; empty where none."""
    if entry.name == "leak_check" and entry.value == "fail":
        return ["a leak was found"]
    if not isinstance(entry.value, Decimal):
        return []
    value, name = entry.value, entry.name
    field = catalogue.fields.get(name)
    found = []
    if field is not None and not field.plausible(value):
        found.append(f"{field.low} to {field.high} {field.unit} is what is plausible")
    for limited, pair in (
        ("filter_torque", known.filter_torque),
        ("plug_torque", known.plug_torque),
    ):
        if name == limited and pair is not None and not pair[0] <= value <= pair[1]:
            found.append(f"the profile has {pair[0]} to {pair[1]} ft-lb")
    return found + _oil(name, value, known) + _wire(service, name, value) + _cylinder(name, value)


def _oil(name: str, value: Decimal, known: Known) -> list[str]:
    if name not in ("oil_level", "oil_level_before") or known.sump_capacity is None:
        return []
    half = known.sump_capacity * rules()["sump"]["least_fraction"]
    if value > known.sump_capacity:
        return [f"the sump holds {known.sump_capacity} qt by the profile"]
    if value < half:
        return [
            f"less than half of the sump's {known.sump_capacity} qt; the least to fly with is in "
            "the aircraft's handbook"
        ]
    return []


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


def _cylinder(name: str, value: Decimal) -> list[str]:
    if name != "cylinder_compression" or not 0 <= value <= rules()["compression"]["test_psi"]:
        return []
    ask = compression(value).ask
    return [ask] if ask else []
