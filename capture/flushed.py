"""Bytes and names brought to the disk, so that they outlive a power cut.

POSIX promises no more: a file's bytes once the file was flushed after them (fsync), a name once the
folder that it stands in was. `tests/whole/replay.py` tries what holds when the rest is lost.
"""

from __future__ import annotations

import errno
import os
from pathlib import Path

# What a file system answers that cannot flush folders; there a rename is as safe as it gets.
CANNOT = (errno.EINVAL, errno.ENOTSUP, errno.EBADF)


def names(folder: Path) -> None:
    """Flush the names in a folder. Raises OSError where the disk fails."""
    if os.name == "nt":
        return  # folders cannot be flushed there; a rename is still whole
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in CANNOT:
            raise
    finally:
        os.close(handle)


def folder(path: Path, mode: int = 0o777) -> Path:
    """Make a folder, and those above it, where they are missing; flush the name of each.

    `mode` is for the last one. Raises OSError.
    """
    above = path.absolute().parent
    if path.is_dir():
        return path
    folder(above)
    path.mkdir(mode, exist_ok=True)
    names(above)
    return path


def placed(aside: Path, path: Path) -> Path:
    """Flush a file that was written aside, rename it over another, and flush its name.

    Raises OSError; a kill or a power cut at any moment leaves the old one or the new one, whole.
    """
    handle = os.open(aside, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
    aside.replace(path)
    names(path.parent)
    return path
