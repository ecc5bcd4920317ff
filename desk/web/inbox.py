"""Files on their way in, in pieces: resumed after a dropped network, kept whole or not at all."""

from __future__ import annotations

import contextlib
import json
import os
import re
import secrets
import shutil
import threading
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from capture.errors import InputError, VaultError
from capture.vault import ENDS, kind_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from capture.observed import Kept
    from capture.vault import Vault

MAX_SIZE = 4 * 1024**3  # four hours of uncompressed stereo sound is under 3 GB
MAX_OPEN = 500  # files begun and not finished
ROOM = 512 * 1024**2  # bytes that stay free on the disk
REMEMBERED = 1000  # kept files whose sender may not have heard so yet
# What a phone calls a recording or picture that has no ending to its name.
TYPES = {
    "audio/3gpp": ".3gp",
    "audio/aac": ".aac",
    "audio/amr": ".amr",
    "audio/flac": ".flac",
    "audio/mp4": ".m4a",
    "audio/mpeg": ".mp3",
    "audio/ogg": ".ogg",
    "audio/wav": ".wav",
    "audio/webm": ".webm",
    "audio/x-m4a": ".m4a",
    "audio/x-wav": ".wav",
    "image/heic": ".heic",
    "image/heif": ".heic",
    "image/jpeg": ".jpg",
    "image/png": ".png",
    "image/webp": ".webp",
    "video/3gpp": ".3gp",
    "video/mp4": ".mp4",
    "video/webm": ".webm",
}
STALE_S = 7 * 24 * 3600  # a file nobody went on with for a week is let go
_ID = re.compile(r"[0-9a-f]{32}")


@dataclass(frozen=True, slots=True)
class Coming:
    """A file on its way: its number, the name it has on the sender, its size, and what is here."""

    id: str
    name: str
    size: int
    have: int
    modified: datetime | None


class Inbox:
    """The folder of files on their way.

    Its file names are numbers made here and a known ending, never what the sender wrote.
    """

    def __init__(self, folder: Path, vault: Vault) -> None:
        self.folder, self.vault = folder, vault
        self._lock = threading.Lock()
        self._kept: dict[str, Kept] = {}

    def begin(self, name: str, size: int, modified_ms: float | None = None) -> Coming:
        """Announce a file; gives its number.

        Raises:
            InputError: no name, an empty or a too large file, too many on their way.
            VaultError: the folder cannot be written.
        """
        name = _plain_name(name)
        if _ending(name) not in ENDS:
            raise InputError("neither a memo nor a photo", name, "send sound or a picture")
        if size <= 0:
            raise InputError("the file is empty", name, "record or copy it again")
        if size > MAX_SIZE:
            raise InputError("the file is too large to take", name, "cut the recording in two")
        self._let_go_stale()
        if len(list(self.folder.glob("*.json"))) >= MAX_OPEN:
            raise InputError("too many files are on their way", name, "wait until some are done")
        self._need_room(size)
        number = secrets.token_hex(16)
        note = {"name": name, "size": size, "modified_ms": modified_ms}
        with _worded(self.folder):
            self._part(number, _ending(name)).touch()
            self._note(number).write_text(json.dumps(note), encoding="utf-8")
        return self.coming(number)

    def coming(self, number: str) -> Coming:
        """Give how far a file has got. Raises InputError where no such file is on its way."""
        if kept := self._kept.get(number):  # the answer that it is safe was lost
            return Coming(number, kept.name, kept.size, kept.size, None)
        try:
            note = json.loads(self._note(number).read_text(encoding="utf-8"))
            have = self._part(number, _ending(note["name"])).stat().st_size
        except (OSError, ValueError):
            raise InputError("no such file is on its way", todo="send it again") from None
        ms = note["modified_ms"]
        modified = datetime.fromtimestamp(ms / 1000, UTC) if ms else None
        return Coming(number, note["name"], note["size"], have, modified)

    def add(self, number: str, at: int, piece: bytes) -> Coming:
        """Add a piece that begins at byte `at`; one that does not follow is left out, unharmed."""
        with self._lock:
            coming = self.coming(number)
            if at == coming.have and at + len(piece) <= coming.size:
                with _worded(self.folder), self._part_of(coming).open("ab") as part:
                    part.write(piece)
            return self.coming(number)

    def finish(self, number: str) -> Kept:
        """Keep a file that is here whole; it is on the disk when this returns.

        Raises:
            InputError: pieces are missing, or it is neither a memo nor a photo.
            VaultError: it cannot be written.
        """
        with self._lock:
            if number in self._kept:
                return self._kept[number]
            coming = self.coming(number)
            if coming.have != coming.size:
                raise InputError("the file is not here whole yet", coming.name, "go on sending")
            part = self._part_of(coming)
            if kind_of(part) is None:
                self._drop(coming)
                raise InputError(
                    "neither a memo nor a photo", coming.name, "send sound or a picture"
                )
            if coming.modified is not None:
                stamp = coming.modified.timestamp()
                with _worded(self.folder):
                    os.utime(part, (stamp, stamp))
            kept = self.vault.keep(part, name=coming.name)
            self._drop(coming)
            self._kept[number] = kept
            while len(self._kept) > REMEMBERED:
                del self._kept[next(iter(self._kept))]
            return kept

    def _need_room(self, size: int) -> None:
        with _worded(self.folder):
            self.folder.mkdir(parents=True, exist_ok=True)
            free = shutil.disk_usage(self.folder).free
        # once on its way and once in the vault, until it is let go here
        if free < 2 * size + ROOM:
            raise VaultError("the desk's disk is too full for it", None, "free some space there")

    def _note(self, number: str) -> Path:
        if not _ID.fullmatch(number):
            raise InputError("no such file is on its way", todo="send it again")
        return self.folder / f"{number}.json"

    def _part(self, number: str, ending: str) -> Path:
        return self._note(number).with_suffix(ending)

    def _part_of(self, coming: Coming) -> Path:
        return self._part(coming.id, _ending(coming.name))

    def _drop(self, coming: Coming) -> None:
        self._note(coming.id).unlink(missing_ok=True)
        self._part_of(coming).unlink(missing_ok=True)

    def _let_go_stale(self) -> None:
        for note in self.folder.glob("*.json"):
            with contextlib.suppress(OSError, InputError):
                coming = self.coming(note.stem)
                if time.time() - self._part_of(coming).stat().st_mtime > STALE_S:
                    self._drop(coming)


def named(name: str, kind: str) -> str:
    """Give a file's name with an ending: its own, or that of the kind the sender says it is of."""
    if _ending(name) in ENDS:
        return name
    return name + TYPES.get(kind.partition(";")[0].strip().lower(), "")


def _ending(name: str) -> str:
    return Path(name).suffix.lower()


def _plain_name(name: str) -> str:
    # a name is kept for people and for the date in it; what could be a path is cut off
    plain = re.split(r"[/\\]", name)[-1].strip()
    plain = "".join(c for c in plain if c.isprintable())[-150:]
    if plain.strip(". ") == "":
        raise InputError("the file has no name", todo="send it again")
    return plain


@contextlib.contextmanager
def _worded(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise VaultError(
            f"cannot be written ({error.strerror})", folder, "free some space"
        ) from error
