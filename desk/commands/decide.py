"""Deciding: `drafts`, `review`, `confirm`, `amend`, `reject`, `add`. Each bears a name."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Annotated, Any

import typer

from capture.errors import InputError
from desk import opening, say

if TYPE_CHECKING:
    from record.queue import Queued

By = Annotated[str, typer.Option("--by", help="Who decides; goes into the record.")]
Because = Annotated[str, typer.Option(help="Why; goes into the record.")]
OneJob = Annotated[int | None, typer.Option(help="Of this job only.")]
Json = Annotated[bool, typer.Option("--json", help="Print JSON.")]


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    for command in (drafts, review, confirm, amend, reject, add):
        app.command()(command)


def drafts(
    ctx: typer.Context,
    job: OneJob = None,
    every: Annotated[bool, typer.Option("--all", help="Also what was decided.")] = False,
    json: Json = False,
) -> None:
    """List what waits, doubts first."""
    from record import jobs, queue

    with opening.record(ctx.obj, read_only=True) as here:
        with here.store.session(write=False) as session:
            if job is not None:
                jobs.get(session, job)
            found = queue.drafts(session, job, None if every else queue.WAITING)
        if json:
            say.data([_json(queued, here) for queued in found])
        elif found:
            say.drafts(found, here.catalogue, here.settings.profile.known())
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
    ids: Annotated[list[int], typer.Argument(metavar="ID", help="The drafts' numbers.")],
    by: By,
) -> None:
    """Enter drafts as they stand; all of them or none."""
    from record import queue

    with opening.record(ctx.obj) as here:
        with here.store.session() as session:
            entered = queue.confirm(session, ids, by)
        for entry in entered:
            say.entered(entry, here.catalogue)


def amend(
    ctx: typer.Context,
    id: Annotated[int, typer.Argument(metavar="ID", help="The draft's number.")],
    value: Annotated[str, typer.Argument(help="The right value, in the field's unit.")],
    by: By,
    because: Because,
) -> None:
    """Enter another value than the one that was understood."""
    from record import queue

    with opening.record(ctx.obj) as here:
        with here.store.session() as session:
            entry = queue.amend(session, id, value, by, because, here.catalogue)
        say.entered(entry, here.catalogue)


def reject(
    ctx: typer.Context,
    id: Annotated[int, typer.Argument(metavar="ID", help="The draft's number.")],
    by: By,
    because: Because,
) -> None:
    """Say that a draft is not to be entered; it stays visible as rejected."""
    from record import queue

    with opening.record(ctx.obj) as here, here.store.session() as session:
        queue.reject(session, id, by, because)
    say.line(f"draft {id} rejected")


def add(
    ctx: typer.Context,
    name: Annotated[str, typer.Argument(help="The field, as `tach_time`.")],
    value: Annotated[str, typer.Argument(help="Its value, in the field's unit.")],
    by: By,
    job: OneJob = None,
    position: Annotated[
        str | None, typer.Option(help="Which cylinder, tire, row or thing that recurs.")
    ] = None,
    on: Annotated[
        datetime | None,
        typer.Option(
            formats=["%Y-%m-%d"], help="In a small job of its own, of this day: a top-up, a check."
        ),
    ] = None,
) -> None:
    """Enter a value by hand that nobody spoke; marked as typed."""
    from desk.lookup import newest
    from record import jobs, queue

    if job is not None and on is not None:
        raise InputError("a job of its own has no number yet", todo="give --job or --on, not both")
    with opening.record(ctx.obj) as here:
        with here.store.session() as session:
            if on is not None:
                aircraft = here.settings.profile.registration or None
                number = jobs.job_for(session, None, kind="free", new=True, aircraft=aircraft)
                day = on.date().isoformat()
                queue.add(session, number, "service_date", day, by, catalogue=here.catalogue)
                say.line(f"job {number}, of {day}; add to it with --job {number}")
            else:
                number = job if job is not None else newest(jobs.jobs(session))
            entry = queue.add(session, number, name, value, by, position, here.catalogue)
        say.entered(entry, here.catalogue)
