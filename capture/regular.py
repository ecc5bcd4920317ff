"""Opens files, and nothing else that a name can stand for: no pipe, no device, no folder."""

from __future__ import annotations

import os
import stat
from datetime import UTC, datetime
from io import BufferedReader
from pathlib import Path

from capture.errors import InputError

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
FIRST_YEAR, LAST_YEAR = 1900, 2200
"""A file's own time outside these is none: it could not be told in every zone."""


def opened(path: Path) -> BufferedReader:
    """Open a file to read its bytes.

    Raises InputError for what is no file (a pipe would be waited for without end, a device read
    without end), and OSError as `open` does.
    """
    if not stat.S_ISREG(path.stat().st_mode):  # opening a device can already do something
        raise InputError("this is no file", path, "leave it out")
    # the name may by now stand for a pipe
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    file = os.fdopen(os.open(path, flags), "rb")
    if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
        file.close()
        raise InputError("this is no file", path, "leave it out")
    return file


def spelt(name: str | Path) -> str:
    """Give a name as text that can be stored and shown: what is no UTF-8 in it becomes U+FFFD."""
    return str(name).encode("utf-8", "surrogateescape").decode("utf-8", "replace")


def changed_at(seconds: float) -> datetime:
    """Give a file's own time; one that no calendar of ours has is as good as none, and is 1970."""
    try:
        at = datetime.fromtimestamp(seconds, UTC)
    except (ValueError, OverflowError, OSError):
        return EPOCH
    return at if FIRST_YEAR <= at.year <= LAST_YEAR else EPOCH
