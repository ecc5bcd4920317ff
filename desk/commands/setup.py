"""Setting up: `begin`, `models`, `demo`."""

from __future__ import annotations

import os
from typing import Annotated
from zoneinfo import ZoneInfo

import typer

from capture.errors import InputError, ModelMissingError
from desk import opening, say

models = typer.Typer(no_args_is_help=True, help="The speech models: what there is, fetch, check.")


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    for command in (begin, demo):
        app.command()(command)
    app.add_typer(models, name="models")


def begin(
    ctx: typer.Context,
    registration: Annotated[str, typer.Argument(help="As it stands on the aircraft.")] = "",
    zone: Annotated[str, typer.Option(help="As America/Chicago; else this machine's.")] = "",
) -> None:
    """Make the home and the aircraft's profile, a file that explains itself.

    At a terminal it asks for what it needs. In a home that has an aircraft, it adds another.
    """
    from desk import asking, profile

    here = opening.settings(ctx.obj)
    local = profile.local_zone(os.environ)
    try:
        where = ZoneInfo(zone) if zone else here.zone if here.has_profile else local
    except (KeyError, ValueError, OSError):
        raise InputError(f"no such time zone: {zone}", todo="write it as America/Chicago") from None
    name = asking.file_for(here, registration)
    answers: dict[str, str] = {}
    if say.is_asking() and not (here.home / name).exists():
        registration = registration or say.ask(asking.REGISTRATION)
        name = asking.file_for(here, registration)
        if not zone and not here.has_profile:
            where = asking.zone_of(say.ask, say.complain, where)
        answers = asking.answers(say.ask, say.note)
    made = profile.begin(here.home, registration, where, answers, name)
    say.line(f"made {made}; fill in what you know")


def demo(
    ctx: typer.Context,
    years: Annotated[
        bool, typer.Option("--years", help="Five invented services over two years instead.")
    ] = False,
) -> None:
    """Do a whole service on invented memos and photos, in a temporary home."""
    if years:
        from desk.years import run as run_years

        raise typer.Exit(run_years())
    from desk.demo import run

    raise typer.Exit(run())


@models.command("list")
def list_(ctx: typer.Context) -> None:
    """List the models that the manifest names."""
    from capture import models as rows

    folder = opening.settings(ctx.obj).models_dir
    for model in rows.manifest():
        lacking = "not needed" if model.extra else "not there"
        state = "there" if rows.has(folder, model.name) else lacking
        say.line(f"{model.name:<14} {state:<10} {model.source} ({model.licence})")


@models.command()
def get(
    ctx: typer.Context,
    extra: Annotated[list[str] | None, typer.Argument(help="extra models to fetch too")] = None,
) -> None:
    """Fetch the models. The only command that reaches a network."""
    from capture import models as rows

    folder = opening.settings(ctx.obj).models_dir
    made = rows.get(folder, say.fetching, extra or ())
    say.line(f"{', '.join(made)} laid in {folder}" if made else f"all models are right in {folder}")


@models.command()
def verify(ctx: typer.Context) -> None:
    """Check every byte of the models against the manifest."""
    from capture import models as rows

    folder = opening.settings(ctx.obj).models_dir
    states = rows.verify(folder)
    for name, state in states:
        say.line(f"{name:<14} {state}")
    wrong = [name for name, state in states if state != "right"]
    if wrong:
        raise ModelMissingError(
            f"not right: {', '.join(wrong)}", folder, "run `cowlnote models get`"
        )
