"""Looking up: `find`, `jobs`."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from typing import Annotated, Any

import typer

from capture.errors import InputError
from desk import as_json, opening, say
from desk.commands.decide import Json, OneJob


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
        zone = here.settings.zone
        hits = search.find(session, " ".join(words or ()), *days, field, value, zone=zone)
    if json:
        say.data([_hit(hit) for hit in hits])
    else:
        say.hits(hits)


def _hit(hit: Any) -> dict[str, Any]:
    made = asdict(hit)
    return {k: v.isoformat() if isinstance(v, datetime) else v for k, v in made.items()}


def jobs(
    ctx: typer.Context,
    job: OneJob = None,
    every: Annotated[bool, typer.Option("--all", help="Also those that are set aside.")] = False,
    json: Json = False,
) -> None:
    """List the jobs, newest last; with --job its files, and what was arranged in it."""
    from desk import arranging, understood
    from record import jobs as rows
    from record import media, queue

    with opening.record(ctx.obj, read_only=True) as here:
        with here.store.session(write=False) as session:
            found = rows.jobs(session, every=every) if job is None else [rows.get(session, job)]
            files = [] if job is None else media.media(session, job)
            told = [] if job is None else arranging.told(session, job)
            lost = {}
            if job is not None:
                drafts = [queued.draft for queued in queue.drafts(session, job)]
                seen = media.observed(session, job)
                lost = {one.id: one.why for one in understood.lost(files, seen, drafts)}
        if json:
            made = [as_json.job_json(one) for one in found]
            if job is not None:
                made[0] |= {"files": [as_json.media_json(m) for m in files], "arranged": told}
            say.data(made)
        else:
            say.jobs(found, here.catalogue)
            say.files(files, lost)
            say.lines(told)
