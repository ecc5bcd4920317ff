"""Rows as they lie in the database, as plain mappings, for whoever proves them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlmodel import Session, SQLModel, select

from record.seals import Row

AT_ONCE = 500
SMALL = 256 * 2**20  # bytes of a record that is copied into memory; a larger one goes to the disk
FURTHER = 1000  # numbers tried one by one behind a row that cannot be read


class SessionRows:
    """The rows of the record that a session sees, with what it has changed so far."""

    def __init__(self, session: Session) -> None:
        session.flush()
        self._session = session

    def rows(self, table: str) -> Iterator[Row]:
        """Give the rows of a table in the order of their numbers."""
        columns = SQLModel.metadata.tables[table].columns
        query = select(*columns).order_by(columns["id"])
        found = self._session.connection().execute(query)
        for row in found.mappings().yield_per(AT_ONCE):
            yield dict(row)


class Snapshot:
    """A copy of a SQLite record, whole at one moment, read without trusting it.

    A row or page that cannot be read is noted in `unreadable`, and what follows it is read. Text
    that is no text comes with surrogates in place of its bytes.
    """

    def __init__(self, path: Path, folder: Path) -> None:
        """Copy the record at `path`; `folder` is for the copy of a large one."""
        self.unreadable: list[str] = []
        large = path.stat().st_size > SMALL
        self.db = sqlite3.connect(folder / "copy.db" if large else ":memory:", isolation_level=None)
        source = sqlite3.connect(f"file:{quote(str(path.absolute()))}?mode=ro", uri=True)
        with closing(source):
            source.backup(self.db)
        self.db.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")

    def rows(self, table: str) -> Iterator[Row]:
        """Give the rows of a table in the order of their numbers; those that can be read."""
        names = list(SQLModel.metadata.tables[table].columns.keys())
        listed = ", ".join(f'"{name}"' for name in names)
        select = f"SELECT {listed} FROM {table} WHERE rowid"  # noqa: S608
        after: int | None = -(2**63)
        while after is not None:
            try:
                for values in self.db.execute(f"{select} > ? ORDER BY rowid", (after,)):
                    row = dict(zip(names, values, strict=True))
                    after = row["id"]
                    yield row
                return
            except sqlite3.Error as error:
                first = max(after, 0) + 1
                self._note(f"{table}: what follows row {first - 1} cannot be read ({error})")
                singly = list(self._singly(f"{select} = ?", first))
                yield from (dict(zip(names, values, strict=True)) for values in singly)
                after = first + FURTHER - 1 if singly else None  # always on, or the end

    def _singly(self, query: str, first: int) -> Iterator[tuple[Any, ...]]:
        """Give the rows of some numbers that can be read one by one, where they cannot in a row."""
        for number in range(first, first + FURTHER):
            try:
                yield from self.db.execute(query, (number,)).fetchall()
            except sqlite3.Error:
                continue

    def _note(self, line: str) -> None:
        if line not in self.unreadable:
            self.unreadable.append(line)

    def close(self) -> None:
        """Let go of the copy."""
        self.db.close()
