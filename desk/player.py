"""Plays a stretch of a memo through whatever this machine plays sound with."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from capture.audio import clip
from capture.errors import InputError

AROUND_S = 0.5  # heard before and after the words, as on the page
# Programs that play a WAV file and end: macOS, PipeWire, PulseAudio, ALSA, FFmpeg, SoX.
PLAYERS: tuple[tuple[str, ...], ...] = (
    ("afplay",),
    ("pw-play",),
    ("paplay",),
    ("aplay", "-q"),
    ("ffplay", "-nodisp", "-autoexit", "-loglevel", "quiet"),
    ("play", "-q"),
)


def player() -> Sequence[str]:
    """Give the program that plays sound here, with its options.

    Raises InputError where this machine has none that is known.
    """
    for program, *options in PLAYERS:
        if found := shutil.which(program):
            return [found, *options]
    names = ", ".join(program for program, *_ in PLAYERS)
    raise InputError(
        "no program that plays sound was found", todo=f"install one of {names}, or use the page"
    )


def play(sound: Path, start_s: float, end_s: float) -> None:
    """Play a memo from one second to another, with half a second around; wait until it ends.

    Raises InputError where it cannot be read or played.
    """
    heard = clip(sound, max(0.0, start_s - AROUND_S), end_s + AROUND_S)
    if sys.platform == "win32":
        import winsound

        winsound.PlaySound(heard, winsound.SND_MEMORY)
        return
    with tempfile.NamedTemporaryFile(suffix=".wav", prefix="cowlnote-") as file:
        file.write(heard)
        file.flush()
        ran = subprocess.run(  # noqa: S603  (a program of this machine, and a file of ours)
            [*player(), file.name], check=False, stdin=subprocess.DEVNULL, capture_output=True
        )
    if ran.returncode:
        raise InputError(
            "the sound could not be played", todo="look whether this machine plays any"
        )
