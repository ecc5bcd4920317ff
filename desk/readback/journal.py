"""What was read back to whom, kept in the home: one file a phone, one JSON line each, added to.

It is evidence beside a draft and no confirmation. After each run of the intake what is new in it is
noted in the record (`record.readback`), which is believed before the file; what cannot be written
is still told.
"""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from desk.readback.wording import Line
from record import readback
from record.store import Store

FOLDER = "readback"
_NAME = re.compile(r"[0-9a-z-]{1,64}")


@dataclass(frozen=True, slots=True)
class Item:
    """One read-back: its number `n`, its kind, of which memo (the phone's key), in which job.

    `kind` is understood, asked, nothing, photo, changed or stopped; `said_at` is when the words
    began, None where that is not known.
    """

    n: int
    kind: str
    memo: str
    job: int | None
    said_at: datetime | None
    told_at: datetime
    lines: tuple[Line, ...]

    @property
    def say(self) -> str:
        """Give all of it as it is spoken."""
        return " ".join(line.say for line in self.lines if line.say)

    def to_json(self) -> dict[str, Any]:
        """Give it as the phone is told it."""
        return {
            "id": f"t{self.n}",
            "n": self.n,
            "kind": self.kind,
            "memo": self.memo,
            "said_at": f"{self.said_at:%H:%M}" if self.said_at else "",
            "told_at": f"{self.told_at:%H:%M}",
            "lines": [line.to_json() for line in self.lines],
            "say": self.say,
        }


@dataclass(frozen=True, slots=True)
class Sent:
    """A file that a phone sent and that is safe: the phone's key for it, its name, its hash."""

    key: str
    name: str
    sha256: str
    size: int


@dataclass
class Journal:
    """All that one phone was told, and which files it sent. `file` None keeps nothing."""

    file: Path | None
    items: list[Item] = field(default_factory=list)
    sent: dict[str, Sent] = field(default_factory=dict)
    _noted: set[str] = field(default_factory=set)  # files sent, by hash
    _noted_to: int = 0  # the newest item that the record has
    _lock: threading.RLock = field(default_factory=threading.RLock)

    @classmethod
    def of(cls, home: Path, phone: str, noted: Iterable[Mapping[str, Any]] = ()) -> Journal:
        """Open the journal of a phone by the name that the desk gave it.

        `noted` is what the record has of it, which is believed before the file.
        """
        if not _NAME.fullmatch(phone):
            raise ValueError("not the name of a phone")
        made = cls(home / FOLDER / f"{phone}.jsonl")
        made._load(noted)
        made._noted, made._noted_to = set(made.sent), made.at
        made._load(_lines(made.file))
        return made

    def _load(self, lines: Iterable[Mapping[str, Any]]) -> None:
        known = self.at
        for raw in lines:
            with suppress(KeyError, TypeError, ValueError):  # a line that a kill cut off
                if "sha256" in raw:
                    sent = Sent(
                        str(raw["key"]), str(raw["name"]), str(raw["sha256"]), int(raw["size"])
                    )
                    self.sent.setdefault(sent.sha256, sent)
                elif (item := _item(raw)).n > known:
                    self.items.append(item)

    @property
    def phone(self) -> str:
        """Give the name of the phone; empty where nothing is kept."""
        return self.file.stem if self.file else ""

    def is_noted(self, item: Item) -> bool:
        """Tell whether the record has an item."""
        return item.n <= self._noted_to

    def unnoted(self) -> list[dict[str, Any]]:
        """Give what the record does not have yet, oldest first, JSON-ready."""
        with self._lock:
            sent = [asdict(one) for one in self.sent.values() if one.sha256 not in self._noted]
            return [*sent, *(_raw(item) for item in self.items if item.n > self._noted_to)]

    def now_noted(self, lines: Iterable[Mapping[str, Any]]) -> None:
        """Say that the record has these lines of `unnoted`."""
        with self._lock:
            for line in lines:
                if "sha256" in line:
                    self._noted.add(line["sha256"])
                else:
                    self._noted_to = max(self._noted_to, line["n"])

    @property
    def at(self) -> int:
        """Give the number of the newest item."""
        return self.items[-1].n if self.items else 0

    def since(self, n: int) -> list[Item]:
        """Give the items after number `n`, oldest first."""
        with self._lock:
            return [item for item in self.items if item.n > n]

    def add(
        self,
        kind: str,
        memo: str,
        job: int | None,
        said_at: datetime | None,
        told_at: datetime,
        lines: Iterable[Line],
    ) -> Item:
        """Note that something was read back."""
        with self._lock:
            item = Item(self.at + 1, kind, memo, job, said_at, told_at, tuple(lines))
            self.items.append(item)
            self._write(_raw(item))
        return item

    def keep(self, sent: Sent) -> None:
        """Note that a file is safe."""
        with self._lock:
            if sent.sha256 not in self.sent:
                self.sent[sent.sha256] = sent
                self._write(asdict(sent))

    def by_key(self, key: str) -> Sent | None:
        """Give the file that the phone knows by a key, once it is safe."""
        with self._lock:
            return next((one for one in self.sent.values() if one.key == key), None)

    def _write(self, raw: Mapping[str, Any]) -> None:
        if self.file is None:
            return
        with suppress(OSError):
            self.file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            with self.file.open("a", encoding="utf-8") as out:
                # the line break goes first: the last line may be one that a kill cut off
                out.write("\n" + json.dumps(raw, ensure_ascii=False))


def _lines(file: Path | None) -> list[dict[str, Any]]:
    found = []
    if file is not None:
        with suppress(OSError):
            for line in file.read_text(encoding="utf-8", errors="replace").splitlines():
                with suppress(ValueError):
                    raw = json.loads(line)
                    if isinstance(raw, dict):
                        found.append(raw)
    return found


def _raw(item: Item) -> dict[str, Any]:
    return {
        "n": item.n,
        "kind": item.kind,
        "memo": item.memo,
        "job": item.job,
        "said_at": item.said_at.isoformat() if item.said_at else None,
        "told_at": item.told_at.isoformat(),
        "lines": [asdict(line) for line in item.lines],
    }


def _item(raw: Mapping[str, Any]) -> Item:
    said, job = raw["said_at"], raw["job"]
    return Item(
        int(raw["n"]),
        str(raw["kind"]),
        str(raw["memo"]),
        None if job is None else int(job),
        datetime.fromisoformat(said) if said else None,
        datetime.fromisoformat(raw["told_at"]),
        tuple(_line(line) for line in raw["lines"]),
    )


def _line(raw: Mapping[str, Any]) -> Line:
    """Give a line as it was noted; it may come from an import, whose words are another's."""
    field_, place, value, text, say = (
        str(raw[key]) for key in ("field", "place", "value", "text", "say")
    )
    why = tuple(map(str, raw["why"]))
    return Line(field_, place, value, text, say, raw["doubt"] is True, str(raw["was"]), why)


def note_all(store: Store, home: Path) -> None:
    """Note in the record what a desk that was cut off had told and not noted."""
    with store.session(write=False) as session:
        journals = every(home, readback.noted(session))
    if any(one.unnoted() for one in journals):
        with store.session() as session:
            for one in journals:
                readback.note(session, one.phone, one.unnoted())


def every(home: Path, noted: Mapping[str, Sequence[Mapping[str, Any]]]) -> list[Journal]:
    """Give the journals of all phones of a home: what the record has (`noted`), and the files."""
    files: list[Path] = []
    with suppress(OSError):
        files = sorted((home / FOLDER).glob("*.jsonl"))
    phones = dict.fromkeys([*noted, *(file.stem for file in files)])
    return [
        Journal.of(home, phone, noted.get(phone, ())) for phone in phones if _NAME.fullmatch(phone)
    ]
