"""What has been heard of a recording so far: a run that is killed loses no finished stretch."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import astuple
from pathlib import Path

import numpy as np

from capture.audio import BLOCK, Samples
from capture.observed import Word
from capture.tape import blocks


class Stash:
    """A file of finished sections of one recording, each in one of its ways; one JSON line each.

    It only saves work: if it cannot be written or read, the recording is heard from the start.
    """

    def __init__(self, folder: Path, samples: Samples, ways: Sequence[str]) -> None:
        key = hashlib.blake2b(digest_size=16)
        for _first, block in blocks(samples, BLOCK):
            key.update(np.ascontiguousarray(block).data)
        key.update("\n".join(ways).encode())
        self._file = folder / f"{key.hexdigest()}.jsonl"
        self._done: dict[tuple[int, str], list[Word]] = {}
        with suppress(OSError):
            for line in self._file.read_text(encoding="utf-8").splitlines():
                with suppress(ValueError, TypeError):  # a line that the kill cut off
                    way, section, words = json.loads(line)
                    self._done[way, section] = [Word(*word) for word in words]

    def get(self, way: int, start_s: float, end_s: float) -> list[Word] | None:
        """Give the words of a section that was finished before in a way, or None."""
        return self._done.get((way, f"{start_s:.3f} {end_s:.3f}"))

    def put(self, way: int, start_s: float, end_s: float, words: Sequence[Word]) -> None:
        """Note a section that is finished in a way, which is a place in the plan."""
        line = json.dumps([way, f"{start_s:.3f} {end_s:.3f}", [astuple(word) for word in words]])
        with suppress(OSError):
            self._file.parent.mkdir(parents=True, exist_ok=True)
            with self._file.open("a", encoding="utf-8") as out:
                # the line break goes first: the last line may be one that a kill cut off
                out.write("\n" + line)

    def clear(self) -> None:
        """Forget the recording, once its transcript is whole."""
        with suppress(OSError):
            self._file.unlink(missing_ok=True)
