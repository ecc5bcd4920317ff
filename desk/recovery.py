"""Take back into the record what lies in the vault without a row; make anew what is derived.

A kill between the two leaves a file in the vault that no command shows. Knows no screen.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from capture import inventory
from capture.observed import Kept
from capture.vault import NAMED, Vault, kind_of_bytes
from desk import noted, observe
from record import media, soundness
from record.lab import read_off

if TYPE_CHECKING:
    from desk.settings import Settings
    from record.store import Store


@dataclass(slots=True)
class Recovered:
    """What was taken back: files with a row now, notes written anew, copies noted, what was left.

    `left` are names, each with the reason why it stays as it is.
    """

    files: list[str] = field(default_factory=list)
    notes: int = 0
    copies: int = 0
    left: list[tuple[str, str]] = field(default_factory=list)

    def lines(self) -> list[str]:
        """Say what was done, a line each; what was left last."""
        done = [f"taken back: {name}; it will be heard and read" for name in self.files]
        if self.copies:
            done.append(f"copies without position noted: {self.copies}")
        if self.notes:
            done.append(f"notes written anew from the record: {self.notes}")
        done.append(f"search index made anew; files taken back: {len(self.files)}")
        return done + [f"left: {name}: {why}" for name, why in self.left]


def lost(store: Store, vault: Vault) -> int:
    """Count the files of the vault that the record does not know."""
    there = {path.name for path in vault.root.glob("??/*") if NAMED.fullmatch(path.name)}
    return len(there - _known(store)) if there else 0


def recover(store: Store, vault: Vault, settings: Settings) -> Recovered:
    """Give each whole file of the vault its row, and write anew the notes and the search index.

    The files wait to be heard and read, as after an intake that was ended. Raises StoreError,
    VaultError.
    """
    made = Recovered()
    made.copies = noted.note_copies(store, settings)
    lies, known = inventory.take(vault.root), _known(store)
    for sha256, path in lies.files.items():
        if sha256 not in known:
            _take(store, vault, settings, path, lies.notes.get(sha256), made)
    with store.session(write=False) as session:
        rows = media.media(session)
    for row in rows:
        right = Kept(row.sha256, row.original, row.size, row.kind, row.modified)
        if row.sha256 in lies.files and vault.note(row.sha256) != right:
            vault.write_note(right)
            made.notes += 1
    with store.session() as session:
        soundness.rebuild(session)
    return made


def _known(store: Store) -> set[str]:
    """Give the hashes of all files that the record knows: media, copies, photos of reports."""
    from record import journal

    with store.session(write=False) as session:
        return media.hashes(session) | set(journal.copies(session).values()) | read_off(session)


def _take(
    store: Store,
    vault: Vault,
    settings: Settings,
    path: Path,
    note: dict[str, object] | None,
    made: Recovered,
) -> None:
    shown = str((note or {}).get("name") or path.name[:12])
    if why := inventory.wrong(path):
        made.left.append((shown, why))
        return
    kept = vault.note(path.name)
    stat = path.stat()
    kind = kept.kind if kept else kind_of_bytes(path)
    if kind is None:
        made.left.append((shown, "neither a memo nor a photo, as far as its first bytes tell"))
        return
    if kept is None or (kept.sha256, kept.size) != (path.name, stat.st_size):
        at = datetime.fromtimestamp(stat.st_mtime, UTC)
        kept = Kept(path.name, f"recovered {path.name[:12]}", stat.st_size, kind, at)
        vault.write_note(kept)
    began = observe.began_at(path, kept, settings.zone)
    with store.session() as session:
        media.note(session, kept, began)
    made.files.append(kept.name)
