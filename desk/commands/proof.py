"""Proof that nothing was lost or changed: `check`, `head`."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated

import typer

from capture.errors import ExitCode, InputError
from desk import opening, say

MOST = 200  # problems that are told one by one
HEAD = re.compile(r"(?P<number>\d{1,15})[-\s:]+(?P<hash>[0-9a-f]{8,64})\b")


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    for command in (check, head):
        app.command()(command)


def check(
    ctx: typer.Context,
    against: Annotated[
        str,
        typer.Option(
            metavar="HEAD",
            help="A head kept elsewhere (412-9f3a1c20d4e5), or a file or an export with one.",
        ),
    ] = "",
) -> None:
    """Prove files and record, to the last byte and row; name all that is not as sealed."""
    from capture.vault import Vault
    from desk import upkeep

    wanted = head_of(against) if against else None
    with opening.record(ctx.obj, read_only=True) as here, say.terminal() as report:
        cache = here.settings.home / "cache"
        vault = Vault(here.settings.vault_dir)
        found = upkeep.check(here.store, vault, report, against=wanted, cache=cache)
    for problem in found.problems[:MOST]:
        say.complain(problem)
    if len(found.problems) > MOST:
        say.complain(f"and {len(found.problems) - MOST} more")
    for notice in found.notices:
        say.note(f"odd, and not wrong by that alone: {notice}")
    if found.gone_on:
        say.note(
            f"{say.counted(found.gone_on, 'file')} read by a check that was interrupted; not again"
        )
    say.line(
        f"{say.counted(found.files, 'file')} ({found.size / 1e6:.1f} MB), "
        f"{say.counted(found.links, 'link')}, {say.counted(found.events, 'event')} and "
        f"{say.counted(found.rows, 'row')} of the record looked at, "
        f"{say.counted(len(found.problems), 'problem')}; head {found.head}"
    )
    if found.problems:
        raise typer.Exit(ExitCode.INTEGRITY)


def head_of(text: str) -> tuple[int, str]:
    """Read a head: as it is printed, in full, or out of a file that holds one.

    Raises InputError where there is none.
    """
    path = Path(text)
    try:
        path = path / "bag-info.txt" if path.is_dir() else path
        held = path.read_text("utf-8") if path.is_file() else text
    except (OSError, ValueError):
        held = text
    found = HEAD.search(held.partition("Record-Head:")[2]) or HEAD.search(held)
    if found is None:
        raise InputError("holds no head", text, "give it as it is printed, like 412-9f3a1c20d4e5")
    return int(found["number"]), found["hash"]


def head(ctx: typer.Context) -> None:
    """Print the head of the record, to be kept where the record is not."""
    from record import journal

    with opening.record(ctx.obj, read_only=True) as here:
        with here.store.session(write=False) as session:
            number, seal = journal.head(session)
        say.line(f"{number}-{seal}")
