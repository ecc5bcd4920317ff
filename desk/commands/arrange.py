"""Arranging: `move`, `split`, `join`, `kind`, `aircraft`, `aside`, `back`, `clock`.

What a person says of where a file or job belongs. Nothing is lost by it; each can be reversed.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated

import typer

from capture.errors import InputError
from desk import opening, say
from desk.commands.decide import By

if TYPE_CHECKING:
    from desk.arranging import Act

Files = Annotated[list[str], typer.Argument(metavar="FILE", help="Memos and photos, by name.")]
Job = Annotated[int, typer.Argument(metavar="JOB", help="The job's number.")]
Why = Annotated[str, typer.Option("--because", help="Why; goes into the record.")]
OfJob = Annotated[int | None, typer.Option("--job", help="The job that the files are of.")]


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    for command in (move, split, join, kind, aircraft, aside, back, clock):
        app.command()(command)


def _do(ctx: typer.Context, act: Act) -> None:
    from desk import arranging

    with opening.record(ctx.obj) as here:
        done = arranging.carry_out(here.store, here.settings, here.catalogue, act)
        with here.store.session(write=False) as session:
            from record import jobs

            say.jobs([jobs.get(session, number) for number in done.jobs], here.catalogue)
    if done.taken_back:
        say.line(
            f"{say.counted(done.taken_back, 'decision')} taken back: "
            "what was decided from it waits again"
        )


def move(
    ctx: typer.Context,
    files: Files,
    by: By,
    to: Annotated[str, typer.Option(help="The job's number, or `new`.")],
    because: Why = "",
    job: OfJob = None,
) -> None:
    """Move memos and photos to another job."""
    if to != "new" and not re.fullmatch(r"[0-9]{1,18}", to):
        raise InputError(f"--to {to}: will not do", todo="write a job's number, or new")
    from desk import arranging

    number = None if to == "new" else int(to)
    _do(ctx, arranging.move(files, number, by, because, job))


def split(
    ctx: typer.Context,
    job: Job,
    files: Files,
    by: By,
    rest: Annotated[
        bool, typer.Option("--rest", help="The first file, and all that began after it.")
    ] = False,
    because: Why = "",
) -> None:
    """Put a part of a job into a new job."""
    from desk import arranging

    _do(ctx, arranging.split(job, files, by, because, rest=rest))


def join(
    ctx: typer.Context,
    job: Job,
    into: Annotated[int, typer.Argument(metavar="INTO", help="The job that takes it all.")],
    by: By,
    because: Why = "",
) -> None:
    """Put all of a job into another; the empty one is set aside."""
    from record import arrange

    _do(ctx, lambda session: arrange.join(session, job, into, by, because))


def kind(
    ctx: typer.Context,
    job: Job,
    kind: Annotated[str, typer.Argument(help="As tire, compression, oil-and-filter.")],
    by: By,
    because: Why = "",
) -> None:
    """Say which kind of job it is; from then on none is offered."""
    from desk import arranging
    from record import arrange

    with opening.record(ctx.obj, read_only=True) as here:
        name = arranging.a_kind(kind, here.catalogue)
    _do(ctx, lambda session: arrange.set_kind(session, job, name, by, because))


def aircraft(
    ctx: typer.Context,
    job: Job,
    registration: Annotated[str, typer.Argument(help="As it stands on the aircraft.")],
    by: By,
    because: Why = "",
) -> None:
    """Say which aircraft a job is of."""
    from record import arrange

    found = opening.settings(ctx.obj).profile_of(registration.strip().upper()).registration
    if not found:
        raise InputError("no aircraft was named", todo="write its registration")
    _do(ctx, lambda session: arrange.set_aircraft(session, job, found, by, because))


def aside(
    ctx: typer.Context,
    by: By,
    because: Annotated[str, typer.Option(help="Why; goes into the record.")],
    files: Annotated[list[str] | None, typer.Argument(metavar="FILE")] = None,
    job: OfJob = None,
) -> None:
    """Set files aside, or with --job alone the whole job: kept, and not counted."""
    from desk import arranging

    _do(ctx, arranging.aside(files or [], job, by, because))


def back(
    ctx: typer.Context,
    by: By,
    files: Annotated[list[str] | None, typer.Argument(metavar="FILE")] = None,
    job: OfJob = None,
    because: Why = "",
) -> None:
    """Take back what was set aside."""
    from desk import arranging

    _do(ctx, arranging.back(files or [], job, by, because))


def clock(
    ctx: typer.Context,
    files: Files,
    by: By,
    shift: Annotated[str, typer.Option(help="Add this to when they began: +1h, -12m.")],
    because: Why = "",
    job: OfJob = None,
) -> None:
    """Put right when memos or photos began, where their clock was wrong."""
    from desk import arranging
    from desk.commands.take import shift_of

    found = shift_of(shift, "--shift")
    if not found:
        raise InputError("no shift was given", todo="write +1h, -12m or 1h30m10s")
    _do(ctx, arranging.clock(files, found, by, because, job))
