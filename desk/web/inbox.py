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
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from capture.errors import InputError, VaultError
from capture.regular import changed_at
from capture.vault import ENDS, kind_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from zoneinfo import ZoneInfo

    from capture.observed import Kept
    from capture.vault import Vault

MAX_SIZE = 4 * 1024**3  # four hours of uncompressed stereo sound is under 3 GB
MAX_OPEN = 500  # files begun and not finished
MAX_EACH = 100  # of one sender; a phone sends them one after another
ROOM = 512 * 1024**2  # bytes that stay free on the disk, so that what is decided can be written
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
    "image/tiff": ".tif",
    "image/webp": ".webp",
    "video/3gpp": ".3gp",
    "video/mp4": ".mp4",
    "video/webm": ".webm",
}
STALE_S = (
    3600  # a file nobody went on with for an hour is let go; its sender has it, and begins anew
)
# A memo that was being spoken and nobody went on with: what came of it is kept as it is. The phone
# has it whole and sends it when it comes back, which is nearly always sooner.
LEFT_OFF_S = 12 * 3600
MAX_GROWING = 256 * 1024**2  # bytes of one memo while it is spoken: hours of compressed sound
FULL = ("the desk's disk is too full for it", None, "free some space there")
_ID = re.compile(r"[0-9a-f]{32}")
_KEY = re.compile(r"[A-Za-z0-9-]{8,64}")


@dataclass(frozen=True, slots=True)
class Coming:
    """A file on its way: its number, the name it has on the sender, its size, and what is here.

    `size` is None while a memo is still being spoken. `key` is the sender's own name for it, by
    which it is known again, and `sender` who that is; both are empty where none was given.
    """

    id: str
    name: str
    size: int | None
    have: int
    modified: datetime | None
    key: str = ""
    sender: str = ""


class Inbox:
    """The folder of files on their way.

    Its file names are numbers made here and a known ending, never what the sender wrote.
    """

    def __init__(self, folder: Path, vault: Vault) -> None:
        self.folder, self.vault = folder, vault
        self._lock = threading.Lock()
        self._kept: dict[str, Kept] = {}
        self._keys: dict[str, tuple[str, str]] = {}

    def begin(
        self,
        name: str,
        size: int | None,
        modified_ms: float | None = None,
        *,
        key: str = "",
        sender: str = "",
    ) -> Coming:
        """Announce a file; gives its number, or by `key` that of the one that is on its way.

        Without a `size` it is a memo that is still being spoken and grows until it is finished.

        Raises:
            InputError: no name, an empty or a too large file, too many on their way.
            VaultError: the folder cannot be written.
        """
        if key and not _KEY.fullmatch(key):
            raise InputError("a file's key is 8 to 64 letters and figures", todo="send it again")
        if key and (known := self._by_key(key, sender)):
            return known
        name = _plain_name(name)
        if _ending(name) not in ENDS:
            raise InputError("neither a memo nor a photo", name, "send sound or a picture")
        if size is not None and size <= 0:
            raise InputError("the file is empty", name, "record or copy it again")
        if size is not None and size > MAX_SIZE:
            raise InputError("the file is too large to take", name, "cut the recording in two")
        with self._lock:  # two that are announced at once must not both be given the last room
            self._let_go_stale()
            under_way = self._under_way()
            mine = sum(1 for one in under_way if one.sender == sender)
            if len(under_way) >= MAX_OPEN or (sender and mine >= MAX_EACH):
                todo = "wait until some are done"
                raise InputError("too many files are on their way", name, todo)
            self._need_room(size or 0, under_way)
            number = secrets.token_hex(16)
            note = {"name": name, "size": size, "modified_ms": modified_ms}
            note |= {"key": key, "sender": sender}
            with _worded(self.folder):
                self._part(number, _ending(name)).touch()
                self._note(number).write_text(json.dumps(note), encoding="utf-8")
            return self.coming(number)

    def coming(self, number: str) -> Coming:
        """Give how far a file has got. Raises InputError where no such file is on its way."""
        if kept := self._kept.get(number):  # the answer that it is safe was lost
            key, sender = self._keys.get(number, ("", ""))
            return Coming(number, kept.name, kept.size, kept.size, None, key, sender)
        try:
            note = json.loads(self._note(number).read_text(encoding="utf-8"))
            have = self._part(number, _ending(note["name"])).stat().st_size
            ms = note["modified_ms"]
            modified = changed_at(ms / 1000) if ms else None
            told = note.get("key", ""), note.get("sender", "")
            return Coming(number, note["name"], note["size"], have, modified, *told)
        except (OSError, ValueError, TypeError, KeyError, AttributeError):
            raise InputError("no such file is on its way", todo="send it again") from None

    def part(self, coming: Coming) -> Path:
        """Give the file in which what is here of a memo lies; it is only ever added to."""
        return self._part_of(coming)

    def kept(self, number: str) -> bool:
        """Tell whether a file is safe already."""
        return number in self._kept

    def left_off(self) -> list[Coming]:
        """Give the memos that were being spoken and that nobody went on with for half a day."""
        found = []
        for note in self.folder.glob("*.json"):
            with contextlib.suppress(OSError, InputError):
                coming = self.coming(note.stem)
                idle = time.time() - self._part_of(coming).stat().st_mtime
                if coming.size is None and coming.have and idle > LEFT_OFF_S:
                    found.append(coming)
        return found

    def of(self, sender: str) -> list[Coming]:
        """Give the files of a sender that are on their way."""
        return [coming for coming in self._under_way() if coming.sender == sender]

    def _under_way(self) -> list[Coming]:
        found = []
        for note in self.folder.glob("*.json"):
            with contextlib.suppress(OSError, InputError):
                found.append(self.coming(note.stem))
        return found

    def _by_key(self, key: str, sender: str) -> Coming | None:
        for number, told in reversed(list(self._keys.items())):
            if told == (key, sender):
                return self.coming(number)
        return next((one for one in self.of(sender) if one.key == key), None)

    def add(self, number: str, at: int, piece: bytes) -> Coming:
        """Add a piece that begins at byte `at`; one that does not follow is left out, unharmed."""
        with self._lock:
            coming = self.coming(number)
            most = MAX_GROWING if coming.size is None else coming.size
            if coming.size is None:
                self._need_room(len(piece), self._under_way())
            elif not self._room_left(len(piece)):  # something else took what was kept for it
                raise VaultError(*FULL)
            if at == coming.have and at + len(piece) <= most:
                with _worded(self.folder), self._part_of(coming).open("ab") as part:
                    part.write(piece)
            return self.coming(number)

    def finish(self, number: str, size: int | None = None) -> Kept:
        """Keep a file that is here whole; it is on the disk when this returns.

        `size` is that of a memo that grew, as its sender has it.

        Raises:
            InputError: pieces are missing, or it is neither a memo nor a photo.
            VaultError: it cannot be written.
        """
        with self._lock:
            if number in self._kept:
                return self._kept[number]
            coming = self.coming(number)
            if coming.have != (size if coming.size is None else coming.size):
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
            self._keys[number] = coming.key, coming.sender
            while len(self._kept) > REMEMBERED:
                self._keys.pop(oldest := next(iter(self._kept)), None)
                del self._kept[oldest]
            return kept

    def _need_room(self, size: int, under_way: list[Coming]) -> None:
        """Raise VaultError unless there is room for all that was announced, and for one more."""
        # once on its way, of which a part may be here already, and once in the vault
        promised = sum(2 * (one.size or one.have) - one.have for one in under_way)
        if not self._room_left(promised + 2 * size):
            raise VaultError(*FULL)

    def _room_left(self, wanted: int) -> bool:
        with _worded(self.folder):
            self.folder.mkdir(parents=True, exist_ok=True)
            return shutil.disk_usage(self.folder).free >= wanted + ROOM

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
                grows = coming.size is None and coming.have  # kept as it is: see `left_off`
                idle = time.time() - self._part_of(coming).stat().st_mtime
                if idle > STALE_S and not grows:
                    self._drop(coming)


def named(name: str, kind: str) -> str:
    """Give a file's name with an ending: its own, or that of the kind the sender says it is of."""
    if _ending(name) in ENDS:
        return name
    return name + TYPES.get(kind.partition(";")[0].strip().lower(), "")


def by_time(began_ms: float, kind: str, zone: ZoneInfo) -> str:
    """Give the name of a memo or photo made just now: what it is, and when it began, by the home.

    The name has the time to the second, so that the file is dated by it wherever it goes.
    """
    at = datetime.fromtimestamp(began_ms / 1000, zone)
    what = "photo" if kind.startswith("image/") else "memo"
    return f"{what} {at:%Y-%m-%d %H.%M.%S}"


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
