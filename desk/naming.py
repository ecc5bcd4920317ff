"""What a person names on the command line: a draft as it was listed, an entry, a field, a job."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from capture.errors import InputError
from desk.opening import Opened
from extract.values.draft import Position
from extract.values.known import Known
from record import entries, jobs, queue, typed
from record.entries import Entry
from record.errors import RefusedError, StaleError
from record.jobs import Job
from record.judge import Judge
from record.queue import Queued
from record.seen import Seen, of_entry

_DRAFT = re.compile(r"(\d{1,18})([a-z]?)", re.ASCII)
_ENTRY = re.compile(r"[eE](\d{1,18})", re.ASCII)


@dataclass(frozen=True, slots=True)
class Listed:
    """A draft that was named as it was listed, and what a decision on it must name as seen."""

    draft: Queued
    seen: Seen
    job: Job
    known: Known


def listed(session: Any, here: Opened, text: str) -> Listed:
    """Give the draft of a number such as `7`, or `7b` where its contents had changed by then.

    Raises InputError for anything else; RefusedError where there is none; StaleError where it has
    changed since.
    """
    found = _DRAFT.fullmatch(text.strip())
    if found is None:
        raise InputError(f"“{text}” is no draft's number", todo="see `cowlnote drafts`")
    draft = queue.get(session, int(found[1]))
    version = ord(found[2]) - ord("a") + 1 if found[2] else 1
    job = jobs.get(session, draft.job)
    known = here.settings.profile_of(job.aircraft).known()
    waits = draft.state == queue.WAITING
    judge = Judge(session, draft.job, here.catalogue, known) if waits else None
    seen = draft.seen(here.catalogue, judge)
    if draft.version != version:
        raise StaleError(
            f"draft {text.strip()} has changed since it was listed: it is {draft.number} now, "
            f"{typed.label(draft.draft.name, draft.draft.position, here.catalogue)} {seen.value}",
            todo=f"look at it with `cowlnote drafts`, then name it as {draft.number}",
        )
    return Listed(draft, seen, job, known)


def entry_number(text: str) -> int:
    """Give the number of an entry such as `e12`. Raises InputError for anything else."""
    found = _ENTRY.fullmatch(text.strip())
    if found is None:
        raise InputError(f"“{text}” is no entry's number", todo="write it as e12")
    return int(found[1])


def open_job(session: Any, job: int | None) -> Job:
    """Give the job that was named, else the only one that is open.

    Raises RefusedError where none is open, and where several are: with their list.
    """
    if job is not None:
        return jobs.get(session, job)
    found = [one for one in jobs.jobs(session) if one.is_open and not one.aside]
    if len(found) == 1:
        return found[0]
    if not found:
        raise RefusedError("no job is open", todo="name one with --job; `cowlnote jobs` lists them")
    names = "; ".join(f"--job {one.id}: {about(one)}, {_day(one)}" for one in found)
    raise RefusedError(f"{len(found)} jobs are open ({names})", todo="name the one that is meant")


def _day(job: Job) -> str:
    return f"{job.first or job.opened_at:%Y-%m-%d}"


def about(job: Job) -> str:
    """Say which job it is, and of which aircraft."""
    return f"job {job.id}, {job.aircraft or 'no aircraft'}"


def entry_meant(
    session: Any, here: Opened, what: str, job: int | None, position: Position, was: str
) -> tuple[Entry, Seen]:
    """Give the entry that is to be corrected: `e12`, or that of a draft, or that of a field.

    Only `e12` says what was seen, since an entry never changes; for the others `was` must say it.
    Raises InputError, RefusedError; StaleError where `was` is not the value that stands.
    """
    if _ENTRY.fullmatch(what.strip()):
        found = entries.get(session, entry_number(what))
        if job is not None and found.job != job:
            raise RefusedError(f"entry {what} is of job {found.job}, not of job {job}")
    else:
        found = _standing(session, here, what, job, position)
    seen = of_entry(found, here.catalogue)
    label = typed.label(found.name, found.position, here.catalogue)
    told = f"{label} of {about(jobs.get(session, found.job))} is {seen.value}, entry e{found.id}"
    if was:
        if typed.value(found.name, was, here.catalogue).value != found.value:
            raise StaleError(f"{told}, and not {was}")
    elif not _ENTRY.fullmatch(what.strip()):
        where = f" from {found.media} “{found.heard}”" if found.media else f" “{found.heard}”"
        raise RefusedError(
            f"{told} by {found.by}{where}", todo=f"name it as e{found.id}, or add --was VALUE"
        )
    return found, seen


def _standing(session: Any, here: Opened, what: str, job: int | None, position: Position) -> Entry:
    every = [e for e in entries.entries(session, job) if e.value is not None]
    if number := _DRAFT.fullmatch(what.strip()):
        draft = queue.get(session, int(number[1]))
        name = draft.draft.name
        found = [
            e
            for e in every
            if e.slot == draft.draft.slot
            and e.job == draft.job
            and entries.origin(session, e) == draft.id
        ]
    else:
        name = typed.named(what, here.catalogue).name
        place = None if position is None else typed.place(name, position, here.catalogue)
        found = [e for e in every if e.name == name and place in (None, e.position)]
    label = typed.field(name, here.catalogue).label
    if not found:
        raise RefusedError(
            f"no {label} stands in the record" + (f" of job {job}" if job else ""),
            todo="a value never stated is added with `cowlnote add`",
        )
    if len(found) > 1:
        listed_ = "; ".join(
            f"e{e.id}: {typed.label(e.name, e.position, here.catalogue)} "
            f"{of_entry(e, here.catalogue).value}, job {e.job}"
            for e in found
        )
        raise RefusedError(f"{label} stands {len(found)} times ({listed_})", todo="name one")
    return found[0]
