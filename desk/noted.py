"""What lies beside the record and is noted in it: profiles, read-backs, copies in the vault."""

from __future__ import annotations

import hashlib
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

from capture import inventory
from desk.profile import PROFILE_NAME
from desk.settings import FLEET
from record import journal, witnesses

if TYPE_CHECKING:
    from desk.settings import Settings
    from record.store import Store


def profiles(home: Path) -> dict[str, bytes]:
    """Give the profiles of a home, by where they lie in it; those that can be read."""
    made = {}
    for path in (home / PROFILE_NAME, *sorted((home / FLEET).glob("*.toml"))):
        try:
            made[path.relative_to(home).as_posix()] = path.read_bytes()
        except OSError:
            continue
    return made


def changed(store: Store, home: Path) -> dict[str, bytes]:
    """Give the profiles that are not as they were last noted, each read once."""
    with store.session(write=False) as session:
        known = witnesses.noted(session)
    return {name: held for name, held in profiles(home).items() if known.get(name) != _sha256(held)}


def note_profiles(store: Store, settings: Settings) -> None:
    """Note each profile that is not as it was last noted, with its words."""
    found = changed(store, settings.home)
    if not found:
        return
    with store.session() as session:
        for name, held in found.items():
            text = held.decode("utf-8", "replace")
            journal.note(
                session,
                witnesses.PROFILE,
                file=name,
                home=name == PROFILE_NAME,
                aircraft=_registration(text),
                sha256=_sha256(held),
                text=text,
            )


def note_read_back(store: Store, settings: Settings) -> None:
    """Note what a desk that was cut off had read back and not noted."""
    if (settings.home / "readback").is_dir():
        from desk.readback.journal import note_all

        note_all(store, settings.home)


def note_copies(store: Store, settings: Settings) -> int:
    """Note the copies that stand in for originals and are not noted yet; give how many."""
    lies = inventory.take(settings.vault_dir)
    with store.session(write=False) as session:
        known = journal.copies(session)
    new = {original: copy for original, copy in lies.copies.items() if original not in known}
    new = {original: copy for original, copy in new.items() if copy in lies.files}
    if new:
        with store.session() as session:
            for original, copy in new.items():
                journal.note(session, journal.STANDS_IN, sha256=original, copy=copy)
    return len(new)


def _registration(text: str) -> str:
    try:
        return str(tomllib.loads(text).get("registration", ""))
    except tomllib.TOMLDecodeError:
        return ""


def _sha256(held: bytes) -> str:
    return hashlib.sha256(held).hexdigest()
