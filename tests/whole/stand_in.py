"""The program with slow stand-in engines, to be killed: `python stand_in.py ARGS…`.

Each memo says a torque of as many foot-pounds as its name has in its last two figures.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from typing import Any

from capture.observed import Hearing, PhotoText, Transcript, Word
from desk import cli, engines

SAYS = {
    "1": "tach reads two three four five point six",
    "2": "torqued the filter to seventeen foot pounds",
    "3": "put in seven and a quarter quarts of oil",
    "4": "cowl is back on",
}


class SlowEar:
    """Hears what is in SAYS, taking its time."""

    def __init__(self, settings: Any) -> None:
        """Need nothing."""

    def hear(self, samples: Any, media: str, progress: Any = None) -> Transcript:
        """Wait, then give the words of the memo's last figure."""
        time.sleep(float(os.environ.get("STAND_IN_S", "0.1")))
        said = SAYS[Path(media).stem[-1]].split()
        words = tuple(Word(w, i * 0.4, i * 0.4 + 0.3) for i, w in enumerate(said))
        return Transcript(media, 9.0, (Hearing("stand-in", "", words),))


class BlindEye:
    """Sees nothing to read."""

    def __init__(self, settings: Any) -> None:
        """Need nothing."""

    def read(self, path: Path, media: str) -> PhotoText:
        """Give a photo with nothing on it."""
        return PhotoText(media, (10, 10), "other", (), "stand-in")


def put_in() -> None:
    """Put the stand-in engines in the place of the real ones."""
    engines.LateEar = SlowEar  # type: ignore[assignment,misc]
    engines.LateEye = BlindEye  # type: ignore[assignment,misc]


if __name__ == "__main__":
    put_in()
    sys.argv[0] = "cowlnote"
    cli.main()
