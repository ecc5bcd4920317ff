"""Backups: whole exports in a folder of the owner's, so many kept, each read back after it is made.

A backup is a bag like that of `export`, with every byte of the originals. It counts as good only
when it was read back: every file by its hash, and all rows into an empty record whose chain holds.
Knows no screen.
"""

from __future__ import annotations

import json
import re
import shutil
import tomllib
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from capture.errors import CowlnoteError, InputError
from desk import written

if TYPE_CHECKING:
    from capture.vault import Vault
    from desk.opening import Opened

PLAN, STATE = "keep.toml", "backups.json"
KEPT = 5  # generations, where nobody said how many
_NAME = re.compile(r"cowlnote-\d{8}T\d{6}")
Tell = Callable[[str, float | None], None]


@dataclass(frozen=True, slots=True)
class Plan:
    """Where backups go, every how many days (0: by hand alone), and how many are kept."""

    folder: str = ""
    days: int = 0
    kept: int = KEPT


@dataclass(frozen=True, slots=True)
class Last:
    """The last backup that was good, and the last that was tried: moments in ISO 8601, and why."""

    good: str = ""
    folder: str = ""
    originals: int = 0
    links: int = 0
    tried: str = ""
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Made:
    """A backup that was made and read back, and which older ones were taken away."""

    folder: Path
    originals: int
    links: int
    removed: tuple[str, ...]


def plan(home: Path) -> Plan:
    """Give the plan of a home. Raises InputError where its file cannot be read."""
    path = home / PLAN
    if not path.is_file():
        return Plan()
    try:
        raw = tomllib.loads(path.read_text("utf-8")).get("backup", {})
        return Plan(str(raw.get("folder", "")), int(raw.get("days", 0)), int(raw.get("kept", KEPT)))
    except (OSError, UnicodeDecodeError, ValueError, TypeError, AttributeError) as error:
        raise InputError("cannot be read", path, str(error)) from None


def set_plan(home: Path, folder: str, days: str, kept: str) -> Plan:
    """Write the plan. Raises InputError for a folder that is none, or numbers that cannot be."""
    import tomlkit

    where = Path(folder).expanduser()
    if not folder or not where.is_absolute() or not where.is_dir():
        raise InputError("there is no such folder", where, "make it first, on another disk at best")
    if where.resolve().is_relative_to(home.resolve()):
        raise InputError("lies in the home itself", where, "choose a folder elsewhere")
    made = Plan(str(where), _number(days, "days", 0, 366), _number(kept, "kept", 1, 100))
    document = tomlkit.document()
    document.add(tomlkit.comment("Where backups go, every how many days, and how many are kept."))
    document["backup"] = asdict(made)
    try:
        written.whole(home / PLAN, tomlkit.dumps(document).encode())
    except OSError as error:
        raise InputError(f"cannot be written ({error.strerror})", home / PLAN) from None
    return made


def _number(text: str, what: str, least: int, most: int) -> int:
    if not text.isdecimal() or not least <= int(text[:6]) <= most:
        raise InputError(f"{what}: {text or 'nothing'}", todo=f"give a number, {least} to {most}")
    return int(text)


def last(home: Path) -> Last:
    """Give how the last backups went; one whose note cannot be read counts as none."""
    try:
        raw = json.loads((home / STATE).read_text("utf-8"))
        return Last(**{key: raw[key] for key in Last.__dataclass_fields__ if key in raw})
    except (OSError, ValueError, TypeError):
        return Last()


def is_due(home: Path, now: datetime) -> bool:
    """Say whether the plan calls for a backup now."""
    its = plan(home)
    if not its.folder or not its.days:
        return False
    good = last(home).good
    return not good or datetime.fromisoformat(good) + timedelta(days=its.days) <= now


def make(here: Opened, vault: Vault, folder: Path, kept: int, tell: Tell | None = None) -> Made:
    """Make a backup in `folder`, read it back, and take away the oldest beyond `kept`.

    Raises:
        CowlnoteError: it could not be made, or does not hold what it should; older ones all stay.
    """
    say = tell or (lambda _words, _share: None)
    home, now = here.settings.home, _now(here.settings.zone)
    try:
        made = _make(here, vault, folder, now, say)
    except CowlnoteError as error:
        _note(home, replace(last(home), tried=now.isoformat(), problem=str(error)))
        raise
    removed = _prune(folder, kept)
    _note(
        home, Last(now.isoformat(), str(made.folder), made.originals, made.links, now.isoformat())
    )
    return replace(made, removed=removed)


def _make(here: Opened, vault: Vault, folder: Path, now: datetime, say: Tell) -> Made:
    from desk.carry import export

    while (out := folder / f"cowlnote-{now:%Y%m%dT%H%M%S}").exists():
        now += timedelta(seconds=1)
    say("writing the backup", 0.1)
    done = export(here, vault, out, with_position=True)
    if done.absent:
        shutil.rmtree(out, ignore_errors=True)
        raise InputError(
            f"not in the vault: {', '.join(done.absent[:3])}", folder, "`cowlnote check` says more"
        )
    say("reading it back", 0.7)
    try:
        links = prove(out, here.settings.home)
    except CowlnoteError:
        shutil.rmtree(out, ignore_errors=True)  # what cannot be read back is no backup
        raise
    return Made(out, done.originals, links, ())


def prove(folder: Path, home: Path | None = None) -> int:
    """Read a backup as a restore would, into an empty record that is thrown away; give its links.

    `home` is told where that record lies, which a kill may leave. Raises `CowlnoteError` where the
    backup would not restore.
    """
    from record import aside, bag, dump
    from record.errors import StoreError
    from record.store import Store

    found = bag.read(folder)
    try:
        with aside.folder(folder.parent, home) as place:
            store = Store.open(place)
            try:
                with store.session() as session:
                    dump.fill(session, found.document)
            finally:
                store.close()
    except OSError as error:
        raise StoreError(
            f"cannot be tried ({error.strerror})", folder, "make room, or choose another"
        ) from None
    return int(found.document["chain"]["links"])


def generations(folder: Path) -> list[Path]:
    """Give the backups in a folder, the newest first, by their names."""
    try:
        found = [p for p in folder.iterdir() if _NAME.fullmatch(p.name) and p.is_dir()]
    except OSError:
        return []
    return sorted(found, key=lambda p: p.name, reverse=True)


def _prune(folder: Path, kept: int) -> tuple[str, ...]:
    removed = []
    for old in generations(folder)[max(kept, 1) :]:
        if (old / "bagit.txt").is_file():
            shutil.rmtree(old, ignore_errors=True)
            removed.append(old.name)
    return tuple(removed)


def _note(home: Path, what: Last) -> None:
    written.whole(home / STATE, json.dumps(asdict(what), indent=1).encode())


def told(home: Path, now: datetime) -> tuple[str, bool]:
    """Give in words when the last good backup was, and whether that is a reason to act."""
    its, was = plan(home), last(home)
    if was.problem:
        good = f"; last good: {_ago(was.good, now)}" if was.good else "; there is no good one"
        return f"the last backup failed: {was.problem}{good}", True
    if not was.good:
        return "there is no backup yet", True
    if not Path(was.folder).is_dir():
        return f"the last good backup is not at its place any more: {was.folder}", True
    late = bool(its.days) and is_due(home, now)
    return f"last good: {_ago(was.good, now)}, read back, {was.folder}", late


def _now(zone: tzinfo) -> datetime:
    return datetime.now(zone)


def _ago(moment: str, now: datetime) -> str:
    days = (now - datetime.fromisoformat(moment)).days
    if days < 1:
        return "today"
    return "yesterday" if days == 1 else f"{days} days ago"
