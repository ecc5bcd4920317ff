"""What lies in a vault, file by file, and whether it is what its name says. Repairs nothing."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from capture.vault import NAMED, STALE_S, _sha256


@dataclass(slots=True)
class Inventory:
    """The files of a vault by their hashes, the notes beside them, and what is neither.

    `copies` are the hashes of originals for which a copy stands in, with the hash of the copy;
    `notes` of where files came from, as they read, None where they cannot be read.
    """

    files: dict[str, Path] = field(default_factory=dict)
    notes: dict[str, dict[str, Any] | None] = field(default_factory=dict)
    copies: dict[str, str] = field(default_factory=dict)
    strangers: list[Path] = field(default_factory=list)
    unreadable: list[str] = field(default_factory=list)


def take(root: Path) -> Inventory:
    """Walk a vault and list what is in it; no byte of a kept file is read."""
    made = Inventory()
    if not root.exists():
        return made
    for path in sorted(_within(root, made)):
        stem, _, ending = path.name.partition(".")
        if NAMED.fullmatch(stem) and path.parent.name == stem[:2] and path.parent.parent == root:
            if not ending:
                made.files[stem] = path
            elif ending == "json":
                made.notes[stem] = _note(path)
            elif ending == "copy":
                made.copies[stem] = _text(path)
            else:
                made.strangers.append(path)
        elif not _passing(path, root):
            made.strangers.append(path)
    return made


def _within(folder: Path, made: Inventory) -> Iterator[Path]:
    try:
        inside = list(folder.iterdir())
    except OSError as error:
        made.unreadable.append(f"{folder.name}: cannot be read ({error.strerror})")
        return
    for path in inside:
        if path.is_dir() and not path.is_symlink():
            yield from _within(path, made)
        else:
            yield path


def _passing(path: Path, root: Path) -> bool:
    """Tell whether a file is one that is being written at this moment."""
    try:
        fresh = time.time() - path.lstat().st_mtime < STALE_S
    except OSError:
        return True
    return path.parent == root and path.name.startswith(".new-") and fresh


def _note(path: Path) -> dict[str, Any] | None:
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None


def _text(path: Path) -> str:
    try:
        return path.read_text("ascii").strip()
    except (OSError, ValueError):
        return ""


def wrong(path: Path) -> str:
    """Read every byte of a kept file; say what is wrong with it, or nothing."""
    try:
        if not path.is_file() or path.is_symlink():
            return "is no plain file"
        return "" if _sha256(path) == path.name else "its bytes have changed since it was kept"
    except OSError as error:
        return f"cannot be read ({error.strerror})"
