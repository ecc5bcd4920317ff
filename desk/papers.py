"""The papers: the service record, the draft logbook entry, the note for the filter's case.

Only confirmed values appear; what a kind of job calls for and is not there is said to be missing.
Nothing is signed here. What an entry must hold by 14 CFR 43.9(a) stands in `desk.logbook`. Hours
are not asked for there, and are good practice (14 CFR 91.417(a)(2) wants the totals kept).
"""

from __future__ import annotations

import textwrap
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from desk import defects, findings
from desk.profile import Profile
from extract.values.catalogue import Catalogue
from extract.values.draft import plain
from extract.values.known import Known
from record import adverse
from record.entries import Entry
from record.service import Service

WIDTH = 78
_DONE = {"amend": "amended", "add": "typed", "correct": "corrected", "late": "late entry, typed"}


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
    return field.told(entry.value, entry.said)


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
    place = str(entry.position or "")
    position = place[:1].upper() + place[1:]
    bare = value = value_of(entry, catalogue)
    field = catalogue.fields.get(entry.name)
    unit = field.own_unit if field else entry.unit
    if unit and bare.endswith(f" {unit}"):
        bare = bare[: -len(unit) - 1]
        value = f"{bare}\u00a0{unit}"  # no line ends between a figure and its unit
    return str(way).format(value=value, bare=bare, position=position).strip()


def elsewhere() -> Sequence[str]:
    """Give the fields that stand elsewhere in the entry, not among the work."""
    found: Sequence[str] = _data()["elsewhere"]
    return found


def told_in_order(service: Service) -> list[Entry]:
    """Give the entries that tell the work, in the order in which it is told."""
    order = {name: place for place, name in enumerate(_data()["phrases"])}
    return sorted(
        (e for e in service.entries.values() if e.name not in elsewhere()),
        key=lambda e: (order.get(e.name, len(order)), str(e.position)),
    )


def logbook_entry(service: Service, profile: Profile, catalogue: Catalogue) -> str:
    """Give the draft logbook entry as plain text."""
    from desk import logbook

    return logbook.text(logbook.entry_of(service, profile, catalogue))


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False
    )


def service_record(service: Service, profile: Profile, catalogue: Catalogue) -> str:
    """Give every confirmed value with who entered it, when, how, and from what evidence."""
    job = service.job
    kind = catalogue.jobs.get(job.kind)
    heading = " ".join(
        filter(None, ("SERVICE RECORD", f"job {job.id}", job.aircraft or profile.registration))
    )
    lines = [heading, (kind.label if kind else job.kind).capitalize()]
    lines += [*_entered(service, profile), ""]
    known = profile.known()
    for told in findings.lines(adverse.entered(service, catalogue, known), catalogue):
        indent = " " * (len(told) - len(told.lstrip()) + 2)
        lines += textwrap.wrap(
            told.strip(), WIDTH, initial_indent=indent, subsequent_indent=" " * 6
        )
    lines += [""] * (lines[-1] != "")
    width = max((len(label_of(*slot, catalogue)) for slot in service.entries), default=0)
    for entry in service.entries.values():
        lines += _row(service, entry, width, catalogue, known)
    if not service.entries:
        lines.append("  nothing is confirmed yet")
    if job.waiting:
        lines += ["", f"  still waiting for a decision: {job.waiting} (`cowlnote drafts`)"]
    if service.missing:
        names = ", ".join(label_of(name, None, catalogue) for name in service.missing)
        lines += ["", *_wrapped(f"missing: {names}", "  ")]
    if not job.is_open and job.closed_at:
        at = job.closed_at.astimezone(profile.zone)
        lines += ["", f"  closed by {job.closed_by}, {at:%Y-%m-%d %H:%M}", *_why_closed(service)]
    return "\n".join(lines)


def _row(
    service: Service, entry: Entry, width: int, catalogue: Catalogue, known: Known
) -> list[str]:
    found = adverse.finding_of(entry.name, entry.value, catalogue, known)
    mark = findings.MARK if found else " "
    word = f"  {findings.WORDS[found.stands]}" if found else ""
    label = label_of(*entry.slot, catalogue)
    lines = [f"{mark} {label:<{width}}  {value_of(entry, catalogue)}{word}"]
    for told in _how(service, entry):
        lines += _wrapped(told, " " * (width + 4))
    before = adverse.before(service, entry, catalogue, known)
    for old, bad in adverse.said_too(service, entry, catalogue, known):
        if not any(first.value == old.value for first, _ in before):
            told = f"said as well: {value_of(old, catalogue)} ({bad.word})"
            lines += _wrapped(told, " " * (width + 4))
    for old, bad in before:
        first = f"before: {value_of(old, catalogue)} ({bad.word}), entered by {old.by}"
        lines += _wrapped(first, " " * (width + 4))
        for told in _how(service, old):
            lines += _wrapped(told, " " * (width + 6))
    return lines


def _why_closed(service: Service) -> list[str]:
    """Say why a job was closed with something left, and what that was."""
    ended = [d for d in service.decisions if d.action == "close" and d.because]
    lines: list[str] = []
    for decision in ended:
        lines += _wrapped(f"closed all the same, because {decision.because}", "    ")
        for one in decision.doubts:
            lines += _wrapped(one, "      ")
    return lines


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
        yield f"{entry.source}{at} “{entry.heard}”"
    why = f", because {decision.because}" if decision.because else ""
    done = _DONE.get(decision.action) or defects.DONE.get(decision.action)
    if done:
        late = f" on {entry.at:%Y-%m-%d}" if decision.action == "late" else ""
        yield f"{done} by {entry.by}{late}{why}"
    elif len(_people(service)) > 1:
        yield f"confirmed by {entry.by}{why}"
    if told := defects.later(service, entry):
        yield told
    if decision.doubts:
        reason = f", because {decision.although}" if decision.although else ""
        yield f"entered although: {'; '.join(decision.doubts)}{reason}"


def filter_note(service: Service, profile: Profile) -> str:
    """Give what to write on the new filter's case: date and hours, blank if not confirmed."""
    log = profile.hours_by or "tach_time"
    name = "TACH" if log == "tach_time" else "HOUR METER"
    when, read = service.entry("service_date"), service.entry(log)
    day = str(when.value) if when else "date ________ (not confirmed)"
    hours = f"{name} {read.value} h" if read else f"{name} ________ (not confirmed)"
    return "  ".join(filter(None, (service.job.aircraft or profile.registration, day, hours)))


def entry_json(service: Service, profile: Profile, catalogue: Catalogue) -> dict[str, Any]:
    """Give record and entry JSON-ready: entries, what is missing, and the draft's text."""
    return {
        "job": service.job.id,
        "kind": service.job.kind,
        "aircraft": service.job.aircraft or profile.registration or None,
        "head": service.head,
        "entries": [
            {
                "name": e.name,
                "position": e.position,
                "value": None if e.value is None else plain(e.value),
                "unit": e.unit,
                "media": e.media,
                "sha256": e.sha256,
                "start": e.start,
                "end": e.end,
                "said_at": e.said_at.isoformat() if e.said_at else None,
                "heard": e.heard,
                "by": e.by,
                "at": e.at.isoformat(),
                "decision": service.decision(e).action,
                "because": service.decision(e).because,
                "although": service.decision(e).although,
            }
            for e in service.entries.values()
        ],
        "adverse": [
            {
                "name": bad.name,
                "position": bad.position,
                "value": plain(bad.value),
                "word": bad.finding.word,
                "open": bad.stands,
                "caution": bad.finding.caution.text,
            }
            for bad in adverse.entered(service, catalogue, profile.known())
        ],
        "missing": list(service.missing),
        "waiting": service.job.waiting,
        "draft": logbook_entry(service, profile, catalogue),
    }
