"""The papers: `entry`, `signed`, `checklist`, `close`, each of a job named the same way; `book`."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from capture.errors import InputError
from desk import lookup, opening, say
from desk.commands.decide import By, Json

if TYPE_CHECKING:
    from desk.opening import Opened
    from desk.profile import Profile
    from record.service import Service

Job = Annotated[int | None, typer.Argument(metavar="[JOB]", help="Its number.")]
NamedJob = Annotated[int | None, typer.Option("--job", help="The same, named.")]


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    for command in (entry, signed, book, checklist, close):
        app.command()(command)


def one_job(number: int | None, named: int | None) -> int | None:
    """Give the job that was named, with or without `--job`; None where none was."""
    if None not in (number, named) and number != named:
        raise InputError(f"two jobs are named, {number} and {named}", todo="name one")
    return number if number is not None else named


def entry(
    ctx: typer.Context,
    number: Job = None,
    job: NamedJob = None,
    json: Json = False,
    filter_note: Annotated[
        bool, typer.Option("--filter-note", help="Only the text to write on the new filter.")
    ] = False,
    pdf: Annotated[Path | None, typer.Option(help="Write both to this PDF instead.")] = None,
    photos: Annotated[
        bool, typer.Option("--photos", help="With the job's photos, in the PDF.")
    ] = False,
) -> None:
    """Print the service record and the draft logbook entry, from confirmed values alone."""
    from desk import papers

    if photos and pdf is None:
        raise InputError("--photos: goes with --pdf", todo="name the PDF to write")

    with opening.record(ctx.obj, read_only=True) as here:
        found = lookup.service_of(here, one_job(number, job))
        profile = here.settings.profile_of(found.job.aircraft)
        if filter_note:
            say.line(papers.filter_note(found, profile))
        elif pdf is not None:
            say.line(f"written: {_pdf(here, found, profile, pdf, photos=photos)}")
        elif json:
            say.data(papers.entry_json(found, profile, here.catalogue))
        else:
            say.line(papers.service_record(found, profile, here.catalogue))
            say.line()
            say.line(papers.logbook_entry(found, profile, here.catalogue))


def _pdf(here: Opened, found: Service, profile: Profile, path: Path, *, photos: bool) -> Path:
    from capture.vault import Vault
    from desk import evidence, logbook, papers, written
    from desk.paper_pdf import entry_pdf

    entry = logbook.entry_of(found, profile, here.catalogue)
    vault = Vault(here.settings.vault_dir)
    pictures = evidence.photos([found], vault.proved) if photos else []
    record = papers.service_record(found, profile, here.catalogue)
    return written.write(path, entry_pdf(entry, record=record, photos=pictures))


def signed(
    ctx: typer.Context,
    photo: Annotated[Path, typer.Argument(help="The photo of the page, as signed.")],
    by: By,
    number: Job = None,
    job: NamedJob = None,
) -> None:
    """Keep the photo of the signed page with its job, also after that was closed."""
    from capture.vault import Vault
    from desk import signing

    with opening.record(ctx.obj) as here:
        vault = Vault(here.settings.vault_dir)
        entry = signing.keep(here, vault, photo, one_job(number, job), by)
        say.line(f"job {entry.job}: {entry.value} kept as its signed page {entry.position}")


def book(
    ctx: typer.Context,
    start: Annotated[
        datetime | None, typer.Option("--from", formats=["%Y-%m-%d"], help="The first day.")
    ] = None,
    end: Annotated[
        datetime | None, typer.Option("--to", formats=["%Y-%m-%d"], help="The last day.")
    ] = None,
    out: Annotated[Path, typer.Option("--out", help="The PDF to write.")] = Path("book.pdf"),
    photos: Annotated[bool, typer.Option(help="With the photos of the jobs.")] = True,
) -> None:
    """Write one paper over the years: totals, services, oil used, compressions, defects, photos."""
    from capture.vault import Vault
    from desk import written
    from desk.book import written_book

    with opening.record(ctx.obj, read_only=True) as here:
        path_of = Vault(here.settings.vault_dir).proved
        first, last = (day.date() if day else None for day in (start, end))
        made = written_book(here, path_of, first, last, photos=photos)
    say.line(f"written: {written.write(out, made.pdf)}, {made.title}")


def checklist(ctx: typer.Context, number: Job = None, job: NamedJob = None) -> None:
    """Show what a job calls for: entered, drafted and waiting, or never said; bad news first."""
    from desk.checked import checklist_of

    with opening.record(ctx.obj, read_only=True) as here:
        say.lines(checklist_of(here, one_job(number, job)))


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
