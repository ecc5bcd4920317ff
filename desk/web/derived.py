"""What was made out of originals for the page: thumbnails, waveforms and WAV, proved on each serve.

Nothing seals these files, so none is believed for lying there. The desk knows by its hash each one
that it made itself since it was opened, out of an original that was proved then; any other is made
anew. What lies on the disk is a saving of memory, and never a witness.
"""

from __future__ import annotations

import hashlib
import logging
import os
import tempfile
from collections.abc import Callable
from pathlib import Path

LOG = logging.getLogger("uvicorn.error")  # what an open desk prints


class Derived:
    """The files that this desk made, by name and SHA-256."""

    def __init__(self) -> None:
        self._made: dict[str, str] = {}

    def file(self, folder: Path, name: str, make: Callable[[], bytes]) -> Path:
        """Give a file whose every byte is what `make` gives, or gave before; `name` says of what.

        It is made where this desk did not make it yet, or where it is not what it made: then a line
        of the log says so. It is written aside, then renamed.
        """
        path, known = folder / name, self._made.get(name)
        if known is not None:
            found = _sha256(path)
            if found == known:
                return path
            why = "is not what was made of it" if found else "is gone, or cannot be read"
            LOG.warning("cache/%s: %s; made anew from the original", name, why)
        content = make()
        folder.mkdir(parents=True, exist_ok=True)
        handle, aside = tempfile.mkstemp(dir=folder)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            Path(aside).replace(path)
        finally:  # a full disk leaves nothing behind
            Path(aside).unlink(missing_ok=True)
        self._made[name] = hashlib.sha256(content).hexdigest()
        return path


def _sha256(path: Path) -> str | None:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None
