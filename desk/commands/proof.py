"""Proof that nothing was lost or changed: `check`, `recover`, `head`."""

from __future__ import annotations

from typing import Annotated

import typer

from capture.errors import ExitCode
from desk import opening, say

MOST = 200  # problems that are told one by one


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    for command in (check, recover, head):
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
    from desk import noted, upkeep

    wanted = upkeep.head_of(against) if against else None
    with opening.record(ctx.obj, read_only=True) as here, say.terminal() as report:
        profiles = noted.profiles(here.settings.home)
        cache = here.settings.home / "cache"
        vault = Vault(here.settings.vault_dir)
        found = upkeep.check(
            here.store, vault, report, against=wanted, profiles=profiles, cache=cache
        )
    for problem in found.problems[:MOST]:
        say.complain(problem)
    if len(found.problems) > MOST:
        say.complain(f"and {len(found.problems) - MOST} more")
    for notice in found.notices:
        say.note(f"told, and no fault by that alone: {notice}")
    if found.gone_on:
        say.note(
            f"{say.counted(found.gone_on, 'file')} read by a check that was interrupted; not again"
        )
    say.line(found.counted())
    if found.problems:
        raise typer.Exit(ExitCode.INTEGRITY)


def recover(ctx: typer.Context) -> None:
    """Take into the record what lies in the vault without a row; make notes and index anew."""
    from capture.vault import Vault
    from desk import recovery

    with opening.record(ctx.obj) as here:
        done = recovery.recover(here.store, Vault(here.settings.vault_dir), here.settings)
    lines = done.lines()
    kept = len(lines) - len(done.left)
    say.lines(lines[:kept])
    for line in lines[kept:]:
        say.complain(line)
    if done.left:
        raise typer.Exit(ExitCode.LEFT)


def head(ctx: typer.Context) -> None:
    """Print the head of the record, to be kept where the record is not."""
    from record import journal

    with opening.record(ctx.obj, read_only=True) as here:
        with here.store.session(write=False) as session:
            number, seal = journal.head(session)
        say.line(f"{number}-{seal}")
