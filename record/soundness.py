"""Is the database sound, beside what its rows say? Engine, tables, guards and search index."""

from __future__ import annotations

import re
import sqlite3
import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from sqlalchemy import text
from sqlmodel import Session

from record.reading import DAMAGE
from record.store import FILE, Store

SEARCHED = ("segment", "entry")
_SHADOW = re.compile(r"(segment|entry)_words_\w+")


def engine(db: sqlite3.Connection) -> Iterator[str]:
    """Ask SQLite whether its file is sound; give what it finds."""
    for pragma in ("integrity_check", "foreign_key_check"):
        try:
            rows = db.execute(f"PRAGMA {pragma}").fetchall()
        except DAMAGE as error:
            rows = [(f"{pragma}: cannot be done ({error})",)]
        for row in rows:
            if row[0] != "ok":
                what = row[0] if len(row) == 1 else f"{row[0]} {row[1]} points at nothing"
                yield f"database: {what}"


def index(db: sqlite3.Connection) -> Iterator[str]:
    """Hold the search index against the words it was made of; it needs leave to write a copy."""
    for table in SEARCHED:
        name = f"{table}_words"
        try:
            db.execute(f"INSERT INTO {name}({name}, rank) VALUES ('integrity-check', 1)")  # noqa: S608
        except DAMAGE as error:
            yield (
                f"search index of {table}: does not fit its words ({error}); "
                "`cowlnote recover` makes it anew"
            )


def guards(db: sqlite3.Connection) -> Iterator[str]:
    """Compare tables, guards and indexes with those that this program makes."""
    try:
        found, right = _things(db), _expected()
    except DAMAGE as error:
        yield f"guards and tables: cannot be read ({error})"
        return
    for key, made in right.items():
        kind, name = key
        word = "guard" if kind == "trigger" else kind
        if key not in found:
            yield f"{word} {name}: is missing from the database"
        elif found[key] != made and not _SHADOW.fullmatch(name):
            yield f"{word} {name}: is not as this program makes it"
    for kind, name in found.keys() - right.keys():
        yield f"{'guard' if kind == 'trigger' else kind} {name}: is not of this program"


def _things(db: sqlite3.Connection) -> dict[tuple[str, str], str]:
    rows = db.execute(
        "SELECT type, name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite!_%' ESCAPE '!'"
    )
    return {(str(kind), str(name)): " ".join(str(sql).split()) for kind, name, sql in rows}


@cache
def _expected() -> dict[tuple[str, str], str]:
    with tempfile.TemporaryDirectory() as folder:
        Store.open(Path(folder)).close()
        db = sqlite3.connect(Path(folder) / FILE)
        try:
            return _things(db)
        finally:
            db.close()


def guards_of_server(session: Session) -> Iterator[str]:
    """Compare the guards of a PostgreSQL record, by name, with those that this program makes."""
    query = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
    there = set(session.connection().execute(text(query)).scalars())
    for kind, name in _expected():
        ours = kind == "trigger" and re.search(r"_no_(update|delete|insert)$", name)
        if ours and name not in there:
            yield f"guard {name}: is missing from the database, or switched off"


def rebuild(session: Session) -> None:
    """Make the search index anew from its words; PostgreSQL keeps its own."""
    connection: Any = session.connection()
    if connection.dialect.name == "sqlite":
        for table in SEARCHED:
            name = f"{table}_words"
            connection.execute(text(f"INSERT INTO {name}({name}) VALUES ('rebuild')"))  # noqa: S608
