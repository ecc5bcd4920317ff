"""Putting right: `correct`, in open and closed jobs; `fields`, which lists what can be named."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from capture.errors import InputError
from desk import opening, say
from desk.commands.decide import Although, Because, By, Json


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    for command in (correct, fields):
        app.command()(command)


def correct(
    ctx: typer.Context,
    what: Annotated[
        str, typer.Argument(help="The entry (e12), or a draft's number or field with --was.")
    ],
    by: By,
    because: Because,
    value: Annotated[str, typer.Argument(help="The right value, in the field's unit.")] = "",
    withdraw: Annotated[
        bool, typer.Option("--withdraw", help="Put no value in its place.")
    ] = False,
    was: Annotated[str, typer.Option(help="The value that stands, as you saw it.")] = "",
    job: Annotated[int | None, typer.Option(help="The job; needed where several have it.")] = None,
    position: Annotated[str | None, typer.Option(help="Which cylinder, tyre or row.")] = None,
    although: Although = "",
) -> None:
    """Put a new entry in the place of a wrong one, in an open or a closed job; both stay."""
    from desk import naming
    from record import correct as corrections
    from record import jobs

    if bool(value) == withdraw:
        raise InputError("one of a right value and --withdraw is needed", todo="give one of them")
    with opening.record(ctx.obj) as here:
        with here.store.session() as session:
            old, seen = naming.entry_meant(session, here, what, job, position, was)
            found = jobs.get(session, old.job)
            told: dict[str, Any] = {"seen": seen, "catalogue": here.catalogue}
            if withdraw:
                corrections.withdraw(session, old.id, by, because, **told)
            else:
                told |= {
                    "although": although,
                    "known": here.settings.profile_of(found.aircraft).known(),
                }
                new = corrections.correct(session, old.id, value, by, because, **told)
        label = say.about(old.name, old.position, here.catalogue)
        if withdraw:
            now = "withdrawn"
        else:
            assert new.value is not None  # noqa: S101  (a correction always has a value)
            now = say.shown(new.name, new.value, new.unit, here.catalogue)
        say.line(f"{label}: {now}, was {seen.value}, corrected by {by} ({naming.about(found)})")


def fields(
    ctx: typer.Context,
    words: Annotated[
        list[str] | None, typer.Argument(metavar="WORDS", help="Only those that have these words.")
    ] = None,
    json: Json = False,
) -> None:
    """List every field by the words that name it, with its unit, positions and choices."""
    catalogue = opening.catalogue(opening.settings(ctx.obj))
    asked = " ".join(words or ()).lower()
    found = [f for f in catalogue.fields.values() if asked in f"{f.label} {f.name}".lower()]
    if json:
        say.data(
            [
                {
                    "name": f.name,
                    "label": f.label,
                    "kind": f.kind,
                    "unit": f.unit,
                    "positions": list(f.positions),
                    "choices": list(f.choices),
                }
                for f in found
            ]
        )
        return
    if not found:
        raise InputError(f"no field has the words “{asked}”", todo="`cowlnote fields` lists all")
    wide = max(len(f.label) for f in found)
    for f in found:
        kinds = {"truth": "yes or no", "date": "year-month-day", "choice": ", ".join(f.choices)}
        what = f.unit or kinds.get(f.kind, f.kind)
        places = f"; position {', '.join(map(str, f.positions))}" if f.positions else ""
        say.line(f"{f.label:<{wide}}  {f.name:<22}  {what}{places}")
