"""Looking up: `find`, `jobs`."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from typing import Annotated, Any

import typer

from capture.errors import InputError
from desk import opening, say
from desk.commands.decide import Json


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    for command in (find, jobs):
        app.command()(command)


def find(
    ctx: typer.Context,
    words: Annotated[
        list[str] | None, typer.Argument(metavar="WORDS", help="All must be there.")
    ] = None,
    since: Annotated[datetime | None, typer.Option("--from", formats=["%Y-%m-%d"])] = None,
    until: Annotated[datetime | None, typer.Option("--to", formats=["%Y-%m-%d"])] = None,
    field: Annotated[str | None, typer.Option(help="Entries of this field only.")] = None,
    value: Annotated[str | None, typer.Option(help="Entries of this value only.")] = None,
    json: Json = False,
) -> None:
    """Find past spoken notes and entries by word and date, with the file and the second."""
    from record import search

    if not (words or field or value):
        raise InputError("nothing to find", todo="name words, --field or --value")
    days = since and since.date(), until and until.date()
    with (
        opening.record(ctx.obj, read_only=True) as here,
        here.store.session(write=False) as session,
    ):
        hits = search.find(session, " ".join(words or ()), *days, field, value)
    if json:
        say.data([_hit(hit) for hit in hits])
    else:
        say.hits(hits)


def _hit(hit: Any) -> dict[str, Any]:
    made = asdict(hit)
    return {k: v.isoformat() if isinstance(v, datetime) else v for k, v in made.items()}


def jobs(ctx: typer.Context, json: Json = False) -> None:
    """List the jobs, newest last."""
    from record import jobs as rows

    with opening.record(ctx.obj, read_only=True) as here:
        with here.store.session(write=False) as session:
            found = rows.jobs(session)
        if json:
            say.data([say.job_json(job) for job in found])
        else:
            say.jobs(found, here.catalogue)
