"""The page: `desk`, which serves it on this machine and opens the browser."""

from __future__ import annotations

from typing import Annotated

import typer

from desk import opening, say


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    app.command()(desk)


def desk(
    ctx: typer.Context,
    port: Annotated[int, typer.Option(help="The port; 0 for any that is free.")] = 8140,
    lan: Annotated[
        bool, typer.Option("--lan", help="Let a paired phone in this network send files.")
    ] = False,
    show: Annotated[
        bool, typer.Option("--open/--no-open", help="Open the browser, or only print the link.")
    ] = True,
) -> None:
    """Review, confirm and find on a page that only this machine can open."""
    from desk.web import serve

    with opening.record(ctx.obj) as here:
        serve.run(here, port=port, lan=lan, show=show, tell=say.line)
