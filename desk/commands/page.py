"""The page: `desk`, which serves it on this machine and opens the browser."""

from __future__ import annotations

from typing import Annotated

import typer

from capture.errors import InputError
from desk import opening, say

PORT = 8140


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    app.command()(desk)


def desk(
    ctx: typer.Context,
    port: Annotated[int, typer.Option(help="The port; 0 for any that is free.")] = PORT,
    lan: Annotated[
        bool, typer.Option("--lan", help="Let a paired phone in this network send files.")
    ] = False,
    plain: Annotated[
        bool,
        typer.Option(
            "--plain", help="With --lan: without encryption, for a phone that refuses it."
        ),
    ] = False,
    show: Annotated[
        bool, typer.Option("--open/--no-open", help="Open the browser, or only print the link.")
    ] = True,
) -> None:
    """Review, confirm and find on a page that only this machine can open."""
    from desk.web import serve

    if plain and not lan:
        raise InputError("--plain is about a phone's way in", todo="give --lan as well")
    if not 0 <= port <= 65535:
        raise InputError(f"--port {port}: there is no such port", todo="write one up to 65535")
    with opening.record(ctx.obj) as here:
        serve.run(
            here, port=port, lan=lan, plain=plain, show=show, tell=say.line, square=say.is_shown()
        )
