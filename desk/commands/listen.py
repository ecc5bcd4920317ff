"""Listening on this machine: `listen`, with its microphone and loudspeaker."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from desk import opening, say

if TYPE_CHECKING:
    from desk.understood import Lost


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    app.command()(listen)


def listen(
    ctx: typer.Context,
    source: Annotated[
        Path | None, typer.Option("--from", help="A sound file in place of the microphone.")
    ] = None,
    silent: Annotated[
        bool, typer.Option("--silent", help="Print what was understood, and do not speak.")
    ] = False,
) -> None:
    """Take notes hands-free on this machine and read back what was understood; Ctrl-C ends it."""
    from desk import engines
    from desk.listening import Listening
    from desk.readback import microphone
    from desk.readback.voice import Speaker, voice

    with opening.record(ctx.obj) as here:
        ear = engines.LateEar(here.settings)
        ear.check()
        blocks = microphone.microphone() if source is None else microphone.from_file(source)
        speak = None if silent else voice()
        if speak is None and not silent:
            say.note("no program that speaks was found (espeak-ng); what is understood is printed")
        shown = Printed()
        session = Listening(here, shown, Speaker(speak), Hushed())
        say.note("Listening. “That's the end of the notes” or Ctrl-C ends it.")
        session.run(blocks)
    say.line("Each value waits for a person: `cowlnote review`, or `cowlnote desk`.")


class Hushed:
    """A report of the intake behind the listening: only what was left is said."""

    def begins(self, files: int, foreign: int) -> None:
        """Say nothing."""

    def doing(self, what: str, name: str, number: int, files: int) -> None:
        """Say nothing."""

    def share(self, name: str, share: float) -> None:
        """Say nothing."""

    def left(self, name: str, why: str) -> None:
        """Say what was left, and why."""
        say.complain(f"{name}: {why}; it is kept")

    def lost(self, what: Lost) -> None:
        """Say nothing: the read-back has said it."""

    def notice(self, line: str) -> None:
        """Say what a person should know."""
        say.note(line)


class Printed:
    """Prints what is read back, and how things stand at the end."""

    def read_back(self, item: Any) -> None:
        """Print each line, a doubtful one marked, with what it took the place of."""
        for line in item.lines:
            mark = "?" if line.doubt or item.kind == "nothing" else " "
            was = f"   (was: {line.was})" if line.was else ""
            why = f"   ({'; '.join(line.why)})" if line.why else ""
            say.line(f"{item.told_at:%H:%M}  {mark} {line.text}{was}{why}")

    def stands(self, state: dict[str, Any]) -> None:
        """Print the bad news with its caution, what is doubtful, and what nobody has said."""
        for news in state["adverse"]:
            say.line(f"\n▲ {news['text']}\n  {news['caution']}")
        for one in state["doubtful"]:
            say.line(f"? {one['text']}")
        if state["all_said"]:
            say.line("\nAll said.")
        elif state["still"]:
            say.line("\nStill to say:")
            for one in state["still"]:
                say.line(f"  {'!' if one['must'] else ' '} {one['text']}")

    def level(self, share: float) -> None:
        """Show nothing: the terminal is for words."""

    def problem(self, words: str) -> None:
        """Print why nothing can be read back; what was said is kept."""
        say.complain(f"{words}; what was said is kept")
