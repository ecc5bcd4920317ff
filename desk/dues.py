"""What is due next, as lines of text and JSON-ready."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from desk.ledger import Ledger
from desk.profile import Profile
from extract.values.draft import plain
from record import due, recurring
from record.due import Due
from record.meters import count_of
from record.rules import rules
from record.shop import short

OIL = "oil change"
MAKER = "The maker's current instructions come first."


def due_of(ledger: Ledger, profile: Profile, today: date, reading: Decimal | None = None) -> Due:
    """Say when the next oil change is due for this ledger; `reading` is what the meter reads."""
    services = [line.service for line in ledger.lines]
    return due.due(services, today, terms=profile.terms(), reading=reading)


def due_text(found: Due, profile: Profile) -> list[str]:
    """Say in lines when the next oil change is due and how far that is, past or ahead."""
    if found.reading is None and found.day is None:
        return [
            f"next {found.what}: not known; neither the record nor [last] of the profile has one",
            *(f"  ? {doubt}" for doubt in found.doubts),
        ]
    state = ": PAST DUE" if found.past else ": due soon" if found.soon else ""
    said = [*_by_meter(found), *_by_calendar(found), *_comes_first(found)]
    said += [f"? {doubt}" for doubt in found.doubts]
    missing = profile.interval_hours is None or profile.interval_months is None
    source = f"Intervals not in the profile are {rules()['oil_interval']['source']}. " * missing
    return [f"next {found.what}{state}", *(f"  {line}" for line in said), f"{source}{MAKER}"]


def _by_meter(found: Due) -> list[str]:
    name = found.meter.name
    if found.reading is None:
        return [f"by {name}: not known"]
    if found.hours_left is None:
        return [f"by {name}: {found.reading} h; how far that is, is not known"]
    left = short(abs(found.hours_left), 1)
    far = f"{left} h past" if found.hours_left < 0 else f"{left} h to go by the last reading"
    return [f"by {name}: {found.reading} h, {far}"]


def _by_calendar(found: Due) -> list[str]:
    if found.day is None or found.days_left is None:
        return ["by calendar: not known"]
    days = f"{abs(found.days_left)} day{'s' * (abs(found.days_left) != 1)}"
    far = f"{days} past" if found.days_left < 0 else f"in {days}"
    return [f"by calendar: {found.day.isoformat()}, {far}"]


def _comes_first(found: Due) -> list[str]:
    use = ""
    if found.by_use and not found.past:
        use = f"; at the use so far the {found.meter.name} gets there about {found.by_use}"
    known = found.first != "unknown"
    head = f"first comes the {found.first}{use}" if known else "which comes first is not known"
    if known:
        return [head, *found.why]
    return [head + (": " + "; ".join(found.why) if found.why else "")]


def due_json(found: Due) -> dict[str, Any]:
    """Give what is due JSON-ready; days as ISO 8601, hours as numbers."""
    reading = None if found.reading is None else plain(found.reading)
    return {
        "what": found.what,
        "meter": found.meter.name,
        "reading": reading,
        found.meter.name.replace(" ", "_"): reading,
        "day": found.day.isoformat() if found.day else None,
        "hours_left": None if found.hours_left is None else plain(found.hours_left),
        "days_left": found.days_left,
        "by_use": found.by_use.isoformat() if found.by_use else None,
        "first": found.first,
        "past": found.past,
        "soon": found.soon,
        "why": list(found.why),
        "doubts": list(found.doubts),
    }


def all_due(
    ledger: Ledger, profile: Profile, today: date, readings: Mapping[str, Decimal] | None = None
) -> list[Due]:
    """Say when the oil and everything else that recurs is next due, what comes first at the top."""
    services, terms = [line.service for line in ledger.lines], profile.terms()
    told = readings or {}
    oil = due_of(ledger, profile, today, told.get(meter_of(ledger, profile)))
    others = recurring.all_due(services, today, profile.recurring, terms=terms, readings=told)
    return sorted([oil, *others], key=recurring.soonest)


def meter_of(ledger: Ledger, profile: Profile) -> str:
    """Give the field of the meter that the log is kept by."""
    return count_of([line.service for line in ledger.lines], profile.terms()).meter.field


def list_text(found: Sequence[Due], profile: Profile) -> list[str]:
    """Give everything that is due as lines, what comes first at the top; below, what is kept.

    Nothing where only the oil is known of.
    """
    said = []
    if len(found) > 1:
        told = rows(found)
        wide = [max(len(row[at]) for row in told) for at in (0, 1)]
        said = ["what next", *(f"  {a:<{wide[0]}}  {b:<{wide[1]}}  {c}" for a, b, c in told)]
        notes = {one.what: one.note for one in profile.recurring if one.note}
        said += [f"  {what}: {note}" for what, note in notes.items()]
        said += [f"  ? {one.what}: {d}" for one in found if one.what != OIL for d in one.doubts]
    kept = [
        f"  {one.text}{f' ({one.day.isoformat()})' if one.day else ''}"
        for one in profile.references
    ]
    if kept:
        said += ["references kept, not judged here", *kept]
    return [*said, ""] if said else []


def rows(found: Sequence[Due]) -> list[tuple[str, str, str]]:
    """Give each thing with its state (`PAST DUE`, `soon`) and when it is due."""
    return [(_state(one), one.what, one_line(one)) for one in found]


def _state(found: Due) -> str:
    known = found.reading is not None or found.day is not None
    return "PAST DUE" if found.past else "soon" if found.soon else "" if known else "not known"


def one_line(found: Due) -> str:
    """Say in one line when something is due by meter and calendar, and how far that is."""
    said = []
    if found.reading is not None:
        said.append(_by_meter(found)[0])
    if found.day is not None:
        said.append(_by_calendar(found)[0])
    if found.first == "unknown":
        said += found.why
    return "; ".join(said)
