"""Oil analysis: `lab` and `trend`. It says what changed, never what is wrong."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from capture.errors import InputError
from desk import laboratory as laboratory_of
from desk import opening, say
from desk.commands.decide import Because, By, Json, OneJob

if TYPE_CHECKING:
    from record.reports import LabReport

lab = typer.Typer(no_args_is_help=True, help="Laboratory reports on oil samples.")
Figures = Annotated[list[str], typer.Argument(metavar="METAL=PPM…", help="As Fe=22 Cu=9.6 Sn=<1.")]
Lab = Annotated[str, typer.Option("--lab", help="The laboratory.")]
Taken = Annotated[str, typer.Option("--date", help="The day of the sample, as 2026-03-14.")]
Hours = Annotated[str, typer.Option("--hours", help="Hours on the oil.")]
Tach = Annotated[str, typer.Option("--tach", help="The tach time of the sample.")]
Number = Annotated[str, typer.Option("--number", help="The laboratory's own number.")]
Note = Annotated[str, typer.Option("--note", help="What the laboratory wrote.")]


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    app.add_typer(lab, name="lab")
    app.command()(trend)


@lab.command()
def add(
    ctx: typer.Context,
    figures: Figures,
    laboratory: Lab,
    date: Taken,
    by: By,
    hours: Hours = "",
    tach: Tach = "",
    number: Number = "",
    note: Note = "",
    job: OneJob = None,
) -> None:
    """Enter a report by hand."""
    _enter(ctx, [laboratory_of.made(figures, laboratory, date, hours, tach, number, note)], by, job)


@lab.command("correct")
def correct_(
    ctx: typer.Context,
    id: Annotated[int, typer.Argument(metavar="ID", help="The report's number.")],
    figures: Figures,
    laboratory: Lab,
    date: Taken,
    by: By,
    because: Because,
    hours: Hours = "",
    tach: Tach = "",
    number: Number = "",
    note: Note = "",
) -> None:
    """Put a right report in the place of a wrong one; the wrong one stays, with the reason."""
    made = laboratory_of.made(figures, laboratory, date, hours, tach, number, note)
    with opening.record(ctx.obj) as here:
        done = laboratory_of.correct(here, id, made, by, because)
    say.line(f"report {done.id} entered in the place of report {id}")
    say.lines(f"  ? {doubt}" for doubt in done.report.doubts)


@lab.command("import")
def import_(
    ctx: typer.Context,
    files: Annotated[list[Path], typer.Argument(metavar="FILE…", help="CSV files.")],
    by: By,
    laboratory: Annotated[str, typer.Option("--lab", help="Where a file names none.")] = "",
) -> None:
    """Enter reports from CSV; all of a file or nothing. Look first with `lab show`."""
    for file in files:
        _enter(ctx, laboratory_of.from_csv(file, laboratory), by, None)


@lab.command()
def show(
    ctx: typer.Context,
    files: Annotated[list[Path], typer.Argument(metavar="FILE…", help="CSV files or photos.")],
    laboratory: Annotated[str, typer.Option("--lab", help="Where a file names none.")] = "",
) -> None:
    """Show what a CSV file or a photo of a printed report would become. Nothing is recorded."""
    from capture.vault import kind_of
    from desk.reports import read_photo

    for file in files:
        if kind_of(file) == "photo":
            figures, left = read_photo(file, opening.settings(ctx.obj))
            read_off = " ".join(f"{s}={figure}" for s, figure in figures.items())
            say.line(f"{file.name}: {read_off or 'no figure could be read'}")
            say.lines(f"  not taken: {line}" for line in left)
            continue
        for report in laboratory_of.from_csv(file, laboratory):
            say.lines(laboratory_of.report_text(report))


@lab.command()
def read(
    ctx: typer.Context,
    photo: Annotated[Path, typer.Argument(help="A photo of a printed report on one sample.")],
    laboratory: Lab,
    date: Taken,
    by: By,
    hours: Hours = "",
    tach: Tach = "",
    number: Number = "",
    job: OneJob = None,
) -> None:
    """Read a printed report off a photo; each figure is confirmed, amended or left out by you."""
    from capture.vault import Vault
    from desk.reports import decide_figures, read_photo
    from record.reports import day, hours_of, make

    taken, on_oil, read_at = day(date), hours_of(hours), hours_of(tach)
    settings = opening.settings(ctx.obj)
    figures, left = read_photo(photo, settings)
    say.line(f"{photo.name}: look at the paper beside each figure")
    for line in left:
        say.line(f"  not taken: {line}")
    decided = decide_figures(figures)
    kept = Vault(settings.vault_dir).keep(photo)
    report = make(
        laboratory,
        taken,
        decided,
        hours=on_oil,
        tach=read_at,
        number=number,
        source=f"photo {kept.name} {kept.sha256}",
    )
    _enter(ctx, [report], by, job)


@lab.command("list")
def list_(ctx: typer.Context, json: Json = False) -> None:
    """List the reports, several laboratories side by side."""
    from desk.trends import reports_json, reports_text
    from record import lab as kept

    with opening.record(ctx.obj, read_only=True) as here:
        aircraft = here.settings.profile.registration or None
        with here.store.session(write=False) as session:
            found = kept.reports(session, aircraft)
    if json:
        say.data(reports_json(found))
    else:
        say.lines(reports_text(found))


def trend(
    ctx: typer.Context,
    metal: Annotated[
        list[str] | None, typer.Argument(metavar="METAL…", help="Only these, as Fe or iron.")
    ] = None,
    plot: Annotated[
        Path | None, typer.Option(help="Draw it to this .svg, .png or .pdf file.")
    ] = None,
    json: Json = False,
) -> None:
    """Follow the metals through all reports: what changed, by how much, and whom to ask."""
    from desk import trends
    from desk.ledger import open_ledger

    only = [_symbol(name) for name in metal or []]
    with opening.record(ctx.obj, read_only=True) as here:
        ledger = open_ledger(here)
        title = f"{here.settings.profile.registration}: metals in the oil".lstrip(": ")
    if json:
        say.data(trends.trends_json(ledger, only))
    else:
        say.lines(trends.trends_text(ledger, only))
    if plot is not None:
        from desk.plots import draw

        words = trends.trends_text(ledger, only)
        found = trends.trends(ledger, only)
        say.note(f"drawn: {draw(found, plot, title, trends.filters(ledger), words)}")


def _symbol(name: str) -> str:
    from record.reports import metal_of
    from record.rules import metals

    found = metal_of(name) or metal_of(name.capitalize())
    if found is None:
        raise InputError(
            f"'{name}' is no metal that is followed here", todo=f"use {', '.join(metals())}"
        )
    return found


def _enter(
    ctx: typer.Context, reports: tuple[LabReport, ...] | list[LabReport], by: str, job: int | None
) -> None:
    with opening.record(ctx.obj) as here:
        done = laboratory_of.enter(here, reports, by, job)
    say.lines(laboratory_of.entered_text(done))
