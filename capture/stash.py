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

Found = list[list[Word]]
"""The words of one section, one list a way of hearing."""


class Stash:
    """A file of finished sections of one recording heard in one set of ways; one JSON line each.

    It only saves work: if it cannot be written or read, the recording is heard from the start.
    """

    def __init__(self, folder: Path, samples: Samples, ways: Sequence[str]) -> None:
        key = hashlib.blake2b(digest_size=16)
        for _first, block in blocks(samples, BLOCK):
            key.update(np.ascontiguousarray(block).data)
        key.update("\n".join(ways).encode())
        self._file = folder / f"{key.hexdigest()}.jsonl"
        self._done: dict[str, Found] = {}
        with suppress(OSError):
            for line in self._file.read_text(encoding="utf-8").splitlines():
                with suppress(ValueError, TypeError):  # a line that the kill cut off
                    section, found = json.loads(line)
                    self._done[section] = [[Word(*word) for word in words] for words in found]

    def get(self, start_s: float, end_s: float) -> Found | None:
        """Give the words of a section that was finished before, or None."""
        return self._done.get(f"{start_s:.3f} {end_s:.3f}")

    def put(self, start_s: float, end_s: float, found: Found) -> None:
        """Note a finished section."""
        words = [[astuple(word) for word in way] for way in found]
        with suppress(OSError):
            self._file.parent.mkdir(parents=True, exist_ok=True)
            with self._file.open("a", encoding="utf-8") as out:
                # the line break goes first: the last line may be one that a kill cut off
                out.write("\n" + json.dumps([f"{start_s:.3f} {end_s:.3f}", words]))

    def clear(self) -> None:
        """Forget the recording, once its transcript is whole."""
        with suppress(OSError):
            self._file.unlink(missing_ok=True)
