"""Carry the record out as a bag and back in. Knows no screen."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from capture.errors import AlteredError, InputError
from capture.vault import Vault
from desk import keys, written
from desk.opening import Opened
from desk.profile import PROFILE_NAME
from desk.readback import journal as journals
from desk.settings import FIELDS, FLEET, read_own
from desk.upkeep import HEAD_FILE
from extract.values.catalogue import Catalogue
from record import bag, dump, jobs, journal, readback
from record.errors import DamagedError, IntegrityError, RefusedError, StoreError
from record.service import Service, service
from record.store import Store
from record.values import now

if TYPE_CHECKING:
    from desk.evidence import PathOf
    from desk.settings import Settings


READ_BACK_FILE = "read-back.txt"  # of an export: what was read back to whom, for people


@dataclass(frozen=True, slots=True)
class Carried:
    """What was carried: originals, copies without position, what is missing or damaged, links."""

    originals: int
    without_position: int
    absent: tuple[str, ...]
    links: int
    damaged: tuple[str, ...] = ()


def export(
    here: Opened,
    vault: Vault,
    out: Path,
    *,
    with_position: bool = False,
    leave_damaged: bool = False,
) -> Carried:
    """Write the whole record to a new folder `out` as a bag, and prove it.

    Originals keep every byte but those that say where, unless `with_position`; the hash of the
    original and that of the copy both stand in the record. Each original is read and proved: one
    that is not what was kept ends it, or with `leave_damaged` is left out and named. Raises
    `InputError`, `StoreError`, `IntegrityError`; `DamagedError` for originals alone.
    """
    from capture.position import blank

    with here.store.session(write=False) as session:
        document = dump.dump(session)
        copies = journal.copies(session)
        services = [service(session, job.id, here.catalogue) for job in jobs.jobs(session)]
        noted = readback.noted(session)
    originals = _Originals.of(document, vault, copies)
    if originals.damaged and not leave_damaged:
        raise DamagedError(
            f"not what was kept: {', '.join(originals.damaged)}; nothing was exported",
            originals.damaged,
            todo="put back a good copy, or export the rest with --leave-damaged",
        )
    papers = _papers(here, services, originals.path)
    profile, own = here.settings.home / PROFILE_NAME, (FLEET, FIELDS)
    more = [one for name in own for one in sorted((here.settings.home / name).glob("*.toml"))]
    for path in (profile, *more):
        if path.is_file():
            papers[path.relative_to(here.settings.home).as_posix()] = path.read_bytes()
    if told := _read_back(here.settings.home, noted):
        papers[READ_BACK_FILE] = told
    papers[HEAD_FILE] = _head(document["journal"]["links"], document["journal"]["head"])
    registration = here.settings.profile.registration
    about = {
        "External-Identifier": registration or "aircraft not named",
        "External-Description": "Service record with originals, transcripts, decisions and entries",
        "Bagging-Date": datetime.now(here.settings.zone).date().isoformat(),
        "Chain-Head": f"{document['chain']['links']} {document['chain']['head']}",
        "Record-Head": f"{document['journal']['links']} {document['journal']['head']}",
    }
    strip = None if with_position else blank
    bag.write(
        document,
        originals.at,
        out,
        strip=strip,
        papers=papers,
        about=about,
        copies=copies,
        home=here.settings.home,
    )
    files = bag.read(out).files
    return Carried(
        sum(one.file is not None for one in files),
        sum(one.position_removed for one in files),
        originals.absent,
        document["chain"]["links"],
        originals.damaged,
    )


def _head(number: int, seal: str) -> bytes:
    """Give the head of the record as a file of the export, signed where the owner has a key."""
    key = keys.load(keys.place(os.environ))
    text = keys.statement(number, seal, now(), key) if key else f"{number}-{seal}"
    return f"{text}\n".encode()


def _read_back(home: Path, noted: Mapping[str, Sequence[Mapping[str, Any]]]) -> bytes:
    """Give what was read back to whom and when, a line each."""
    lines = [
        f"{item.told_at:%Y-%m-%d %H:%M:%S%z}  {journal.phone}  "
        f"{f'job {item.job}' if item.job is not None else 'no job yet'}  {item.kind}: {line.text}"
        + (f" (before: {line.was})" if line.was else "")
        + ("" if journal.is_noted(item) else " (not in the record yet)")
        for journal in journals.every(home, noted)
        for item in journal.items
        for line in item.lines
    ]
    return "".join(f"{line}\n" for line in lines).encode()


@dataclass(frozen=True, slots=True)
class _Originals:
    """The originals of a record, each read to its last byte: where they lie, and what is wrong."""

    at: dict[str, Path]
    absent: tuple[str, ...]
    damaged: tuple[str, ...]

    @classmethod
    def of(cls, document: dict[str, Any], vault: Vault, copies: Mapping[str, str]) -> _Originals:
        at: dict[str, Path] = {}
        absent, damaged = [], []
        for row in document["tables"]["media"]:
            sha256, name = row["sha256"], row["original"]
            path = vault.path(sha256)
            if not path.is_file() or path.name not in (sha256, copies.get(sha256)):
                absent.append(name)
                continue
            try:
                at[sha256] = vault.proved(sha256)
            except AlteredError:
                damaged.append(name)
        return cls(at, tuple(absent), tuple(damaged))

    def path(self, sha256: str) -> Path:
        """Give where a proved original lies. Raises AlteredError for any other."""
        if sha256 not in self.at:
            raise AlteredError("is not what was kept, or is gone", sha256[:12])
        return self.at[sha256]


def _papers(here: Opened, services: Iterable[Service], path_of: PathOf) -> dict[str, bytes]:
    from desk import evidence, logbook
    from desk.paper_pdf import entry_pdf
    from desk.papers import service_record

    made = {}
    for found in services:
        profile = here.settings.profile_of(found.job.aircraft)
        paper = logbook.entry_of(found, profile, here.catalogue)
        entry = logbook.text(paper)
        record = service_record(found, profile, here.catalogue)
        photos = evidence.photos([found], path_of)
        job = f"entries/job-{found.job.id:04d}"
        made[f"{job}.pdf"] = entry_pdf(paper, record=record, photos=photos)
        for name, content in evidence.beside(found, here.catalogue, path_of).items():
            made[f"{job}/{name}"] = content
        made[f"{job}.txt"] = f"{entry}\n\n{record}\n".encode()
    return made


def bring_in(folder: Path, settings: Settings) -> Carried:
    """Take a bag into an empty home: the same rows, the same chain, the originals in the vault.

    Everything is proved first, the chain by the rows themselves. Profiles and originals are written
    before these are kept, in the one transaction that ends the import: killed at any moment, it can
    be run again. Raises `InputError`, `IntegrityError`, `RefusedError` where the home holds a
    record.
    """
    found = bag.read(folder)
    own = _own_files(found.payload, settings)
    dump.need_readable(found.document, _fields(found.payload))
    store = Store.open(settings.database)
    try:
        with store.session() as session:
            dump.fill(session, found.document)
            for name, content in own.items():
                _bring(content, settings.home / name)
            for original, copy in _bring_originals(found, Vault(settings.vault_dir)):
                journal.note(session, journal.STANDS_IN, sha256=original, copy=copy)
    finally:
        store.close()
    return Carried(
        sum(one.file is not None for one in found.files),
        sum(one.position_removed for one in found.files),
        tuple(one.name for one in found.files if one.file is None),
        found.document["chain"]["links"],
    )


def _own_files(payload: Path, settings: Settings) -> dict[str, bytes]:
    """Give the profiles and the owner's fields of a bag, by where they belong, each read once."""
    made = {}
    paths = [payload / PROFILE_NAME]
    paths += [
        path for folder in (FLEET, FIELDS) for path in sorted((payload / folder).glob("*.toml"))
    ]
    for path in paths:
        if not path.is_file():
            continue
        _inside(payload, path.relative_to(payload).as_posix())
        if path.parent.name != FIELDS:
            read_own(path, settings.zone)
        made[path.relative_to(payload).as_posix()] = path.read_bytes()
    return made


def _fields(payload: Path) -> Catalogue:
    from extract.values.catalogue import load

    return load(*sorted((payload / FIELDS).glob("*.toml")))


def _bring_originals(found: bag.Bag, vault: Vault) -> list[tuple[str, str]]:
    """Keep the files of a bag; give the hashes of originals and of the copies in their place."""
    rows = {row["sha256"]: row for row in found.document["tables"]["media"]}
    for one in found.files:
        if one.file:
            _keep(found, one, rows[one.sha256], vault)
    return [(o.sha256, o.file_sha256) for o in found.files if o.file_sha256 not in (None, o.sha256)]


def preview(folder: Path, settings: Settings) -> str:
    """Say what an export holds, proved, and whether this home can take it in; takes nothing in.

    Raises `InputError`, `IntegrityError` for what is no whole export.
    """
    found = bag.read(folder)
    tables = found.document["tables"]
    aircraft = sorted({row["aircraft"] for row in tables["job"] if row["aircraft"]})
    there = sum(one.file is not None for one in found.files)
    told = (
        f"{folder}: {', '.join(aircraft) or 'no aircraft named'}; {len(tables['job'])} jobs, "
        f"{len(tables['entry'])} entries, {there} originals; proved."
    )
    store = Store.open(settings.database)
    try:
        with store.session(write=False) as session:
            dump.need_empty(session)
    except RefusedError:
        return f"{told} This home holds a record already: an export goes into an empty one."
    finally:
        store.close()
    return f"{told} This home is empty: it can be taken in."


def _keep(found: bag.Bag, one: bag.Original, row: dict[str, str], vault: Vault) -> None:
    """Keep a file of the bag under its own name and time, as what it is or as a copy of it."""
    source = _inside(found.payload, one.file or "")
    kept = vault.keep(source, row["original"], modified=datetime.fromisoformat(row["modified"]))
    if kept.sha256 != one.file_sha256:
        raise InputError("is not the file that the record names", source, "copy the export again")
    if kept.sha256 != one.sha256:
        if not one.position_removed:
            raise IntegrityError("is not the original that it is said to be", source)
        vault.stand_in(one.sha256, kept.sha256)


def _inside(payload: Path, name: str) -> Path:
    try:
        where = (payload / name).resolve()
        inside = where.is_relative_to(payload.resolve()) and where.is_file()
    except (OSError, ValueError):
        inside = False
    if not inside:
        raise InputError(
            "names a file that is not in it", payload / bag.DOCUMENT, "export it again"
        )
    return where


def _bring(content: bytes, target: Path) -> None:
    """Write a profile, whole or not at all; one that is there and says something stays."""
    try:
        written.new(target, content)
    except FileExistsError:
        return
    except OSError as error:
        raise StoreError(f"cannot be written ({error.strerror})", target, "make room") from None
