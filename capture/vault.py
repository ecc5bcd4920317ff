"""The vault: every captured file under the hash of its bytes, never changed, always checkable.

`root/ab/abcdef…` holds the bytes and `root/ab/abcdef….json` a note of where they came from. Bytes
are written under a temporary name, flushed to the disk and renamed; the note follows. So a file
that carries its hash is whole at any moment, and a kill leaves at most a temporary file, which
nothing reads and the next opening sweeps away.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import re
import tempfile
import time
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from capture import flushed, regular
from capture.errors import AlteredError, InputError, VaultError
from capture.observed import Kept

KINDS = {
    "memo": "m4a m4b mp3 wav ogg oga opus flac amr 3gp 3gpp 3ga webm mka mp4 mov aac caf",
    "photo": "jpg jpeg heic heif png webp tif tiff",
}
ENDS = {f".{end}": kind for kind, ends in KINDS.items() for end in ends.split()}
HEIF_BRANDS = frozenset((b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif"))
BLOCK = 1 << 20
STALE_S = 3600.0
NAMED = re.compile(r"[0-9a-f]{64}")
GET_BACK = "take a good copy of it in again, from the phone or a backup"


def _magic(head: bytes) -> str | None:
    """Tell sound from picture by the first bytes, as the formats' own standards fix them."""
    box = head[4:8]
    if head[:3] == b"\xff\xd8\xff" or head[:8] == b"\x89PNG\r\n\x1a\n":
        return "photo"
    if head[:4] == b"RIFF":
        return {b"WAVE": "memo", b"WEBP": "photo"}.get(head[8:12])
    if head[:4] in (b"II*\x00", b"MM\x00*"):
        return "photo"
    if box == b"ftyp":
        return "photo" if head[8:12] in HEIF_BRANDS else "memo"
    if head[:4] in (b"OggS", b"fLaC", b"caff", b"\x1aE\xdf\xa3") or head[:5] == b"#!AMR":
        return "memo"
    if head[:3] == b"ID3" or box in (b"moov", b"mdat", b"wide"):
        return "memo"
    return None


def kind_of_bytes(path: Path) -> str | None:
    """Say by its first bytes alone whether a file is a `memo` or a `photo`; None where unknown."""
    try:
        with path.open("rb") as file:
            return _magic(file.read(16))
    except OSError:
        return None


def kind_of(path: Path) -> str | None:
    """Say whether a file is a `memo` or a `photo`; None for what is not ours to take.

    Only a file whose name ends like one of the known kinds is looked into; its first bytes then
    have the last word, and where they say nothing the name does, so that a damaged file is taken,
    and said to be damaged, instead of being passed over.
    """
    named = ENDS.get(path.suffix.lower())
    if named is None or path.name.startswith("._"):  # `._x.m4a` is what a Mac leaves beside x.m4a
        return None
    try:
        with regular.opened(path) as file:
            return _magic(file.read(16)) or named
    except (OSError, InputError):  # keeping it says what is wrong with it
        return named


def _vault_error(error: OSError, root: Path) -> VaultError:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return VaultError("the disk is full", root, "make room and take the files in again")
    if error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return VaultError("the vault cannot be written", root, "check who may write there")
    why = error.strerror or str(error)
    return VaultError(f"the vault cannot be used ({why})", root, "check the disk")


def _unreadable(error: OSError, path: Path) -> InputError:
    return InputError(f"cannot be read ({error.strerror})", path, "check the file")


def _read(handle: int, path: Path) -> bytes:
    try:
        return os.read(handle, BLOCK)
    except OSError as error:
        raise _unreadable(error, path) from error


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _fits(known: Kept, found: Kept) -> bool:
    """Tell whether a note says of the bytes what they are; its name and time may be others."""
    return (known.sha256, known.size, known.kind) == (found.sha256, found.size, found.kind)


class Vault:
    """A folder of kept files. Opening it makes nothing; keeping the first file does."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def path(self, sha256: str) -> Path:
        """Give where the bytes of a hash lie or would lie, or the copy that stands in for them."""
        final = self.root / sha256[:2] / sha256
        if not final.is_file():
            try:
                copy = final.with_name(f"{sha256}.copy").read_text("ascii").strip()
            except (OSError, ValueError):
                return final
            if NAMED.fullmatch(copy):
                return self.root / copy[:2] / copy
        return final

    def proved(self, sha256: str) -> Path:
        """Give where the bytes of a hash lie, or its copy, after reading every one of them.

        Raises AlteredError where they are gone, cannot be read, or are not what was kept.
        """
        path = self.path(sha256)
        try:
            right = _sha256(path) == path.name
        except FileNotFoundError:
            raise AlteredError("is not in the vault", sha256[:12], GET_BACK) from None
        except OSError as error:
            why = f"cannot be read ({error.strerror})"
            raise AlteredError(why, sha256[:12], GET_BACK) from error
        if not right:
            raise AlteredError(
                "is not what was kept: its bytes have changed", sha256[:12], GET_BACK
            )
        return path

    def stand_in(self, sha256: str, copy: str) -> None:
        """Note that a kept copy (its position taken out) stands in for an original kept elsewhere.

        Raises VaultError where that cannot be written.
        """
        final = self.root / sha256[:2] / f"{sha256}.copy"
        try:
            flushed.folder(final.parent)
            aside = self.root / f".new-{sha256[:12]}.copy"
            with aside.open("w", encoding="ascii") as out:
                out.write(copy)
                out.flush()
                os.fsync(out.fileno())
            aside.replace(final)
            flushed.names(final.parent)
        except OSError as error:
            raise _vault_error(error, self.root) from error

    def keep(
        self, path: Path, name: str | None = None, *, modified: datetime | None = None
    ) -> Kept:
        """Copy a file into the vault, or find that it is there, and say what it is.

        `name` is what the file is called where it came from, and `modified` its own time there, if
        its path does not say so.

        Raises InputError for a file that is empty, unreadable, not ours or still being written, and
        VaultError where the vault cannot take it. Neither leaves anything half written.
        """
        kind = kind_of(path)
        if kind is None:
            raise InputError("neither a sound nor a picture file", path, "leave it out")
        try:
            flushed.folder(self.root)
            self._sweep()
            handle, aside = tempfile.mkstemp(prefix=".new-", dir=self.root)
        except OSError as error:
            raise _vault_error(error, self.root) from error
        try:
            with os.fdopen(handle, "wb") as out:
                sha256, stat = self._copy(path, out.fileno())
            final = self.path(sha256)
            note = Kept(
                sha256,
                regular.spelt(name or path.name),
                stat.st_size,
                kind,
                modified or regular.changed_at(stat.st_mtime),
            )
            return self._settle(Path(aside), final, note)
        except OSError as error:
            raise _vault_error(error, self.root) from error
        finally:
            Path(aside).unlink(missing_ok=True)

    def _copy(self, path: Path, out: int) -> tuple[str, os.stat_result]:
        digest = hashlib.sha256()
        try:
            source = regular.opened(path)
        except OSError as error:
            raise _unreadable(error, path) from error
        with source:
            before = os.fstat(source.fileno())
            while block := _read(source.fileno(), path):
                digest.update(block)
                while block:
                    block = block[os.write(out, block) :]
            after = os.fstat(source.fileno())
        if before.st_size == 0:
            raise InputError("the file is empty", path, "copy it from the phone again")
        if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
            raise InputError("the file is still being written", path, "try again when it is whole")
        os.fsync(out)
        return digest.hexdigest(), after

    def _settle(self, aside: Path, final: Path, note: Kept) -> Kept:
        flushed.folder(final.parent)
        if not (final.is_file() and _sha256(final) == final.name):  # what decayed is put right
            aside.chmod(0o444)
            aside.replace(final)
        for folder in (final.parent, self.root):  # also where a run was killed after the rename
            flushed.names(folder)
        known = self._note(final)
        if known is not None and _fits(known, note):
            return known
        self._write_note(note, final)
        return note

    def note(self, sha256: str) -> Kept | None:
        """Give what the note beside the bytes says of them; None where it cannot be read.

        A note is derived: where the record knows the file, the record has the last word.
        """
        return self._note(self.root / sha256[:2] / sha256)

    def write_note(self, kept: Kept) -> None:
        """Write the note of a kept file anew. Raises VaultError."""
        try:
            self._write_note(kept, self.root / kept.sha256[:2] / kept.sha256)
        except OSError as error:
            raise _vault_error(error, self.root) from error

    def _write_note(self, note: Kept, final: Path) -> None:
        raw = {**{k: getattr(note, k) for k in ("sha256", "name", "size", "kind")}}
        raw["modified"] = note.modified.isoformat()
        draft = self.root / f".new-{note.sha256[:12]}.json"
        try:
            with draft.open("w", encoding="utf-8") as out:
                json.dump(raw, out, ensure_ascii=False)
                out.flush()
                os.fsync(out.fileno())
            draft.replace(final.with_name(final.name + ".json"))
        finally:
            draft.unlink(missing_ok=True)
        flushed.names(final.parent)

    def _note(self, final: Path) -> Kept | None:
        try:
            raw = json.loads(final.with_name(final.name + ".json").read_text(encoding="utf-8"))
            return Kept(**{**raw, "modified": datetime.fromisoformat(raw["modified"])})
        except (OSError, ValueError, TypeError, KeyError):
            return None

    def _sweep(self) -> None:
        """Remove what a killed run left, once it is too old to be another run's work."""
        for left in self.root.glob(".new-*"):
            with suppress(OSError):
                if time.time() - left.stat().st_mtime > STALE_S:
                    left.unlink()

    def _bytes(self) -> list[Path]:
        return sorted(p for p in self.root.glob("??/*") if NAMED.fullmatch(p.name))

    def kept(self) -> Iterator[Kept]:
        """Give every kept file that has its note, in the order of the hashes."""
        for final in self._bytes():
            note = self._note(final)
            if note is not None:
                yield note

    def verify(self) -> list[str]:
        """Read every byte and give one line for each thing that is not as it was kept."""
        problems = []
        found = self._bytes()
        for final in found:
            note = self._note(final)
            name = f"{final.name[:12]} ({note.name})" if note else final.name[:12]
            if note is None:
                problems.append(f"{name}: the note of where it came from is missing or unreadable")
            try:
                right = _sha256(final) == final.name
            except OSError as error:
                problems.append(f"{name}: cannot be read ({error.strerror})")
                continue
            if not right:
                problems.append(f"{name}: its bytes have changed since it was kept")
        names = {final.name for final in found}
        for lone in sorted(self.root.glob("??/*.json")):
            if lone.stem not in names:
                problems.append(f"{lone.stem[:12]}: the bytes are gone, only the note is left")
        return problems
