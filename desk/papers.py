"""The papers: the service record, the draft logbook entry, the note for the filter's case.

Only confirmed values appear; what a kind of job calls for and is not there is said to be missing.
Nothing is signed here. What an entry must hold is 14 CFR 43.9(a): (1) a description of the work,
(2) the date it was completed, (3) the name of who did it, if not the one who approves it, (4) the
signature, certificate number and kind of certificate of the one who approves it. Hours are not
asked for there, and are good practice (14 CFR 91.417(a)(2) wants the totals kept).
"""

from __future__ import annotations

import textwrap
import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from desk.profile import Profile
from extract.values.catalogue import Catalogue
from extract.values.draft import plain
from record.entries import Entry
from record.service import Service

WIDTH = 78
BLANK = "_" * 30
NOTICE = (
    "DRAFT. Not an approval for return to service: that takes the signature of a person authorised "
    "under the rules that apply. Read it against the work as done. The maker's current "
    "instructions and local rules come first."
)


@cache
def _data() -> Mapping[str, Any]:
    path = Path(__file__).parent / "data" / "phrases.toml"
    return tomllib.loads(path.read_text("utf-8"))


def value_of(entry: Entry, catalogue: Catalogue) -> str:
    """Give an entry's value with its unit, as people write it."""
    if entry.value is None:
        return ""
    field = catalogue.fields.get(entry.name)
    if field is None:
        return " ".join(filter(None, (str(entry.value), entry.unit)))
    return field.kind_object.show(entry.value, entry.unit)


def label_of(name: str, position: int | str | None, catalogue: Catalogue) -> str:
    """Give the plain words for a field and its position."""
    label = catalogue.fields[name].label if name in catalogue.fields else name.replace("_", " ")
    return label if position is None else f"{label} {position}"


def phrase(entry: Entry, catalogue: Catalogue) -> str:
    """Give the words in which an entry stands in the description of the work."""
    ways = _data()["phrases"].get(entry.name, {})
    if isinstance(entry.value, bool):
        way = ways.get("yes" if entry.value else "no")
    else:
        way = ways.get("text") or ways.get(str(entry.value))
    if way is None:
        label = label_of(entry.name, entry.position, catalogue)
        return f"{label[:1].upper()}{label[1:]}: {value_of(entry, catalogue)}"
    position = str(entry.position or "").capitalize()
    bare = value_of(entry, catalogue)
    if entry.unit and bare.endswith(f" {entry.unit}"):
        bare = bare[: -len(entry.unit) - 1]
    return str(way).format(value=value_of(entry, catalogue), bare=bare, position=position).strip()


def description(service: Service, catalogue: Catalogue) -> list[str]:
    """Give the work as sentences, from confirmed values alone, in the order in which it is told."""
    order = {name: place for place, name in enumerate(_data()["phrases"])}
    entries = sorted(
        (e for e in service.entries.values() if e.name not in _data()["elsewhere"]),
        key=lambda e: (order.get(e.name, len(order)), str(e.position)),
    )
    return [f"{phrase(entry, catalogue)}." for entry in entries]


def logbook_entry(service: Service, profile: Profile, catalogue: Catalogue) -> str:
    """Give the draft logbook entry as plain text; signature lines are blank."""
    job = catalogue.jobs.get(service.job.kind)
    lines = ["DRAFT LOGBOOK ENTRY", ""]
    lines += [f"Aircraft         {service.job.aircraft or profile.registration or BLANK}"]
    lines += [f"Date completed   {_told(service, 'service_date', catalogue)}"]
    for name in ("tach_time", "hour_meter_time"):
        if name == "tach_time" or service.entry(name):
            label = label_of(name, None, catalogue).capitalize()
            lines += [f"{label:<17}{_told(service, name, catalogue)}"]
    lines += ["", f"{(job.label if job else service.job.kind).capitalize()}:"]
    told = description(service, catalogue)
    lines += _wrapped(" ".join(told) if told else "No work is confirmed yet.", "  ")
    missing = [name for name in service.missing if name not in _data()["elsewhere"]]
    if missing:
        names = ", ".join(label_of(name, None, catalogue) for name in missing)
        lines += [
            "",
            *_wrapped(f"NOT CONFIRMED, complete or strike out before signing: {names}.", "  "),
        ]
    lines += [
        "",
        f"Work done by, if not the person signing   {BLANK}",
        f"Name                                      {BLANK}",
        f"Signature                                 {BLANK}",
        f"Certificate number                        {BLANK}",
        f"Kind of certificate                       {BLANK}",
        "",
        *_wrapped(NOTICE),
    ]
    return "\n".join(lines)


def _told(service: Service, name: str, catalogue: Catalogue) -> str:
    entry = service.entry(name)
    if entry:
        return value_of(entry, catalogue)
    seen = (
        f"; the memos and photos are of {service.on}"
        if name == "service_date" and service.on
        else ""
    )
    return f"{'_' * 12} (not confirmed{seen})"


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)


def service_record(service: Service, profile: Profile, catalogue: Catalogue) -> str:
    """Give every confirmed value with who entered it, when, how, and from what evidence."""
    job = service.job
    kind = catalogue.jobs.get(job.kind)
    heading = " ".join(
        filter(None, ("SERVICE RECORD", f"job {job.id}", job.aircraft or profile.registration))
    )
    lines = [heading, (kind.label if kind else job.kind).capitalize()]
    lines += [*_entered(service, profile), ""]
    width = max((len(label_of(*slot, catalogue)) for slot in service.entries), default=0)
    for slot, entry in service.entries.items():
        lines.append(f"  {label_of(*slot, catalogue):<{width}}  {value_of(entry, catalogue)}")
        for told in _how(service, entry):
            lines += _wrapped(told, " " * (width + 4))
    if not service.entries:
        lines.append("  nothing is confirmed yet")
    if job.waiting:
        lines += ["", f"  still waiting for a decision: {job.waiting} (`cowlnote drafts`)"]
    if service.missing:
        names = ", ".join(label_of(name, None, catalogue) for name in service.missing)
        lines += ["", *_wrapped(f"missing: {names}", "  ")]
    if not job.is_open and job.closed_at:
        at = job.closed_at.astimezone(profile.zone)
        lines += ["", f"  closed by {job.closed_by}, {at:%Y-%m-%d %H:%M}"]
    return "\n".join(lines)


def _people(service: Service) -> list[str]:
    return list(dict.fromkeys(entry.by for entry in service.entries.values()))


def _entered(service: Service, profile: Profile) -> list[str]:
    """Say who entered the values, and from when to when."""
    if not service.entries:
        return []
    moments = sorted(entry.at.astimezone(profile.zone) for entry in service.entries.values())
    first, last = (f"{moment:%Y-%m-%d %H:%M}" for moment in (moments[0], moments[-1]))
    when = first if first == last else f"{first} to {last}"
    return _wrapped(f"Entered by {' and '.join(_people(service))}, {when}")


def _how(service: Service, entry: Entry) -> Iterator[str]:
    """Say from what a value was entered, how, if not simply confirmed, and despite what."""
    decision = service.decision(entry)
    if entry.media:
        minutes, seconds = divmod(int(entry.start or 0), 60)
        at = "" if entry.start is None else f" {minutes}:{seconds:02d}"
        yield f"{entry.media}{at} “{entry.heard}”"
    why = f", because {decision.because}" if decision.because else ""
    done = {"amend": "amended", "add": "typed", "correct": "corrected"}.get(decision.action)
    if done:
        yield f"{done} by {entry.by}{why}"
    elif len(_people(service)) > 1:
        yield f"confirmed by {entry.by}{why}"
    if decision.doubts:
        yield f"entered although: {'; '.join(decision.doubts)}"


def filter_note(service: Service, profile: Profile) -> str:
    """Give what to write on the new filter's case: date and tach time, blank if not confirmed."""
    when, tach = service.entry("service_date"), service.entry("tach_time")
    day = str(when.value) if when else "date ________ (not confirmed)"
    hours = f"TACH {tach.value} h" if tach else "TACH ________ (not confirmed)"
    return "  ".join(filter(None, (service.job.aircraft or profile.registration, day, hours)))


def entry_json(service: Service, profile: Profile, catalogue: Catalogue) -> dict[str, Any]:
    """Give record and entry JSON-ready: entries, what is missing, and the draft's text."""
    return {
        "job": service.job.id,
        "kind": service.job.kind,
        "aircraft": service.job.aircraft or profile.registration or None,
        "entries": [
            {
                "name": e.name,
                "position": e.position,
                "value": None if e.value is None else plain(e.value),
                "unit": e.unit,
                "media": e.media,
                "start": e.start,
                "end": e.end,
                "said_at": e.said_at.isoformat() if e.said_at else None,
                "heard": e.heard,
                "by": e.by,
                "at": e.at.isoformat(),
                "decision": service.decision(e).action,
                "because": service.decision(e).because,
            }
            for e in service.entries.values()
        ],
        "missing": list(service.missing),
        "waiting": service.job.waiting,
        "draft": logbook_entry(service, profile, catalogue),
    }
