"""Open what a command works with: settings, catalogue, record."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from desk.settings import FIELDS, Settings, load
from extract.values.catalogue import Catalogue

if TYPE_CHECKING:
    from record.store import Store


@dataclass(frozen=True, slots=True)
class Asked:
    """What the command line says for all commands: the home, and which aircraft is meant."""

    home: Path | None
    aircraft: str = ""


@dataclass(frozen=True, slots=True)
class Opened:
    """An open record with what is needed to read and show it."""

    settings: Settings
    catalogue: Catalogue
    store: Store


def settings(asked: Asked | Path | None) -> Settings:
    """Read the settings of a home; None is the one that the environment or the platform names."""
    if isinstance(asked, Asked):
        return load(asked.home, os.environ, asked.aircraft)
    return load(asked, os.environ)


def catalogue(settings: Settings) -> Catalogue:
    """Load the field catalogue, with the owner's own fields from `fields/` in the home.

    It is in the owner's units, and asks for the meter that the owner's log is kept by.
    """
    from extract.values import catalogue as fields

    made = fields.load(*sorted((settings.home / FIELDS).glob("*.toml")))
    profile = settings.profile
    recurs = tuple(one.what for one in profile.recurring)
    return made.owned(profile.units, profile.hours_by, recurs)


@contextmanager
def record(asked: Asked | Path | None, *, read_only: bool = False) -> Iterator[Opened]:
    """Open the record of a home, and close it at the end.

    What a killed export or backup left, wherever that is, is taken away first. Unless it is only
    read, profiles that changed since, and what was read back to a phone and is not noted yet, are
    noted in its journal.

    Raises:
        StoreError: it cannot be opened, or with `read_only` is not there.
    """
    from desk import noted
    from record import aside
    from record.store import Store

    here = settings(asked)
    aside.sweep_noted(here.home)
    store = Store.open(here.database, read_only=read_only)
    try:
        if not read_only:
            noted.note_profiles(store, here)
            noted.note_read_back(store, here)
            if store.sealed_as_found:
                noted.note_copies(store, here)
        yield Opened(here, catalogue(here), store)
    finally:
        store.close()
