"""Rows as they lie in the database, as plain mappings, for whoever proves them."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from sqlmodel import Session, SQLModel, select

from record.seals import Row

AT_ONCE = 500
# What a damaged file raises: sqlite3 cannot even word every error, where names in it are no text.
DAMAGE = (sqlite3.Error, UnicodeDecodeError)
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

    def __init__(self, fill: Callable[[sqlite3.Connection], None], size: int, folder: Path) -> None:
        """Have a copy of a record of `size` bytes filled; `folder` is for that of a large one."""
        self.unreadable: list[str] = []
        where = folder / "copy.db" if size > SMALL else ":memory:"
        self.db = sqlite3.connect(where, isolation_level=None)
        fill(self.db)
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
            except DAMAGE as error:
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
            except DAMAGE:
                continue

    def _note(self, line: str) -> None:
        if line not in self.unreadable:
            self.unreadable.append(line)

    def close(self) -> None:
        """Let go of the copy."""
        self.db.close()
