"""A folder into which photos come while somebody listens: each new one once, when it is whole."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from capture.errors import InputError
from capture.vault import kind_of

LOOK_S = 1.0  # a file that is as long as so much earlier is taken for whole


@dataclass
class Watched:
    """The photos of a folder that were not there when it was opened. Files are left as they are.

    Raises InputError where there is no such folder.
    """

    folder: Path
    clock: Callable[[], float] = time.monotonic
    _known: set[Path] = field(default_factory=set)
    _growing: dict[Path, int] = field(default_factory=dict)
    _looked: float = -LOOK_S

    def __post_init__(self) -> None:
        """Take note of what is there already."""
        if not self.folder.is_dir():
            raise InputError("there is no such folder", self.folder, "make it first")
        self._known = set(self._files())

    def look(self, *, at_once: bool = False) -> Iterator[Path]:
        """Give the photos that are new and whole; looks once a second, or `at_once`."""
        if not at_once and self.clock() - self._looked < LOOK_S:
            return
        self._looked = self.clock()
        for path in self._files():
            if path in self._known:
                continue
            size = path.stat().st_size if path.exists() else 0
            if size == 0 or (self._growing.get(path) != size and not at_once):
                self._growing[path] = size
                continue
            self._known.add(path)
            self._growing.pop(path, None)
            if kind_of(path) == "photo":
                yield path

    def _files(self) -> list[Path]:
        try:
            return sorted(p for p in self.folder.iterdir() if p.is_file() and p.name[0] != ".")
        except OSError:  # a card that was pulled out comes back
            return []
