"""A paper to a file: whole or not at all."""

from __future__ import annotations

from pathlib import Path

from capture.errors import InputError


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
        aside.replace(path)
    except OSError as error:
        raise InputError(f"cannot be written ({error.strerror})", path, "choose another") from None
    finally:
        aside.unlink(missing_ok=True)
    return path
