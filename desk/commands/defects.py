"""What was found: `defects` lists it, `defect` says in a person's name what became of it."""

from __future__ import annotations

import re
from typing import Annotated

import typer

from capture.errors import InputError
from desk import opening, say
from desk.commands.decide import By, Json


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    for command in (defects, defect):
        app.command()(command)


def defects(
    ctx: typer.Context,
    every: Annotated[
        bool, typer.Option("--all", help="Also what was cleared, and how each came about.")
    ] = False,
    json: Json = False,
) -> None:
    """List the defects that are not cleared, the oldest first."""
    from desk.defects import as_json, lines
    from extract.values.defects import CLEARED
    from record import defects as kept

    with opening.record(ctx.obj, read_only=True) as here:
        with here.store.session(write=False) as session:
            aircraft = here.settings.profile.registration or None
            found = [d for d in kept.defects(session, aircraft) if every or d.state != CLEARED]
        if json:
            say.data([as_json(one) for one in found])
        else:
            say.lines(lines(found, every=every) or ["no defect is open or deferred"])


def defect(
    ctx: typer.Context,
    ref: Annotated[str, typer.Argument(metavar="JOB.N", help="As `defects` names it.")],
    state: Annotated[str, typer.Argument(help="open, deferred or cleared.")],
    by: By,
    because: Annotated[str, typer.Option(help="What was done, or why; goes into the record.")],
    until: Annotated[str, typer.Option(help="Until what it is deferred.")] = "",
    job: Annotated[
        str, typer.Option("--in", help="The job it was done in, or `new`; else the newest open.")
    ] = "",
) -> None:
    """Say what became of a defect; what it was before stays in the record."""
    from desk.defects import lines
    from record import defects as kept

    if job and job != "new" and not re.fullmatch(r"[0-9]{1,18}", job):
        raise InputError(f"--in {job}: will not do", todo="write a job's number, or new")
    with opening.record(ctx.obj) as here:
        with here.store.session() as session:
            number = int(job) if job and job != "new" else None
            if job == "new":
                number = kept.new_job(session, ref)
            kept.settle(session, ref, state.lower(), by, because, until=until, job=number)
            found = kept.find(session, ref)
        say.lines(lines([found], every=True))
