"""The papers of a job and its end: `entry`, `checklist`, `close`. Each takes a job the same way."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from desk import opening, say
from desk.commands.decide import By, Json

if TYPE_CHECKING:
    from desk.opening import Opened
    from record.service import Service

Job = Annotated[int | None, typer.Argument(metavar="[JOB]", help="Its number.")]
NamedJob = Annotated[int | None, typer.Option("--job", help="The same, named.")]


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    for command in (entry, checklist, close):
        app.command()(command)


def one_job(number: int | None, named: int | None) -> int | None:
    """Give the job that was named, with or without `--job`; None where none was."""
    from capture.errors import InputError

    if None not in (number, named) and number != named:
        raise InputError(f"two jobs are named, {number} and {named}", todo="name one")
    return number if number is not None else named


def _service(here: Opened, number: int | None) -> Service:
    from desk import lookup
    from record import jobs
    from record.service import service

    with here.store.session(write=False) as session:
        found = number if number is not None else lookup.newest(jobs.jobs(session))
        return service(session, found, here.catalogue)


def entry(
    ctx: typer.Context,
    number: Job = None,
    job: NamedJob = None,
    json: Json = False,
    filter_note: Annotated[
        bool, typer.Option("--filter-note", help="Only the text to write on the new filter.")
    ] = False,
) -> None:
    """Print the service record and the draft logbook entry, from confirmed values alone."""
    from desk import papers

    with opening.record(ctx.obj, read_only=True) as here:
        found = _service(here, one_job(number, job))
        profile = here.settings.profile_of(found.job.aircraft)
        if filter_note:
            say.line(papers.filter_note(found, profile))
        elif json:
            say.data(papers.entry_json(found, profile, here.catalogue))
        else:
            say.line(papers.service_record(found, profile, here.catalogue))
            say.line()
            say.line(papers.logbook_entry(found, profile, here.catalogue))


def checklist(ctx: typer.Context, number: Job = None, job: NamedJob = None) -> None:
    """Show what a job calls for: entered, drafted and waiting, or never said; bad news first."""
    from desk.checked import checklist_text

    with opening.record(ctx.obj, read_only=True) as here:
        found = _service(here, one_job(number, job))
        profile = here.settings.profile_of(found.job.aircraft)
        say.lines(checklist_text(found, here.catalogue, profile.known(), profile.paper.country))


def close(
    ctx: typer.Context,
    by: By,
    number: Job = None,
    job: NamedJob = None,
    because: Annotated[
        str, typer.Option(help="Why, where something is missing, adverse or waiting.")
    ] = "",
) -> None:
    """Freeze a job, after a list of what is missing, adverse or waiting; corrections stay open."""
    from desk.closing import close_job

    with opening.record(ctx.obj) as here:
        close_job(here, one_job(number, job), by, because)
