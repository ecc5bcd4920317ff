"""Which files were in hand when a run was ended: noted before, taken away after.

A file that ends the program, or the process that decodes it, leaves its note behind; so the next
run knows to look at it last, and after two such deaths leaves it aside.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from capture.errors import DiedError

MOST = 2
"""Deaths after which a file is set aside."""


class Trying:
    """A folder of notes, one a file that is in hand; it only helps, and may be lost."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def _note(self, sha256: str) -> Path:
        return self._folder / f"{sha256}.trying"

    def deaths(self, sha256: str) -> int:
        """Give how often reading a file was begun and never ended."""
        with suppress(OSError, ValueError):
            return int(self._note(sha256).read_text("ascii"))
        return 0

    def end(self, sha256: str) -> None:
        """Forget a file."""
        with suppress(OSError):
            self._note(sha256).unlink(missing_ok=True)

    @contextmanager
    def at(self, sha256: str) -> Iterator[None]:
        """Have a file in hand. Whatever is raised ends that, but for the death of its process."""
        deaths = self.deaths(sha256)
        with suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            self._note(sha256).write_text(str(deaths + 1), "ascii")
        try:
            yield
        except DiedError:
            raise
        except BaseException:
            self.end(sha256)
            raise
        self.end(sha256)
