"""Proof that nothing was lost or changed: `check`, `recover`, `head`, `key`."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from capture.errors import ExitCode
from desk import opening, say

MOST = 200  # problems that are told one by one


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    for command in (check, recover, head):
        app.command()(command)
    key = typer.Typer(no_args_is_help=True, help="A key of your own, with which heads are signed.")
    key.command("make")(make_key)
    app.add_typer(key, name="key")


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

    wanted, signed = upkeep.head_of(against) if against else (None, None)
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
    if signed:
        say.line(f"head {signed.number} was signed {signed.at} by {signed.key}")
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
    """Print the head of the record, signed where you have a key; keep it elsewhere."""
    from desk import keys
    from record import heads
    from record.values import now

    with (
        opening.record(ctx.obj, read_only=True) as here,
        here.store.session(write=False) as session,
    ):
        number, seal = heads.of_record(session)
    key = keys.load(keys.place(os.environ))
    say.line(keys.statement(number, seal, now(), key) if key else f"{number}-{seal}")


def make_key(
    ctx: typer.Context,
    path: Annotated[
        Path | None, typer.Argument(help="Where to; else your own folder of settings.")
    ] = None,
) -> None:
    """Make a key (Ed25519) outside the home; from then on heads are signed with it."""
    from desk import keys

    where = path or keys.place(os.environ)
    public = keys.make(where, opening.settings(ctx.obj).home)
    say.line(f"made: {where}, readable by you alone; a copy on another disk is wise")
    if where != keys.place(os.environ):
        say.line(f"it is used where {keys.KEY_VARIABLE} names it")
    say.line(f"its public half, to be kept with whoever is to believe you: {public}")
