"""Open the record's database, bring it up to date, and hand out sessions, one a task."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, inspect, text
from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.pool import NullPool
from sqlmodel import Session

from capture import flushed
from record import journal
from record.errors import RefusedError, StoreError

HEAD = "0007"  # the newest step of record/migrations; a test compares the two
FILE = "record.db"
JOURNAL = "0007"  # the step that brought the journal: what was there before is sealed then
GET_BACK = "put back the last copy of it"
BUSY_S = 10  # how long to wait for another program that is writing


class Store:
    """The record's database: a SQLite file in a home, or a PostgreSQL database by its URL."""

    def __init__(self, engine: Engine, where: str, *, read_only: bool) -> None:
        self.engine, self.where, self.read_only = engine, where, read_only
        self.sealed_as_found = False  # by this opening: the record is older than the journal

    @classmethod
    def open(cls, home_or_url: Path | str, *, read_only: bool = False) -> Store:
        """Open the record, making it or bringing its tables up to date unless `read_only`.

        Raises StoreError: no record there (read only), no permission, locked, full, damaged, or
        written by a newer version of the program.
        """
        if "://" in str(home_or_url):
            url = str(home_or_url).replace("postgresql://", "postgresql+psycopg://", 1)
            store = cls(_postgres(url), _safe(url), read_only=read_only)
        else:
            path = Path(home_or_url) / FILE
            store = cls(_sqlite(path, read_only), str(path), read_only=read_only)
        try:
            with store._worded(), store.engine.connect() as connection:
                store._bring_up_to_date(connection)
        except UnicodeDecodeError as error:  # sqlite3 cannot word it: a name in the file is no text
            store.close()
            raise StoreError("the file is damaged", store.where, GET_BACK) from error
        except BaseException:
            store.close()
            raise
        return store

    def _bring_up_to_date(self, connection: Connection) -> None:
        if not self.read_only and connection.dialect.name == "sqlite":
            # Outside any transaction; it stays with the file.
            connection.connection.driver_connection.execute("PRAGMA journal_mode = WAL")  # type: ignore[union-attr]
        with connection.begin():
            if connection.dialect.name == "postgresql":  # two programs may start at once
                connection.execute(text("SELECT pg_advisory_xact_lock(41709)"))
            found = _revision(connection)
            if found == HEAD:
                return
            if self.read_only:
                raise StoreError(
                    "the record was written by another version of the program"
                    if found
                    else "there is no record here yet",
                    self.where,
                    "open it once for writing" if found else "take something in first",
                )
            _upgrade(connection, self.where)
            if found is not None and found < JOURNAL:
                with Session(connection, join_transaction_mode="rollback_only") as session:
                    journal.seal_found(session)
                self.sealed_as_found = True

    @contextmanager
    def session(self, *, write: bool = True) -> Iterator[Session]:
        """Give a session that is one transaction: kept at the end, undone on any error.

        All that it changes is sealed at its end (`record.journal`). With `write=False` it never
        waits for another writer. Raises StoreError, RefusedError.
        """
        options = {"cowlnote_write": write and not self.read_only}
        with (
            self._worded(),
            self.engine.connect().execution_options(**options) as connection,
            Session(connection, expire_on_commit=False) as session,
            session.begin(),
        ):
            journal.watch(session)
            yield session
            journal.seal(session)

    def backup(self, target: Path) -> None:
        """Write a copy of the SQLite record, whole at one moment, to a new file `target`."""
        if self.engine.dialect.name != "sqlite":
            raise StoreError(
                "a PostgreSQL record is backed up by its server", self.where, "use pg_dump"
            )
        copy = sqlite3.connect(target)
        try:
            self.copy_into(copy)
        finally:
            copy.close()

    def copy_into(self, copy: sqlite3.Connection) -> None:
        """Copy the SQLite record, whole at one moment, page by page into another database."""
        with self._worded(), self.engine.connect() as connection:
            source: Any = connection.connection.driver_connection
            source.backup(copy)

    def problems(self) -> list[str]:
        """Ask the engine whether its file is sound; give what it finds, nothing if all is well."""
        if self.engine.dialect.name != "sqlite":
            return []
        with self._worded(), self.engine.connect() as connection:
            found = connection.execute(text("PRAGMA integrity_check")).scalars().all()
            loose = connection.execute(text("PRAGMA foreign_key_check")).all()
        return [f for f in found if f != "ok"] + [f"{r[0]} {r[1]} points at nothing" for r in loose]

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    @contextmanager
    def _worded(self) -> Iterator[None]:
        try:
            yield
        except DBAPIError as error:
            raise _in_words(error, self.where) from error
        except sqlite3.Error as error:
            raise StoreError(str(error), self.where) from error
        except OverflowError as error:  # a number beyond 2^63 that was asked for
            if "SQLite INTEGER" not in str(error):
                raise
            raise RefusedError(
                "the record has nothing of so large a number", todo="look at its lists"
            ) from error


def _sqlite(path: Path, read_only: bool) -> Engine:
    if read_only:
        if not path.is_file():
            raise StoreError("there is no record here yet", path, "take something in first")
        # Without leave to write, WAL cannot make its side files; the file is read as it lies.
        wal = path.with_name(f"{FILE}-wal")
        lone = not os.access(path.parent, os.W_OK) and not (wal.exists() and wal.stat().st_size)
        mode = "mode=ro&immutable=1" if lone else "mode=ro"
    else:
        try:
            flushed.folder(path.parent)
        except OSError as error:
            raise StoreError(
                f"the folder cannot be made ({error.strerror})", path.parent, "choose another home"
            ) from error
        mode = "mode=rwc"
    uri = f"file:{_quoted(path)}?{mode}"

    def connect() -> sqlite3.Connection:
        # No isolation level: `begin` below starts every transaction, DDL included.
        made = sqlite3.connect(
            uri, uri=True, timeout=BUSY_S, isolation_level=None, check_same_thread=False
        )
        made.execute("PRAGMA foreign_keys = ON")
        # The log is flushed before a commit returns, so what was said to be done outlives a power
        # cut. NORMAL would flush at a checkpoint only, and lose the last commits (sqlite.org,
        # pragma synchronous); EXTRA adds nothing to a log that is kept (WAL).
        made.execute("PRAGMA synchronous = FULL")
        return made

    engine = create_engine("sqlite://", creator=connect, poolclass=NullPool)

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        write = connection.get_execution_options().get("cowlnote_write", not read_only)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")

    return engine


def _postgres(url: str) -> Engine:
    try:
        return create_engine(url, pool_pre_ping=True)
    except ModuleNotFoundError as error:
        raise StoreError(
            "PostgreSQL needs a driver that is not installed", todo="install cowlnote[postgres]"
        ) from error
    except SQLAlchemyError as error:
        raise StoreError("this is not the URL of a database", _safe(url)) from error


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    found: str | None = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return found


def _upgrade(connection: Connection, where: str) -> None:
    # Imported here, since it is needed once in the life of a database.
    from alembic import command
    from alembic.config import Config
    from alembic.util import CommandError

    config = Config()
    config.set_main_option("script_location", "record:migrations")
    config.attributes["connection"] = connection
    try:
        command.upgrade(config, "head")
    except CommandError as error:
        raise StoreError(
            "the record was written by a newer version of the program",
            where,
            "install that version",
        ) from error


def _in_words(error: DBAPIError, where: str) -> StoreError | RefusedError:
    said = " ".join(str(error.orig).split())
    if "refused: " in said:
        return RefusedError(said.split("refused: ", 1)[1].split(" CONTEXT:")[0])
    for sign, what, todo in (
        ("is locked", "another program is writing to the record", "try again when it has finished"),
        ("is full", "the disk is full", "make room; nothing was lost"),
        ("readonly", "the record cannot be written here", "check who may write to the folder"),
        (
            "unable to open",
            "the record cannot be opened",
            "check who may read and write the folder",
        ),
        ("not a database", "the file is not a record", GET_BACK),
        ("malformed", "the file is damaged", GET_BACK),
        ("disk I/O", "the disk cannot be read or written", "check the disk"),
        ("out of range", "the record has nothing of so large a number", "look at its lists"),
        ("connection", "the server cannot be reached", "check the URL and that it is running"),
    ):
        if sign in said:
            return StoreError(what, where, todo)
    return StoreError(f"the database says: {said}", where)


def _quoted(path: Path) -> str:
    from urllib.parse import quote

    return quote(str(path.absolute()))


def _safe(url: str) -> str:
    """Give a URL without its password."""
    from sqlalchemy.engine import make_url

    try:
        return make_url(url).render_as_string(hide_password=True)
    except SQLAlchemyError:
        return "the URL"
