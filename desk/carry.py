"""Carry the record out as a bag and back in. Knows no screen."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from capture.errors import InputError
from capture.vault import Vault
from desk.opening import Opened
from desk.profile import PROFILE_NAME
from desk.settings import FLEET
from record import bag, dump, jobs
from record.errors import IntegrityError
from record.service import Service, service
from record.store import Store

if TYPE_CHECKING:
    from desk.settings import Settings


@dataclass(frozen=True, slots=True)
class Carried:
    """What was carried: how many originals, copies without position, missing files, links."""

    originals: int
    without_position: int
    absent: tuple[str, ...]
    links: int


def export(here: Opened, vault: Vault, out: Path, *, with_position: bool = False) -> Carried:
    """Write the whole record to a new folder `out` as a bag, and prove it.

    Originals keep every byte but those that say where, unless `with_position`; the hash of the
    original and that of the copy both stand in the record. Raises `InputError`, `StoreError`.
    """
    from capture.position import blank

    with here.store.session(write=False) as session:
        document = dump.dump(session)
        services = [service(session, job.id, here.catalogue) for job in jobs.jobs(session)]
    papers = _papers(here, services, vault)
    profile = here.settings.home / PROFILE_NAME
    for path in (profile, *sorted((here.settings.home / FLEET).glob("*.toml"))):
        if path.is_file():
            papers[path.relative_to(here.settings.home).as_posix()] = path.read_bytes()
    originals = _originals(document, vault)
    registration = here.settings.profile.registration
    about = {
        "External-Identifier": registration or "aircraft not named",
        "External-Description": "Service record with originals, transcripts, decisions and entries",
        "Bagging-Date": datetime.now(here.settings.zone).date().isoformat(),
        "Chain-Head": f"{document['chain']['links']} {document['chain']['head']}",
    }
    strip = None if with_position else blank
    bag.write(document, originals, out, strip=strip, papers=papers, about=about)
    files = bag.read(out).files
    return Carried(
        sum(one.file is not None for one in files),
        sum(one.position_removed for one in files),
        tuple(one.name for one in files if one.file is None),
        document["chain"]["links"],
    )


def _originals(document: dict[str, Any], vault: Vault) -> dict[str, Path]:
    found = {row["sha256"]: vault.path(row["sha256"]) for row in document["tables"]["media"]}
    return {sha256: path for sha256, path in found.items() if path.is_file()}


def _papers(here: Opened, services: Iterable[Service], vault: Vault) -> dict[str, bytes]:
    from desk import evidence, logbook
    from desk.paper_pdf import entry_pdf
    from desk.papers import service_record

    made = {}
    for found in services:
        profile = here.settings.profile_of(found.job.aircraft)
        paper = logbook.entry_of(found, profile, here.catalogue)
        entry = logbook.text(paper)
        record = service_record(found, profile, here.catalogue)
        photos = evidence.photos([found], vault.path)
        job = f"entries/job-{found.job.id:04d}"
        made[f"{job}.pdf"] = entry_pdf(paper, record=record, photos=photos)
        for name, content in evidence.beside(found, here.catalogue, vault.path).items():
            made[f"{job}/{name}"] = content
        made[f"{job}.txt"] = f"{entry}\n\n{record}\n".encode()
    return made


def bring_in(folder: Path, settings: Settings) -> Carried:
    """Take a bag into an empty home: the same rows, the same chain, the originals in the vault.

    The bag is proved first, then files go into the vault, then all rows in one transaction that
    proves the chain; killed at any moment, it can be run again. Raises `InputError`,
    `IntegrityError`, `RefusedError` where the home holds a record.
    """
    found = bag.read(folder)
    vault = Vault(settings.vault_dir)
    store = Store.open(settings.database)
    try:
        with store.session(write=False) as session:
            dump.need_empty(session)
        rows = {row["sha256"]: row for row in found.document["tables"]["media"]}
        for one in found.files:
            if one.file:
                _keep(found, one, rows[one.sha256], vault)
        with store.session() as session:
            dump.fill(session, found.document)
    finally:
        store.close()
    for path in (found.payload / PROFILE_NAME, *(found.payload / FLEET).glob("*.toml")):
        _bring_profile(path, settings.home / path.relative_to(found.payload))
    return Carried(
        sum(one.file is not None for one in found.files),
        sum(one.position_removed for one in found.files),
        tuple(one.name for one in found.files if one.file is None),
        found.document["chain"]["links"],
    )


def _keep(found: bag.Bag, one: bag.Original, row: dict[str, str], vault: Vault) -> None:
    """Keep a file of the bag under its own name and time, as what it is or as a copy of it."""
    source = _inside(found.payload, one.file or "")
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / f"kept{source.suffix}"
        shutil.copyfile(source, copy)
        modified = datetime.fromisoformat(row["modified"]).timestamp()
        os.utime(copy, (modified, modified))
        kept = vault.keep(copy, row["original"])
    if kept.sha256 != one.file_sha256:
        raise InputError("is not the file that the record names", source, "copy the export again")
    if kept.sha256 != one.sha256:
        if not one.position_removed:
            raise IntegrityError("is not the original that it is said to be", source)
        vault.stand_in(one.sha256, kept.sha256)


def _inside(payload: Path, name: str) -> Path:
    where = (payload / name).resolve()
    if not where.is_relative_to(payload.resolve()) or not where.is_file():
        raise InputError(
            "names a file that is not in it", payload / bag.DOCUMENT, "export it again"
        )
    return where


def _bring_profile(source: Path, target: Path) -> None:
    if source.is_file() and not target.exists():
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source, target)
