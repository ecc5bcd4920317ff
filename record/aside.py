"""A folder that is made aside and renamed when it is whole; what a killed run left is swept.

Such a folder lies beside what it becomes, perhaps on another disk, and holds what must not lie
about: originals with where they were taken. So the home is told of it before it is made, and the
next command of the home takes away what a killed one left, wherever that is.
"""

from __future__ import annotations

import os
import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from capture import flushed

LOCKS = os.name != "nt"  # Windows cannot lock a folder, so there age alone tells

PREFIX = ".cowlnote-export-"
NOTES = "cache/exports"
"""Where in a home it stands which folders are being made."""
STALE_S = 24 * 3600.0  # where folders cannot be locked; no export takes a day


@contextmanager
def folder(parent: Path, home: Path | None = None) -> Iterator[Path]:
    """Give a new hidden folder in `parent`, for its owner alone, and take away what is left of it.

    It is locked while the block runs, so that another run sweeps only what a killed one left;
    `home` is told of it. Raises OSError where it cannot be made.
    """
    sweep(parent)
    made = parent.absolute() / f"{PREFIX}{secrets.token_hex(4)}"
    with _noted(made, home):
        made.mkdir(0o700)
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
        _take_away(left)


def sweep_noted(home: Path) -> None:
    """Take away the hidden folders that a home was told of and whose runs were killed."""
    for note in (home / NOTES).glob("*.txt"):
        with suppress(OSError, ValueError), _left_by_the_dead(note) as dead:
            if not dead:
                continue
            left = Path(os.fsdecode(note.read_bytes()))
            if left.name.startswith(PREFIX):
                _take_away(left)
                if left.exists() or not left.parent.is_dir():  # a disk that is not there just now
                    continue
            note.unlink()


@contextmanager
def _noted(made: Path, home: Path | None) -> Iterator[None]:
    """Tell a home of a folder until it is gone. A home that cannot be written hinders nothing."""
    lock = note = None
    if home is not None:
        with suppress(OSError):
            note = flushed.folder(home / NOTES) / f"{made.name.removeprefix(PREFIX)}.txt"
            aside = note.with_suffix(".part")
            aside.write_bytes(os.fsencode(made))
            lock = _lock(aside)  # before it has its name, so that nobody sweeps it
            flushed.placed(aside, note)
    try:
        yield
    finally:
        with suppress(OSError):
            if note is not None and not made.exists():
                note.unlink(missing_ok=True)
        if lock is not None:
            os.close(lock)


def _take_away(left: Path) -> None:
    with suppress(OSError):
        if left.is_symlink() or not left.is_dir():
            return
        with _left_by_the_dead(left) as dead:
            if dead:
                shutil.rmtree(left, ignore_errors=True)


@contextmanager
def _left_by_the_dead(path: Path) -> Iterator[bool]:
    """Tell whether no program that lives has a hold of a file or folder; hold it meanwhile."""
    lock = _lock(path)
    try:
        yield lock is not None or (not LOCKS and time.time() - path.stat().st_mtime > STALE_S)
    finally:
        if lock is not None:
            os.close(lock)


def _lock(path: Path) -> int | None:
    """Lock a file or folder until the number is closed; None where another program has it."""
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
