"""A folder that is made aside and renamed when it is whole; what a killed run left is swept."""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

LOCKS = os.name != "nt"  # Windows cannot lock a folder, so there age alone tells

PREFIX = ".cowlnote-export-"
STALE_S = 24 * 3600.0  # where folders cannot be locked; no export takes a day


@contextmanager
def folder(parent: Path) -> Iterator[Path]:
    """Give a new hidden folder in `parent`, for its owner alone, and take away what is left of it.

    It is locked while the block runs, so that another run sweeps only what a killed one left.
    Raises OSError where it cannot be made.
    """
    sweep(parent)
    made = Path(tempfile.mkdtemp(prefix=PREFIX, dir=parent))
    lock = _lock(made)
    try:
        yield made
    finally:
        shutil.rmtree(made, ignore_errors=True)
        if lock is not None:
            os.close(lock)


def sweep(parent: Path) -> None:
    """Take away the hidden folders of exports that were killed."""
    for left in parent.glob(f"{PREFIX}*"):
        with suppress(OSError):
            lock = None if left.is_symlink() else _lock(left)
            if lock is not None or (not LOCKS and time.time() - left.stat().st_mtime > STALE_S):
                shutil.rmtree(left, ignore_errors=True)
            if lock is not None:
                os.close(lock)


def _lock(path: Path) -> int | None:
    """Lock a folder until the number is closed or its program ends; None where another has it."""
    if not LOCKS:
        return None
    import fcntl

    handle = os.open(path, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(handle)
        return None
    return handle


def flush(path: Path) -> None:
    """Flush a folder to the disk, so that a name made or changed in it outlives a power cut."""
    if os.name == "nt":
        return  # folders cannot be flushed there; a rename is still whole
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
