"""The command line: the door that every command goes through, and the options that all share.

The commands stand in `desk/commands/`, by what a person wants: set up, take in, decide, look up.
Each reads the settings, calls one function, and shows what it gave. Every error of ours becomes one
line and its exit code here; the list of codes is `capture.errors.ExitCode`.
"""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from capture.errors import CowlnoteError, ExitCode
from desk import opening, say
from desk.commands import (
    arrange,
    carry,
    correct,
    decide,
    defects,
    lessons,
    listen,
    lookup,
    oil,
    page,
    paper,
    proof,
    reckon,
    setup,
    take,
)

# What a file's name can be wrong about; anything else is the disk's.
NAMES = (errno.ENAMETOOLONG, errno.ENOENT, errno.ENOTDIR, errno.EISDIR, errno.EINVAL, errno.ELOOP)


class Door(TyperGroup):
    """Turns what goes wrong in any command into one line and a code."""

    def invoke(self, ctx: Any) -> Any:
        """Run the command that was asked for."""
        try:
            return super().invoke(ctx)
        except CowlnoteError as error:
            if ctx.params.get("debug"):
                raise
            say.complain(str(error))
            raise typer.Exit(error.code) from None
        except (typer.Exit, typer.Abort, KeyboardInterrupt, EOFError, BrokenPipeError):
            raise
        except OSError as error:  # of a file that no command has better words for
            if ctx.params.get("debug"):
                raise
            name = str(error.filename or "the disk")
            shown = name if len(name) <= 100 else f"{name[:100]}…"
            say.complain(
                f"{shown}: {error.strerror or error}; check the disk, or name another file"
            )
            raise typer.Exit(ExitCode.INPUT if error.errno in NAMES else ExitCode.STORE) from None
        except Exception as error:
            if ctx.params.get("debug") or _is_help(error):
                raise
            if _is_usage(error):
                say.complain(_usage(error))
                raise typer.Exit(ExitCode.USAGE) from None
            say.complain(
                f"a fault in the program ({type(error).__name__}: {' '.join(str(error).split())}); "
                "what was taken in is kept; --debug shows where it happened"
            )
            raise typer.Exit(ExitCode.FAULT) from None


def _is_usage(error: Exception) -> bool:
    # Typer's own complaints about the command line carry the code they end with
    return hasattr(error, "exit_code")


def _is_help(error: Exception) -> bool:
    return type(error).__name__ == "NoArgsIsHelpError"  # a group without a command shows its help


def _usage(error: Any) -> str:
    """Give Typer's complaint about a command line in one line."""
    context = getattr(error, "ctx", None)
    command = context.command_path if context else "cowlnote"
    said = " ".join(error.format_message().split()).rstrip(".")
    return f"{said}; `{command} --help` says what there is"


app = typer.Typer(
    cls=Door,
    invoke_without_command=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="Spoken notes and photos of an aircraft's service, drafted for a person to confirm. "
    "Without a command it opens the desk, a page on this machine.",
)


@app.callback()
def door(
    ctx: typer.Context,
    home: Annotated[
        Path | None,
        typer.Option(help="The folder of the record; else COWLNOTE_HOME, else your data folder."),
    ] = None,
    aircraft: Annotated[
        str, typer.Option(help="The aircraft that is meant, where the home holds several.")
    ] = "",
    debug: Annotated[
        bool, typer.Option("--debug", help="Show where in the program an error arose.")
    ] = False,
    version: Annotated[
        bool,
        typer.Option(
            "--version", help="Show the version.", is_eager=True, callback=lambda v: _version(v)
        ),
    ] = False,
) -> None:
    """Note which home is meant; each command reads its own settings. Alone, it opens the desk."""
    ctx.obj = opening.Asked(home, aircraft)
    if ctx.invoked_subcommand is None:
        page.desk(ctx, port=page.PORT, lan=False, show=True)


def _version(asked: bool) -> None:
    if asked:
        from importlib.metadata import version

        say.line(version("cowlnote"))
        raise typer.Exit


SETS = (
    *(setup, proof, take, decide, correct, arrange, defects),
    *(paper, lessons, lookup, reckon, oil, carry, page, listen),
)
for commands in SETS:
    commands.add_to(app)


def main() -> None:
    """Start the program."""
    os.environ.setdefault("HF_HUB_OFFLINE", "1")  # nothing reaches a network but `models get`
    say.any_encoding()
    app(prog_name="cowlnote")
