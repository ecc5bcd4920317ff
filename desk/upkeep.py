"""Is what was kept still what was kept? Reads only, and names all that is not. Knows no screen."""

from __future__ import annotations

import hashlib
import re
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, Protocol

from capture import inventory
from capture.errors import InputError
from capture.inventory import Inventory
from capture.vault import Vault
from desk import keys
from desk.keys import Signed
from record import dump, heads, journal, soundness, strict
from record.acts import told
from record.proof import Proof, Source
from record.reading import SessionRows, Snapshot
from record.seals import Row
from record.store import Store
from record.witnesses import PROFILE

HEAD_FILE = "head.txt"  # of an export: its head, signed where there is a key
HEAD = re.compile(r"(?P<number>\d{1,15})[-\s:]+(?P<hash>[0-9a-f]{8,64})\b")
GOES_ON_S = 24 * 3600.0  # how old an interrupted check may be to be gone on with
LAB_PHOTO = "photo "  # how the source of a report read off a photo begins; its hash is at the end


class Report(Protocol):
    """Who is told how a check goes."""

    def doing(self, what: str, name: str, number: int, files: int) -> None:
        """Step or file `number` of `files` is being looked at."""


@dataclass(slots=True)
class Findings:
    """What a check looked at, what it found wrong, and what is odd and not wrong, a line each."""

    files: int = 0
    size: int = 0
    links: int = 0
    events: int = 0
    rows: int = 0
    head: str = ""
    gone_on: int = 0
    problems: list[str] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)

    def counted(self) -> str:
        """Say in one line how much was looked at, how many problems there are, and the head."""
        counts = ((self.links, "link"), (self.events, "event"), (self.rows, "row"))
        told = [f"{many} {one}{'' if many == 1 else 's'}" for many, one in counts]
        files = f"{self.files} file{'' if self.files == 1 else 's'}"
        many = len(self.problems)
        return (
            f"{files} ({self.size / 1e6:.1f} MB), {told[0]}, {told[1]} and {told[2]} of the record "
            f"looked at, {many} problem{'' if many == 1 else 's'}; head {self.head}"
        )


def check(
    store: Store,
    vault: Vault,
    report: Report | None = None,
    *,
    against: tuple[int, str] | None = None,
    profiles: Mapping[str, bytes] = MappingProxyType({}),
    cache: Path | None = None,
) -> Findings:
    """Hold database, chains, rows and every byte of the vault against what was sealed.

    `against` is a head kept elsewhere: its number and the beginning of its hash. `profiles` are
    those of the home, by where they lie in it. `cache` is where a check that is interrupted keeps
    how far it came, so that the next one goes on there.
    """
    found, tell = Findings(), report.doing if report else (lambda *_: None)
    with tempfile.TemporaryDirectory() as folder:
        if store.engine.dialect.name == "sqlite":
            size = Path(store.where).stat().st_size
            snapshot = Snapshot(store.copy_into, size, Path(folder))
            try:
                _record(snapshot, found, tell, snapshot, against)
                media, lab = _media(snapshot, found), _lab_photos(snapshot)
                copies = _noted(snapshot, profiles, found)
            finally:
                snapshot.close()
        else:
            with store.session(write=False) as session:
                found.problems += soundness.guards_of_server(session)
                source = SessionRows(session)
                _record(source, found, tell, None, against)
                media, lab = _media(source, found), _lab_photos(source)
                copies = _noted(source, profiles, found)
    _files(inventory.take(vault.root), media, lab, copies, found, tell, cache)
    return found


def _record(
    source: Source,
    found: Findings,
    tell: Callable[[str, str, int, int], None],
    snapshot: Snapshot | None,
    against: tuple[int, str] | None,
) -> None:
    proof = Proof(source)
    steps: list[tuple[str, Callable[[], Iterable[Any]]]] = [
        ("chains and rows", proof.all),
        ("values", lambda: strict.faults(source, dump.TABLES)),
    ]
    if snapshot is not None:
        steps += [
            ("database", lambda: soundness.engine(snapshot.db)),
            ("guards", lambda: soundness.guards(snapshot.db)),
            ("search index", lambda: soundness.index(snapshot.db)),
        ]
    named: set[str] = set()
    for number, (what, step) in enumerate(steps, start=1):
        tell("proving", what, number, len(steps))
        for line in _lines(what, step):
            thing = line.partition(":")[0].replace("_", " ")
            if what != "values" or thing not in named:  # a row is named once
                found.problems.append(line)
            named.add(thing)
    if snapshot is not None:
        found.problems += snapshot.unreadable
    found.notices += [str(one) for one in proof.backwards]
    found.links, found.events = proof.counted.get("chain", 0), proof.counted.get("event", 0)
    found.rows = sum(proof.counted.values())
    ends = proof.ends.get("event", {})
    found.head = heads.shown(max(ends, default=0), ends.get(max(ends, default=0), "0" * 64))
    if against is not None and (said := proof.against(*against)):
        found.problems.append(said)


def _lines(what: str, step: Callable[[], Iterable[Any]]) -> Iterator[str]:
    """Give the lines of one step; one that a damage ends all the same is a finding like others."""
    try:
        for one in step():
            yield str(one)
    except Exception as error:  # noqa: BLE001  (a check must never end on what it looks at)
        why = " ".join(f"{type(error).__name__}: {error}".split())
        yield f"{what}: could not be looked at to the end ({why})"


def _media(source: Source, found: Findings) -> dict[str, Row]:
    made: dict[str, Row] = {}
    for row in source.rows("media"):
        if row["sha256"] in made:
            found.problems.append(f"media {row['id']}: has the hash of another")
        made[str(row["sha256"])] = row
    return made


def _lab_photos(source: Source) -> set[str]:
    """Give the hashes of the photos that laboratory reports were read off."""
    sources = (str(row["source"]) for row in source.rows("lab_report"))
    return {one.rpartition(" ")[2] for one in sources if one.startswith(LAB_PHOTO)}


def _noted(source: Source, profiles: Mapping[str, bytes], found: Findings) -> dict[str, str]:
    """Give the copies that were noted; tell of profiles that are not as they were last noted."""
    copies: dict[str, str] = {}
    known: dict[str, str] = {}
    for row in source.rows("event"):
        for act in told(row["acts"], journal.STANDS_IN):
            copies[str(act.get("sha256"))] = str(act.get("copy"))
        for act in told(row["acts"], PROFILE):
            known[str(act.get("file"))] = str(act.get("sha256"))
    for name, held in profiles.items():
        if known.get(name) != hashlib.sha256(held).hexdigest():
            found.notices.append(
                f"{name} was changed since it was noted; the next command that writes notes it"
            )
    return copies


def _files(
    lies: Inventory,
    media: Mapping[str, Row],
    lab: set[str],
    copies: Mapping[str, str],
    found: Findings,
    tell: Callable[[str, str, int, int], None],
    cache: Path | None,
) -> None:
    """Read every file of the vault, and compare what lies there with what should."""
    say = found.problems.append
    done = _Done(cache)
    found.gone_on = len(done.right)
    standing = set(copies.values())
    for number, (sha256, path) in enumerate(lies.files.items(), start=1):
        name = _name(sha256, media.get(sha256), lies)
        tell("reading", name, number, len(lies.files))
        found.files += 1
        with suppress(OSError):
            found.size += path.stat().st_size
        if sha256 not in done.right:
            if why := inventory.wrong(path):
                say(f"{name}: {why}")
            else:
                done.note(sha256)
        if sha256 not in media and sha256 not in lab and sha256 not in standing:
            say(f"{name}: lies in the vault and not in the record; `cowlnote recover` takes it in")
    found.problems += _notes(lies, media)
    for sha256, row in media.items():
        name = _name(sha256, row, lies)
        if sha256 not in lies.files and lies.files.get(copies.get(sha256, "")) is None:
            say(f"{name}: in the record and not in the vault")
        elif sha256 not in lies.files and lies.copies.get(sha256) != copies[sha256]:
            say(f"{name}: the copy that stands in for it is not named in the vault")
    for sha256, copy in lies.copies.items():
        if copies.get(sha256) != copy:
            say(f"{_name(sha256, media.get(sha256), lies)}: a copy stands in for it unsealed")
    found.problems += [f"vault: {line}" for line in lies.unreadable]
    found.problems += [f"{path}: is nothing that a vault holds" for path in lies.strangers]
    done.clear()


def _name(sha256: str, row: Row | None, lies: Inventory) -> str:
    """Give what a kept file is called, by the record, else by its note, with its hash begun."""
    name = row["original"] if row else (lies.notes.get(sha256) or {}).get("name")
    return f"{sha256[:12]} ({name})" if name else sha256[:12]


def _notes(lies: Inventory, media: Mapping[str, Row]) -> Iterator[str]:
    """Compare the notes, which are derived, with the record that they follow from."""
    for sha256 in lies.files.keys() | lies.notes.keys():
        name, note = _name(sha256, media.get(sha256), lies), lies.notes.get(sha256)
        if sha256 not in lies.files:
            yield f"{name}: the bytes are gone, only the note is left"
        elif note is None:
            yield f"{name}: the note of where it came from is missing or unreadable"
        elif (row := media.get(sha256)) is not None:
            right = {"sha256": sha256, "name": row["original"], "size": row["size"]}
            right |= {"kind": row["kind"], "modified": row["modified"]}
            if note != right:
                wrong = ", ".join(
                    sorted(k for k in note.keys() | right if note.get(k) != right.get(k))
                )
                yield f"{name}: its note is not what the record says ({wrong})"


class _Done:
    """Which files a check that was interrupted found right, kept beside the home's other caches."""

    def __init__(self, cache: Path | None) -> None:
        self._file = cache / "check.txt" if cache else None
        self.right: set[str] = set()
        with suppress(OSError, UnicodeDecodeError):
            if self._file and time.time() - self._file.stat().st_mtime < GOES_ON_S:
                self.right = set(self._file.read_text("ascii").split())

    def note(self, sha256: str) -> None:
        """Note a file that is right."""
        with suppress(OSError):
            if self._file:
                self._file.parent.mkdir(parents=True, exist_ok=True)
                with self._file.open("a", encoding="ascii") as out:
                    out.write(f"{sha256}\n")

    def clear(self) -> None:
        """Forget it all: the check came to its end."""
        with suppress(OSError):
            if self._file:
                self._file.unlink(missing_ok=True)


def head_of(text: str) -> tuple[tuple[int, str], Signed | None]:
    """Read a head: as it is printed, in full, or out of a file or an export that holds one.

    A signed one is proved by the key it names. Raises InputError where there is none,
    IntegrityError where a signature does not hold.
    """
    path, held = Path(text), text
    try:
        if path.is_dir():
            named = (path / "data" / HEAD_FILE, path / "bag-info.txt")
            path = next((one for one in named if one.is_file()), path)
        held = path.read_text("utf-8") if path.is_file() else text
    except (OSError, ValueError):
        held = text
    signed = keys.read(held)
    if signed is not None:
        return (signed.number, signed.hash), signed
    found = HEAD.search(held.partition("Record-Head:")[2]) or HEAD.search(held)
    if found is None:
        raise InputError("holds no head", text, "give it as it is printed, like 412-9f3a1c20d4e5")
    return (int(found["number"]), found["hash"]), None
