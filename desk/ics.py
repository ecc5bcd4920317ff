"""What is due, as an iCalendar file (RFC 5545) for the calendar of the owner's choice."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from capture import flushed
from capture.errors import InputError
from desk.dues import MAKER, one_line
from desk.profile import Profile
from record.due import Due


def day_in_calendar(found: Due) -> date | None:
    """Give the day on which something stands in the calendar: the first that it is reached on."""
    return min((day for day in (found.day, found.by_use) if day is not None), default=None)


def calendar(found: Iterable[Due], profile: Profile, made_at: datetime) -> bytes:
    """Give what is due as iCalendar: an event of a whole day for each thing whose day is known.

    A day that only the use so far gives is said to be that. `warn_days` of the profile becomes an
    alarm. The same thing keeps its UID, so that a newer file takes the place of an older one.
    """
    from icalendar import Alarm, Calendar, Event

    made = Calendar()
    made.add("prodid", "-//cowlnote//what is due//EN")
    made.add("version", "2.0")
    for one in found:
        day = day_in_calendar(one)
        if day is None:
            continue
        event = Event()
        aircraft = profile.registration or "aircraft"
        slug = re.sub(r"[^a-z0-9]+", "-", f"{aircraft} {one.what}".lower()).strip("-")
        event.add("uid", f"{slug}@cowlnote.invalid")
        event.add("dtstamp", made_at.astimezone(UTC))
        event.add("dtstart", day)
        event.add("dtend", day + timedelta(days=1))
        event.add("summary", f"{aircraft}: {one.what} {'PAST DUE' if one.past else 'due'}")
        told = [one_line(one), *one.doubts]
        if day == one.by_use and day != one.day:
            told.append(f"This day is an estimate, from the use of the {one.meter.name} so far.")
        event.add("description", "\n".join([*told, MAKER]))
        event.add("transp", "TRANSPARENT")
        if profile.warn_days:
            alarm = Alarm()
            alarm.add("action", "DISPLAY")
            alarm.add("description", f"{aircraft}: {one.what}")
            alarm.add("trigger", timedelta(days=-profile.warn_days))
            event.add_component(alarm)
        made.add_component(event)
    written: bytes = made.to_ical()
    return written


def write(content: bytes, path: Path) -> Path:
    """Write the file whole or not at all. Raises `InputError` where it cannot be written."""
    if path.suffix.lower() != ".ics":
        raise InputError("is no calendar file", path, "end its name in .ics")
    if not path.parent.is_dir():
        raise InputError("there is no such folder", path.parent, "make it first")
    aside = path.with_name(f".{path.name}.part")
    try:
        aside.write_bytes(content)
        flushed.placed(aside, path)
    except OSError as error:
        raise InputError(f"cannot be written ({error.strerror})", path, "choose another") from None
    finally:
        aside.unlink(missing_ok=True)
    return path
