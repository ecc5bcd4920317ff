"""The program, with engines that stand in for the networks alone: `python poisoned.py ARGS…`.

Sound and pictures are really decoded. At the end it writes to the file that PEAK names how many
bytes it and its processes held at most.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

from capture.observed import Hearing, PhotoText, Reading, Transcript, Word
from desk import cli, engines

SAID = "tach reads two three four five point six"


class Ear:
    """Hears the same in every memo."""

    def __init__(self, settings: Any) -> None:
        """Need nothing."""

    def hear(self, samples: Any, media: str, progress: Any = None) -> Transcript:
        """Give the words."""
        words = tuple(Word(w, i * 0.4, i * 0.4 + 0.3) for i, w in enumerate(SAID.split()))
        return Transcript(media, 9.0, (Hearing("stand-in", "", words),))


class Eye:
    """Opens a photo as the real one does, and reads a counter on each."""

    def __init__(self, settings: Any) -> None:
        """Need nothing."""

    def read(self, path: Path, media: str) -> PhotoText:
        """Open it, and give the reading."""
        from capture.photo import look

        size = look(path).size
        quad = ((10.0, 10.0), (90.0, 10.0), (90.0, 40.0), (10.0, 40.0))
        return PhotoText(media, size, "tach", (Reading("drum", "2345.6", quad, 0.97),), "stand-in")


def _peak() -> int:
    """Give the most memory that this process and its children held, in bytes.

    Of this process since it was started as itself: `ru_maxrss` would count what the one that
    started it held then, which is gigabytes in a long run of tests.
    """
    import resource

    lines = Path("/proc/self/status").read_text("ascii").splitlines()
    own = next(int(line.split()[1]) for line in lines if line.startswith("VmHWM:"))
    return (own + resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss) * 1024


if __name__ == "__main__":
    engines.LateEar = Ear  # type: ignore[assignment,misc]
    engines.LateEye = Eye  # type: ignore[assignment,misc]
    sys.argv[0] = "cowlnote"
    try:
        cli.main()
    finally:
        from capture import apart

        apart.end()
        if where := os.environ.get("PEAK"):
            Path(where).write_text(str(_peak()), "ascii")
