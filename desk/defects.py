"""Defects and remarks as people meet them: in a list, in the draft entry, at the foot of `due`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

from extract.values.defects import CLEARED, DEFECT, OPEN, REMARK, told
from record.defects import Defect

if TYPE_CHECKING:
    from record.entries import Entry
    from record.service import Service

# What a decision made of a defect.
DONE = {"reopen": "opened again", "defer": "deferred", "clear": "cleared"}


def line(defect: Defect) -> str:
    """Give a defect in a line: `3.1  deferred until the annual: cracked exhaust stud  …`."""
    until = f" until {defect.until}" if defect.until else ""
    found = f"found in {_job(defect, defect.first)}, entered by {defect.first.by}"
    who = found if defect.now is defect.first else _ended(defect, defect.now)
    return f"{defect.ref}  {defect.state}{until}: {defect.words}  ({who})"


def _ended(defect: Defect, entry: Entry) -> str:
    state = told(entry.value or "").state
    return f"{'opened again' if state == OPEN else state} in {_job(defect, entry)}, by {entry.by}"


def lines(found: Iterable[Defect], *, every: bool = False) -> list[str]:
    """Give defects as lines; with `every`, each thing that was entered of one below it."""
    made = []
    for defect in found:
        made.append(line(defect))
        if every and len(defect.every) > 1:
            made += [f"      {_was(defect, entry)}" for entry in defect.every]
    return made


def _job(defect: Defect, entry: Entry) -> str:
    """Give the job of an entry with its day, or the day of entering where the job has none."""
    day = defect.on(entry)
    return f"job {entry.job}, {day if day else f'entered {entry.at:%Y-%m-%d}'}"


def _was(defect: Defect, entry: Entry) -> str:
    said = "withdrawn" if entry.value is None else str(entry.value)
    why = entry.heard.partition(": ")[2] if not entry.media and entry.supersedes else ""
    return f"{_job(defect, entry)}, {entry.by}: {said}{f' ({why})' if why else ''}"


def as_json(defect: Defect) -> dict[str, Any]:
    """Give a defect JSON-ready, with everything that was entered of it."""
    return {
        "ref": defect.ref,
        "job": defect.first.job,
        "state": defect.state,
        "until": defect.until or None,
        "words": defect.words,
        "heard": defect.first.heard,
        "media": defect.first.media,
        "said_at": defect.first.said_at.isoformat() if defect.first.said_at else None,
        "by": defect.now.by,
        "at": defect.now.at.isoformat(),
        "in_job": defect.now.job,
        "found_on": day.isoformat() if (day := defect.on(defect.first)) else None,
        "history": [
            {"job": e.job, "value": e.value, "by": e.by, "at": e.at.isoformat()}
            for e in defect.every
        ],
    }


def standing(services: Iterable[Service]) -> list[Defect]:
    """Give the defects found in these services that are not cleared, the oldest first."""
    return [
        defect
        for service in services
        for defect in service.defects
        if defect.first.job == service.job.id and defect.state != CLEARED
    ]


def foot(services: Iterable[Service]) -> list[str]:
    """Give the defects that are not cleared for the foot of `due`; empty where there are none."""
    found = standing(services)
    return ["DEFECTS not cleared", *(f"  {line(d)}" for d in found)] if found else []


def found_in(service: Service) -> Iterator[str]:
    """Give each defect of a job as it stands in the draft entry, with what became of it."""
    for entry in service.entries.values():
        if entry.name != DEFECT or entry.value is None:
            continue
        part = told(entry.value)
        until = f" until {part.until}" if part.until else ""
        said = f"Defect {entry.position}, {part.state}{until}: {part.words}"
        if (why := service.decision(entry).because) and entry.supersedes:
            said += f". {sentence(why, '')}"
        yield f"{said}{_elsewhere(service, entry)}."


def _elsewhere(service: Service, entry: Entry) -> str:
    """Say where a defect was found, or what became of it, in another job."""
    its = next((d for d in service.defects if any(e.id == entry.id for e in d.every)), None)
    if its is None:
        return ""
    if its.first.job != service.job.id:
        return f" (found in {_job(its, its.first)})"
    later = service.became(entry)
    return f" ({_ended(its, later)})" if later is not None else ""


def remarks(service: Service) -> Iterator[str]:
    """Give the remarks of a job as sentences, in the words of the person who confirmed them."""
    by: dict[str, list[str]] = {}
    for entry in service.entries.values():
        if entry.name == REMARK and entry.value is not None:
            by.setdefault(entry.by, []).append(sentence(str(entry.value)))
    for person, said in by.items():
        yield f"In the words of {person}: {' '.join(said)}"


def sentence(words: str, stop: str = ".") -> str:
    """Give words with a capital in front and one stop behind."""
    return words[:1].upper() + words[1:].rstrip(" .") + stop


def later(service: Service, entry: Entry) -> str:
    """Say what became of a defect in a later job; empty where nothing did."""
    became = service.became(entry)
    its = next((d for d in service.defects if any(e.id == entry.id for e in d.every)), None)
    if became is None or its is None:
        return ""
    why = became.heard.partition(": ")[2]
    return f"later {_ended(its, became)}{f': {why}' if why else ''}"
