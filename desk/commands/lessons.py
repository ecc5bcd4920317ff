"""Learning from the desk: `lessons`. Nothing is learned without a yes."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Annotated

import typer

from desk import lessons as learning
from desk import opening, say
from desk.commands.decide import Json
from record.signs import written_out

if TYPE_CHECKING:
    from desk.lessons import Lesson, Lessons
    from extract.values.catalogue import Catalogue


def add_to(app: typer.Typer) -> None:
    """Add this command to the program."""
    app.command()(lessons)


def lessons(
    ctx: typer.Context,
    add: Annotated[
        str | None, typer.Option(metavar="HEARD=MEANT", help="Add this pair to the profile.")
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Add it without asking.")] = False,
    json: Json = False,
) -> None:
    """Show which words were misheard as what, by what was decided, and add some to the profile."""
    from record import lessons as rows

    with opening.record(ctx.obj, read_only=True) as here:
        profile = here.settings.profile
        pair = learning.pair_of(add, profile) if add is not None else None
        with here.store.session(write=False) as session:
            memos = rows.memos(session, profile.registration or None)
    found = learning.lessons(memos, profile)
    if pair is None:
        if json:
            say.data(found.to_json())
        else:
            _show(found, here.catalogue)
        return
    known = next((one for one in found.pairs if (one.heard, one.meant) == pair), None)
    added = _agreed(pair, known, yes=yes)
    path = learning.learn(here.settings, pair) if added else None
    if json:
        say.data({"heard": pair[0], "meant": pair[1], "added": added})
    elif path is not None:
        say.line(f"{path}: {pair[0]} is read as {pair[1]} from now on; take the line out to end it")
    else:
        say.line("nothing was learned")


def at_terminal() -> bool:
    """Say whether there is a person who can be asked."""
    return sys.stdin.isatty()


def _agreed(pair: tuple[str, str], known: Lesson | None, *, yes: bool) -> bool:
    """Ask, unless the yes was given; without a person to ask, refuse."""
    from record.errors import RefusedError

    if yes:
        return True
    if not at_terminal():
        raise RefusedError(
            f"{pair[0]} = {pair[1]} was not added: nothing is learned without a yes",
            todo="add --yes, or run it in a terminal",
        )
    say.note(learning.evidence(known) if known else "nothing that was decided speaks for it")
    return typer.confirm(
        written_out(f"Read {pair[0]!r} as {pair[1]!r} in what is heard from now on?"), err=True
    )


def _show(found: Lessons, catalogue: Catalogue) -> None:
    for one in found.pairs:
        state = "  in the profile" if one.learned else ""
        say.line(f"{one.heard} = {one.meant}{state}")
        say.line(f"      {learning.evidence(one)}")
        if one.offered:
            say.line(f'      add it with: cowlnote lessons --add "{one.heard}={one.meant}"')
        elif one.learned and one.rejected:
            say.line("      rejected: think of taking it out of the profile")
        elif one.hindrance:
            say.line(f"      cannot be learned: {one.hindrance}")
    if not found.pairs:
        say.line("no word was read back in what was decided")
    if found.amended:
        say.line()
        say.line("put right by a person; a value is never learned:")
    for memo, put in found.amended:
        label = say.about(put.name, put.position, catalogue)
        was = say.shown(put.name, put.value, put.unit, catalogue)
        now = "nothing"
        if put.entered is not None:
            now = say.shown(put.name, put.entered, put.unit, catalogue)
        say.line(f"{label}: {was}, entered {now} by {put.by}")
        say.line(f"      “{put.heard}”  {memo} {say.clock(put.start)}")
