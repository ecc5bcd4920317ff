"""Listening on this machine: `listen`, with its microphone and loudspeaker."""

from __future__ import annotations

import sys
import time
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
    photos: Annotated[
        Path | None,
        typer.Option("--photos", help="A folder: photos that come into it are answered too."),
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
    from desk.readback.watched import Watched

    with opening.record(ctx.obj) as here:
        ear = engines.LateEar(here.settings)
        ear.check()
        watched = Watched(photos) if photos is not None else None
        sound = microphone.microphone() if source is None else microphone.from_file(source)
        blocks = microphone.opened(sound)
        speak = None if silent else voice()
        if speak is None and not silent:
            say.note("no program that speaks was found (espeak-ng); what is understood is printed")
        shown = Printed()
        session = Listening(here, shown, Speaker(speak), Hushed(), photos=watched)
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


BAR = 24  # signs of the bar that shows how loud it is
DEAF_S = 5.0  # a microphone that gives nothing at all for so long is said to


class Printed:
    """Prints what is read back, and how things stand at the end; on a terminal, how loud it is."""

    def __init__(self) -> None:
        self._shows = sys.stderr.isatty()
        self._drawn = ""
        self._heard = time.monotonic()
        self._deaf = False

    def read_back(self, item: Any) -> None:
        """Print each line, a doubtful one marked, with what it took the place of."""
        self._draw("")
        for line in item.lines:
            mark = "?" if line.doubt or item.kind == "nothing" else " "
            was = f"   (was: {line.was})" if line.was else ""
            why = f"   ({'; '.join(line.why)})" if line.why else ""
            say.line(f"{item.told_at:%H:%M}  {mark} {line.text}{was}{why}")

    def stands(self, state: dict[str, Any]) -> None:
        """Print the bad news with its caution, what is doubtful, and what nobody has said."""
        self._draw("")
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
        """Draw how loud it is, over and over on one line; say once that no sound comes at all."""
        now = time.monotonic()
        if share > 0:
            self._heard, self._deaf = now, False
        elif now - self._heard > DEAF_S and not self._deaf:
            self._deaf = True
            self._draw("")
            say.note("The microphone gives no sound: is it muted, or another one chosen?")
        full = round(min(1.0, share) * BAR)
        self._draw(f"  hears |{'#' * full}{' ' * (BAR - full)}|")

    def _draw(self, text: str) -> None:
        """Put a text in the place of the one that was drawn; nothing where nobody would see it."""
        if not self._shows or text == self._drawn:
            return
        blank = " " * len(self._drawn)
        sys.stderr.write(f"\r{blank}\r{text}")
        sys.stderr.flush()
        self._drawn = text

    def problem(self, words: str) -> None:
        """Print why nothing can be read back; what was said is kept."""
        self._draw("")
        say.complain(f"{words}; what was said is kept")
