"""Deciding: `drafts`, `review`, `confirm`, `amend`, `reject`, `undo`, `add`. Each bears a name."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Annotated, Any

import typer

from capture.errors import InputError
from desk import opening, say

if TYPE_CHECKING:
    from desk import naming
    from record.jobs import Job
    from record.queue import Queued

By = Annotated[str, typer.Option("--by", help="Who decides; goes into the record.")]
Because = Annotated[str, typer.Option(help="Why; goes into the record.")]
OneJob = Annotated[int | None, typer.Option(help="Of this job only.")]
Draft = Annotated[str, typer.Argument(metavar="ID", help="The draft's number, as listed.")]
Although = Annotated[str, typer.Option(help="Why a doubtful value is right all the same.")]
Replaces = Annotated[
    list[str] | None,
    typer.Option(help="The entry whose place it takes, as e12; needs --because.", metavar="ENTRY"),
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON.")]


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    for command in (drafts, review, confirm, amend, reject, undo, add):
        app.command()(command)


def drafts(
    ctx: typer.Context,
    job: OneJob = None,
    every: Annotated[bool, typer.Option("--all", help="Also what was decided.")] = False,
    json: Json = False,
) -> None:
    """List what waits, doubts first."""
    from desk.readback.beside import Beside
    from record import jobs, queue

    with opening.record(ctx.obj, read_only=True) as here:
        with here.store.session(write=False) as session:
            if job is not None:
                jobs.get(session, job)
            found = queue.drafts(session, job, None if every else queue.WAITING)
            numbers = {one.job for one in found}
            told = Beside.of(here.settings.home, session, numbers, here.catalogue)
            beside = {one.id: told.said(one.draft, one.job) for one in found}
        if json:
            say.data([_json(queued, here) for queued in found])
        elif found:
            say.drafts(found, here.catalogue, here.settings.profile.known(), beside)
            waiting = [q for q in found if q.state == queue.WAITING]
            doubtful = sum(1 for q in waiting if q.draft.doubts)
            say.line()
            say.line(f"{len(waiting)} waiting, {doubtful} of them doubtful")
        else:
            say.line("no drafts" if every else "nothing waits")


def _json(queued: Queued, here: opening.Opened) -> dict[str, Any]:
    field = here.catalogue.fields.get(queued.draft.name)
    found = field.finding(queued.draft.value, here.settings.profile.known()) if field else None
    return {**queued.to_json(), "adverse": found.word if found else None}


def review(
    ctx: typer.Context,
    by: Annotated[str, typer.Option("--by", help="Who decides; asked for if not given.")] = "",
    job: OneJob = None,
) -> None:
    """Walk through the waiting drafts, doubts first, and decide each."""
    from capture.vault import Vault
    from desk.review import walk

    with opening.record(ctx.obj) as here:
        walk(here, Vault(here.settings.vault_dir), by, job)


def confirm(
    ctx: typer.Context,
    ids: Annotated[list[str], typer.Argument(metavar="ID", help="The drafts' numbers, as listed.")],
    by: By,
    because: Annotated[str, typer.Option(help="Why it takes the place of an entry.")] = "",
    replaces: Replaces = None,
) -> None:
    """Enter drafts as they stand; all of them or none."""
    from desk import naming
    from record import queue

    entered = []
    with opening.record(ctx.obj) as here:
        with here.store.session() as session:
            for text in dict.fromkeys(ids):
                one = naming.listed(session, here, text)
                made = queue.confirm(
                    session,
                    [one.draft.id],
                    by,
                    because=because,
                    replaces=_entries(replaces),
                    seen={one.draft.id: one.seen},
                    catalogue=here.catalogue,
                    known=one.known,
                )
                entered += [(entry, one) for entry in made]
        for entry, one in entered:
            say.entered(entry, here.catalogue, naming.about(one.job))
            for doubt in one.seen.doubts:
                say.line(f"  although: {doubt}")


def _entries(texts: list[str] | None) -> list[int]:
    from desk import naming

    return [naming.entry_number(text) for text in texts or ()]


def amend(
    ctx: typer.Context,
    id: Draft,
    value: Annotated[str, typer.Argument(help="The right value, in the field's unit.")],
    by: By,
    because: Because,
    although: Although = "",
    replaces: Replaces = None,
) -> None:
    """Enter another value than the one that was understood."""
    from desk import naming
    from record import queue

    with opening.record(ctx.obj) as here:
        with here.store.session() as session:
            one = naming.listed(session, here, id)
            entry = queue.amend(
                session,
                one.draft.id,
                value,
                by,
                because,
                here.catalogue,
                although=although,
                replaces=_entries(replaces),
                seen=one.seen,
                known=one.known,
            )
        say.entered(entry, here.catalogue, naming.about(one.job))


def reject(ctx: typer.Context, id: Draft, by: By, because: Because) -> None:
    """Say that a draft is not to be entered; it stays visible as rejected."""
    from desk import naming
    from record import queue

    with opening.record(ctx.obj) as here, here.store.session() as session:
        one = naming.listed(session, here, id)
        queue.reject(session, one.draft.id, by, because, seen=one.seen, catalogue=here.catalogue)
    say.line(f"draft {id} rejected: {_what(one, here)} ({naming.about(one.job)})")


def _what(one: naming.Listed, here: opening.Opened) -> str:
    label = say.about(one.draft.draft.name, one.draft.draft.position, here.catalogue)
    return f"{label} {one.seen.value}"


def undo(ctx: typer.Context, id: Draft, by: By) -> None:
    """Take a decision back while its job is open; all is then as it was before it."""
    from desk import naming
    from record import queue

    with opening.record(ctx.obj) as here, here.store.session() as session:
        one = naming.listed(session, here, id)
        queue.undo(session, one.draft.id, by, seen=one.seen, catalogue=here.catalogue)
    was = one.draft.state
    say.line(f"draft {id} is no longer {was}: {_what(one, here)} ({naming.about(one.job)})")


def add(
    ctx: typer.Context,
    name: Annotated[str, typer.Argument(help="The field, as you would say it.")],
    value: Annotated[str, typer.Argument(help="Its value, in the field's unit.")],
    by: By,
    job: Annotated[int | None, typer.Option(help="The job; needed when several are open.")] = None,
    position: Annotated[
        str | None, typer.Option(help="Which cylinder, tire, row or thing that recurs.")
    ] = None,
    on: Annotated[
        datetime | None,
        typer.Option(
            formats=["%Y-%m-%d"], help="In a small job of its own, of this day: a top-up, a check."
        ),
    ] = None,
    because: Annotated[
        str, typer.Option(help="Why it replaces an entry, or comes late into a closed job.")
    ] = "",
    although: Although = "",
    replaces: Replaces = None,
) -> None:
    """Enter a value by hand that nobody spoke; marked as typed, in a closed job as late."""
    from desk import naming
    from record import queue, typed

    if job is not None and on is not None:
        raise InputError("a job of its own has no number yet", todo="give --job or --on, not both")
    with opening.record(ctx.obj) as here:
        with here.store.session() as session:
            if on is None:
                found = naming.open_job(session, job)
            else:
                found = _small_job(session, here, on.date().isoformat(), by, although)
            entry = queue.add(
                session,
                found.id,
                typed.named(name, here.catalogue).name,
                value,
                by,
                position,
                here.catalogue,
                because=because,
                although=although,
                replaces=_entries(replaces),
                known=here.settings.profile_of(found.aircraft).known(),
            )
        if on is not None:
            say.line(f"job {found.id}, of {on:%Y-%m-%d}; add to it with --job {found.id}")
        late = "" if found.is_open else ", a late entry"
        say.entered(entry, here.catalogue, naming.about(found) + late)


def _small_job(session: Any, here: opening.Opened, day: str, by: str, although: str) -> Job:
    """Make a job of its own for what is typed of a day: a top-up, a check."""
    from record import jobs, queue

    profile = here.settings.profile
    aircraft = profile.registration or None
    number = jobs.job_for(session, None, kind="free", new=True, aircraft=aircraft)
    # a job of its own may lie before others that are in the record; a day to come is doubted
    past = datetime.fromisoformat(day).date() <= datetime.now(profile.zone).date()
    why = although or ("named as the day of a job of its own" if past else "")
    told: dict[str, Any] = {"although": why, "known": profile.known()}
    queue.add(session, number, "service_date", day, by, None, here.catalogue, **told)
    return jobs.get(session, number)
