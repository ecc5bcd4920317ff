"""Reckoning from confirmed values: `history`, `due`, `sums`, `torque`, `slip`."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from desk import lookup, opening, say
from desk.commands.decide import Because, By, Json, OneJob

if TYPE_CHECKING:
    from desk.profile import Profile
    from record.due import Due

Tach = Annotated[str, typer.Option("--tach", help="What the tach reads today, in hours.")]


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    for command in (history, due, sums, torque, slip, meter):
        app.command()(command)


def history(ctx: typer.Context, json: Json = False) -> None:
    """List the services, one line each: hours on the oil, oil used, metal found, oil reports."""
    from desk import ledger

    with opening.record(ctx.obj, read_only=True) as here:
        found = ledger.open_ledger(here)
        if json:
            say.data(ledger.history_json(found))
        else:
            say.lines(ledger.history_text(found, here.catalogue, here.settings.profile.units))


def due(
    ctx: typer.Context,
    tach: Tach = "",
    on: Annotated[
        datetime | None, typer.Option(formats=["%Y-%m-%d"], help="Another day than today.")
    ] = None,
    hour_meter: Annotated[
        str, typer.Option("--hour-meter", help="What the hour meter reads today, in hours.")
    ] = "",
    ics: Annotated[
        Path | None, typer.Option(help="Write it to this iCalendar file (.ics) as well.")
    ] = None,
    json: Json = False,
) -> None:
    """Say what is next due by meter and by calendar: the oil, and all else that recurs."""
    from desk import dues, ledger, standing
    from desk.sums import number
    from record.store import FILE

    settings = opening.settings(ctx.obj)
    profile = settings.profile
    readings = {
        field: read
        for field, read in (
            ("tach_time", number(tach, "--tach")),
            ("hour_meter_time", number(hour_meter, "--hour-meter")),
        )
        if read is not None
    }
    today = on.date() if on else datetime.now(profile.zone).date()
    services = ledger.Ledger((), ())  # before the first service, the profile's [last] will do
    catalogue = opening.catalogue(settings)
    where = settings.database
    if not isinstance(where, Path) or (where / FILE).is_file():
        with opening.record(ctx.obj, read_only=True) as here:
            services = ledger.open_ledger(here)
    every = dues.all_due(services, profile, today, readings)
    found = next(one for one in every if one.what == dues.OIL)
    if json:
        left = standing.standing_json(services, catalogue, profile.known())
        listed = {"list": [dues.due_json(one) for one in every]}
        say.data({**dues.due_json(found), **left, **listed})
    else:
        say.lines(standing.standing_text(services, catalogue, profile.known()))
        say.lines(dues.list_text(every, profile))
        say.lines(dues.due_text(found, profile))
    if ics is not None:
        _calendar(every, profile, ics)


def _calendar(every: list[Due], profile: Profile, path: Path) -> None:
    from desk.ics import calendar, day_in_calendar, write

    write(calendar(every, profile, datetime.now(profile.zone)), path)
    say.note(f"calendar: {path}")
    for one in every:
        if day_in_calendar(one) is None:
            say.note(f"not in it, no day is known: {one.what}")


def sums(ctx: typer.Context, job: OneJob = None) -> None:
    """Show every sum that a job's confirmed values allow, with its span and its source."""
    from desk.sums import sums_text

    with opening.record(ctx.obj, read_only=True) as here:
        say.lines(sums_text(lookup.line_of(here, job), here.settings.profile))


def torque(
    ctx: typer.Context,
    wanted: Annotated[str, typer.Argument(help="The torque that the fastener is to have.")],
    unit: Annotated[str, typer.Option(help="ft-lb, in-lb or N·m (Nm will do).")] = "ft-lb",
    length: Annotated[str, typer.Option(help="The wrench, from drive to hand.")] = "",
    adapter: Annotated[str, typer.Option(help="The adapter, from drive to fastener.")] = "",
    way: Annotated[
        str, typer.Option(help="The adapter points: in line, back or square.")
    ] = "in line",
) -> None:
    """Give a torque in three units, and what the wrench must show with an adapter on it."""
    from desk.sums import torque_lines

    say.lines(torque_lines(wanted, unit, length, adapter, way))


def slip(ctx: typer.Context, job: OneJob = None) -> None:
    """Print the slip that goes with an oil sample, filled from the record."""
    from desk.ledger import job_slip

    with opening.record(ctx.obj, read_only=True) as here:
        say.lines(job_slip(here, job))


def meter(
    ctx: typer.Context,
    old: Annotated[str, typer.Option("--old", help="What the old meter read when taken off.")],
    new: Annotated[str, typer.Option("--new", help="What the new one read when fitted.")],
    on: Annotated[datetime, typer.Option("--on", formats=["%Y-%m-%d"], help="The day.")],
    by: By,
    because: Because,
    hour_meter: Annotated[
        bool, typer.Option("--hour-meter", help="The hour meter, not the tach.")
    ] = False,
) -> None:
    """State that a meter was changed, so that hours are counted on past it."""
    from desk.meters import changed

    with opening.record(ctx.obj) as here:
        told = changed(
            here,
            hour_meter=hour_meter,
            old=old,
            new=new,
            on=on.date().isoformat(),
            by=by,
            because=because,
        )
    say.line(told)
