"""The photo of a page that a person signed, kept with its job. Nothing here signs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from capture.errors import InputError
from desk import lookup, observe

if TYPE_CHECKING:
    from capture.vault import Vault
    from desk.opening import Opened
    from record.entries import Entry


def keep(here: Opened, vault: Vault, photo: Path, job: int | None, by: str) -> Entry:
    """Keep the photo of the signed page with its job, the one named or the newest, in a name.

    Raises `InputError` for what is no photo, `RefusedError` without a name.
    """
    from capture.vault import kind_of
    from record import chain, jobs
    from record.signed import attach

    if not photo.is_file() or kind_of(photo) != "photo":
        raise InputError("is no photo", photo, "name the photo of the signed page")
    chain.person(by)
    with here.store.session(write=False) as session:
        found = jobs.get(session, job or lookup.newest(jobs.jobs(session))).id
    kept = vault.keep(photo)
    with here.store.session() as session:
        began = observe.began_at(photo, kept, here.settings.zone)
        return attach(session, found, kept, began, by)
