"""Taking in: `intake`, and `try`, which shows what something would become and records nothing."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Annotated

import typer

from capture.errors import CowlnoteError, ExitCode, InputError
from desk import opening, say

_SHIFT = re.compile(r"([+-]?)(?:(\d{1,12})h)?(?:(\d{1,12})m)?(?:(\d{1,12})s)?", re.ASCII)
_MOST = timedelta(days=36525)  # a century: no clock is further off, and every moment can be told


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    app.command()(intake)
    app.command("try")(try_)


def intake(
    ctx: typer.Context,
    paths: Annotated[list[Path], typer.Argument(help="Folders, memos and photos.", metavar="PATH")],
    json: Annotated[bool, typer.Option("--json", help="Print the summary as JSON.")] = False,
    clock_shift: Annotated[
        str, typer.Option(help="Add this to every time of the batch: +1h, -12m, 1h30m10s.")
    ] = "",
    job: Annotated[int | None, typer.Option(help="Add to this job.")] = None,
    kind: Annotated[
        str | None, typer.Option(help="The kind of a new job; else offered from what was said.")
    ] = None,
) -> None:
    """Take memos and photos in: keep, hear, read, and queue drafts to confirm."""
    shift = shift_of(clock_shift)
    from capture.vault import Vault
    from desk import engines
    from desk.intake import take_in

    with opening.record(ctx.obj) as here, say.terminal() as report:
        if kind is not None and kind not in here.catalogue.jobs:
            kinds = ", ".join(here.catalogue.jobs)
            raise InputError(f"no such kind of job: {kind}", todo=f"the kinds are {kinds}")
        if not here.settings.has_profile:
            report.notice(
                f"no profile in {here.settings.home}; times without an offset are read in "
                f"{here.settings.zone.key}; `cowlnote begin` makes one"
            )
        summary = take_in(
            paths,
            here.settings,
            here.store,
            Vault(here.settings.vault_dir),
            engines.LateEar(here.settings),
            engines.LateEye(here.settings),
            report,
            here.catalogue,
            shift=shift,
            job=job,
            kind=kind,
        )
    if json:
        say.data(summary.to_json())
    else:
        say.summary(summary, here.catalogue)
    raise typer.Exit(summary.code)


def shift_of(text: str, option: str = "--clock-shift") -> timedelta:
    """Read a clock's shift such as `-1h30m`. Raises InputError for anything else."""
    if not text:
        return timedelta(0)
    found = _SHIFT.fullmatch(text.replace(" ", ""))
    if not found or not any(found.groups()[1:]):
        raise InputError(f"{option} {text}: will not do", todo="write +1h, -12m or 1h30m10s")
    sign, hours, minutes, seconds = found.groups()
    whole = int(hours or 0) * 3600 + int(minutes or 0) * 60 + int(seconds or 0)
    if whole > _MOST.total_seconds():
        raise InputError(f"{option} {text}: no clock is that far off", todo="write a smaller shift")
    shift = timedelta(seconds=whole)
    return -shift if sign == "-" else shift


def try_(
    ctx: typer.Context,
    inputs: Annotated[
        list[str],
        typer.Argument(
            help="A sentence in quotes, a memo or photo, or - for one sentence a line.",
            metavar="INPUT",
        ),
    ],
    json: Annotated[bool, typer.Option("--json", help="Print a JSON array a line.")] = False,
    why: Annotated[
        bool, typer.Option("--why", help="Say which reader took the words for it, and how surely.")
    ] = False,
) -> None:
    """Show what something would become. Nothing is recorded."""
    from desk import engines, trial

    settings = opening.settings(ctx.obj)
    catalogue = opening.catalogue(settings)
    ear, eye = engines.LateEar(settings, resumes=False), engines.LateEye(settings)
    failed: list[CowlnoteError] = []
    done = 0
    for text, is_sentence in _inputs(inputs):
        try:
            if is_sentence:
                drafts = trial.try_sentence(text, settings, catalogue)
            else:
                drafts = trial.try_input(text, settings, catalogue, ear, eye)
            done += 1
        except CowlnoteError as error:
            say.complain(str(error))
            failed.append(error)
            if json:
                say.data([])  # so that the lines stay in step with the inputs
            continue
        if json:
            say.data([draft.to_json() for draft in drafts])
        else:
            say.trial(text, drafts, catalogue, why=why)
    if failed:
        raise typer.Exit(ExitCode.LEFT if done else failed[0].code)


def _inputs(given: list[str]) -> Iterator[tuple[str, bool]]:
    """Give each input, and whether it can only be a sentence because it came by standard input."""
    for text in given:
        if text == "-":
            yield from ((line.rstrip("\r\n"), True) for line in sys.stdin)
        else:
            yield text, False
