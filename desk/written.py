"""A file to the disk: whole or not at all."""

from __future__ import annotations

import glob
import os
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from capture import flushed
from capture.errors import InputError

STALE_S = 3600.0


def write(path: Path, content: bytes, ending: str = ".pdf") -> Path:
    """Write a file beside itself and rename it; give its path.

    Raises InputError: another ending, no such folder, or it cannot be written.
    """
    if path.suffix.lower() != ending:
        raise InputError("has another ending", path, f"end it in {ending}")
    if not path.parent.is_dir():
        raise InputError("there is no such folder", path.parent, "make it first")
    aside = path.with_name(f".{path.name}.part")
    try:
        aside.write_bytes(content)
        flushed.placed(aside, path)
    except OSError as error:
        raise InputError(f"cannot be written ({error.strerror})", path, "choose another") from None
    finally:
        aside.unlink(missing_ok=True)
    return path


def new(path: Path, content: bytes) -> Path:
    """Write a file that is not there yet, or holds nothing, flushed to the disk; give its path.

    An empty file is what a full disk or a kill left of an earlier try. Raises `FileExistsError`
    where it holds something, `OSError` where it cannot be written; then nothing is half written.
    """
    flushed.folder(path.parent)
    if path.is_symlink() or (path.exists() and path.read_bytes().strip()):
        raise FileExistsError(path)
    return whole(path, content)


def whole(path: Path, content: bytes) -> Path:
    """Write a file aside, flush it, and rename it over an old one, with the old one's rights.

    Raises `OSError` where it cannot be written; then the old one is as it was.
    """
    _sweep(path)
    handle, name = tempfile.mkstemp(prefix=f".new-{path.name}-", dir=path.parent)
    aside = Path(name)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        aside.chmod(path.stat().st_mode if path.exists() else 0o666 & ~_umask())
        aside.replace(path)
    finally:
        aside.unlink(missing_ok=True)
    flushed.names(path.parent)
    return path


def _sweep(path: Path) -> None:
    """Take away what a killed run left beside a file, once it is too old to be another run's."""
    for left in path.parent.glob(f".new-{glob.escape(path.name)}-*"):
        with suppress(OSError):
            if time.time() - left.stat().st_mtime > STALE_S:
                left.unlink()


def _umask() -> int:
    now = os.umask(0o077)
    os.umask(now)
    return now
