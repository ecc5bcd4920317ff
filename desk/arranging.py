"""Arrange memos, photos and jobs, and draft anew what that touches, in one transaction.

Shared by the command line and the page. Knows no screen.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping, Sequence
from datetime import timedelta
from typing import Any

from capture.errors import InputError
from desk import drafting
from desk.settings import Settings
from extract.values.catalogue import Catalogue
from record import arrange, jobs, media
from record.arrange import Done
from record.errors import RefusedError
from record.media import Media
from record.store import Store
from record.values import kind_now

Act = Callable[[Any], Done]
WORDS = {
    "move": "moved from job {was} to job {becomes}",
    "split": "split off from job {was} to job {becomes}",
    "join": "joined from job {was} to job {becomes}",
    "kind": "kind changed from {was} to {becomes}",
    "aircraft": "aircraft changed from {was} to {becomes}",
    "aside": "set aside",
    "back": "taken back",
    "clock": "its clock put right: {was} became {becomes}",
}


def carry_out(store: Store, settings: Settings, catalogue: Catalogue, act: Act) -> Done:
    """Do what a person wants, then draft anew the jobs that it touched; all of it or nothing.

    What the jobs are then made of is read beforehand, while nobody has to wait: the act is tried
    and undone to see it. Raises RefusedError as `record.arrange` does.
    """
    read = _read(store, catalogue, _tried(store, settings, act))
    with store.session() as session:
        done = act(session)
        for number in done.jobs:
            drafting.again(session, number, settings, catalogue, read.get(number))
    return done


class _UndoneError(Exception):
    """Ends a session in which an act was only tried."""


def _tried(store: Store, settings: Settings, act: Act) -> dict[int, drafting.Material]:
    """Give what each job that an act touches would be drafted from; nothing of the act is kept."""
    made = {}
    with contextlib.suppress(_UndoneError), store.session() as session:
        for number in act(session).jobs:
            found = jobs.get(session, number)
            if found.is_open and not found.aside:
                made[number] = drafting.material(session, number, settings)
        raise _UndoneError
    return made


def _read(
    store: Store, catalogue: Catalogue, found: Mapping[int, drafting.Material]
) -> dict[int, drafting.Read]:
    with store.session(write=False) as session:
        there = {job.id for job in jobs.jobs(session, every=True)}
        return {
            number: drafting.read_material(
                session, number if number in there else None, material, catalogue
            )
            for number, material in found.items()
        }


def numbers(session: Any, names: Sequence[str], job: int | None = None) -> list[int]:
    """Give the numbers of memos and photos by their names, of one job if named.

    Raises RefusedError for a name that is not there, or stands for more than one file.
    """
    every = [m for m in media.media(session, job) if m.job is not None]
    made = []
    for name in names:
        found = [m for m in every if m.name == name] or [m for m in every if m.original == name]
        if not found:
            where = f" in job {job}" if job is not None else ""
            raise RefusedError(
                f"there is no memo or photo {name}{where}", todo="see `cowlnote jobs --job N`"
            )
        if len(found) > 1:
            raise RefusedError(
                f"{name} is there more than once: {', '.join(_where(m) for m in found)}",
                todo="say which with --job",
            )
        made.append(found[0].id)
    return made


def _where(found: Media) -> str:
    return f"{found.name} of job {found.job}"


def from_on(session: Any, job: int, name: str) -> list[int]:
    """Give a memo or photo of a job and all of it that began later. Raises as `numbers` does."""
    (first,) = numbers(session, [name], job)
    every = [m.id for m in media.media(session, job)]
    return every[every.index(first) :]


def a_kind(kind: str, catalogue: Catalogue) -> str:
    """Give a kind of job by its name or label. Raises InputError for what is none."""
    for known in catalogue.jobs.values():
        if kind_now(kind.strip().lower()) in (known.name, known.label.lower()):
            return known.name
    raise InputError(
        f"no such kind of job: {kind}", todo=f"the kinds are {', '.join(catalogue.jobs)}"
    )


def move(names: Sequence[str], to: int | None, by: str, because: str, job: int | None) -> Act:
    """Give the act that moves files to a job, or to a new one."""
    return lambda session: arrange.move(session, numbers(session, names, job), to, by, because)


def split(job: int, names: Sequence[str], by: str, because: str, *, rest: bool) -> Act:
    """Give the act that splits files off a job; with `rest`, the first and all after it."""

    def act(session: Any) -> Done:
        jobs.get(session, job)
        found = from_on(session, job, names[0]) if rest else numbers(session, names, job)
        return arrange.split(session, job, found, by, because)

    return act


def aside(names: Sequence[str], job: int | None, by: str, because: str) -> Act:
    """Give the act that sets files aside, or without one the job."""

    def one(session: Any, number: int | None, of: int) -> Done:
        return arrange.aside(session, of, by, because, number)

    return _each(names, job, one)


def back(names: Sequence[str], job: int | None, by: str, because: str) -> Act:
    """Give the act that takes back what was set aside."""

    def one(session: Any, number: int | None, of: int) -> Done:
        return arrange.back(session, of, by, because, number)

    return _each(names, job, one)


def _each(
    names: Sequence[str], job: int | None, one: Callable[[Any, int | None, int], Done]
) -> Act:
    def act(session: Any) -> Done:
        if not names:
            if job is None:
                raise InputError("nothing was named", todo="name files, or --job")
            jobs.get(session, job)
            return one(session, None, job)
        done = [
            one(session, number, media.get(session, number).job or 0)
            for number in numbers(session, names, job)
        ]
        touched = sorted({n for each in done for n in each.jobs})
        return Done(tuple(touched), sum(each.taken_back for each in done))

    return act


def clock(names: Sequence[str], shift: timedelta, by: str, because: str, job: int | None) -> Act:
    """Give the act that puts right when files began."""

    def act(session: Any) -> Done:
        found = numbers(session, names, job)
        return arrange.shift_clock(session, found, shift, by, because)

    return act


def told(session: Any, job: int) -> list[str]:
    """Give what was arranged in a job, a line each: what, by whom, when, why."""
    made = []
    for act in arrange.arrangements(session, job):
        of = f"{media.get(session, act.media).name}: " if act.media else ""
        was, becomes = act.was or "none", act.becomes or "none"
        words = WORDS[act.action].format(was=was, becomes=becomes)
        why = f" ({act.because})" if act.because else ""
        made.append(f"{of}{words} by {act.by}, {act.at:%Y-%m-%d %H:%M}{why}")
    return made
