"""What is due next, as lines of text and JSON-ready."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from desk.ledger import Ledger
from desk.profile import Profile
from extract.values.draft import plain
from record import due
from record.due import Due
from record.rules import rules
from record.shop import short

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
