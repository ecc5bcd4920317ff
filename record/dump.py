"""The whole record as plain rows, and back: every column of every table, nothing rounded or lost.

The rows are the published form of the record (`docs/record.schema.json`). Text stays the text that
was sealed, so that the chain can be proved from the rows alone.
"""

from __future__ import annotations

import json
from importlib import resources
from typing import Any

from sqlalchemy import text
from sqlmodel import Session, SQLModel, select

from capture.errors import InputError
from extract.values.catalogue import Catalogue
from record import chain, journal, lab, strict
from record.errors import IntegrityError, RefusedError
from record.store import HEAD
from record.tables import (
    ArrangementRow,
    DecisionRow,
    DraftRow,
    EntryRow,
    EventRow,
    JobRow,
    LabReportRow,
    MediaRow,
    SegmentRow,
    TranscriptRow,
)

FORMAT, VERSION = "cowlnote record", 1
# In an order in which what a row points at is there before it.
TABLES: tuple[type[SQLModel], ...] = (
    JobRow,
    MediaRow,
    TranscriptRow,
    SegmentRow,
    DraftRow,
    DecisionRow,
    EntryRow,
    ArrangementRow,
    LabReportRow,
    EventRow,
)


def schema() -> dict[str, Any]:
    """Give the published JSON Schema of a dump."""
    found = resources.files("record").joinpath("data", "record.schema.json").read_text("utf-8")
    made: dict[str, Any] = json.loads(found)
    return made


def dump(session: Session) -> dict[str, Any]:
    """Give the record JSON-ready: its form and version, the heads of its chains, all rows.

    What the session has changed is sealed first.
    """
    journal.seal(session)
    heads = _heads(session)
    return {
        "format": FORMAT,
        "version": VERSION,
        "revision": HEAD,
        **heads,
        "tables": {name_of(table): _rows(session, table) for table in TABLES},
    }


def _heads(session: Session) -> dict[str, dict[str, Any]]:
    ends = {
        "chain": chain.head(session),
        "lab_chain": lab.head(session),
        "journal": journal.head(session),
    }
    return {name: {"links": links, "head": seal} for name, (links, seal) in ends.items()}


def name_of(table: type[SQLModel]) -> str:
    """Give a table's name."""
    return str(table.__tablename__)


def _rows(session: Session, table: type[SQLModel]) -> list[dict[str, Any]]:
    key = table.__table__.primary_key.columns.values()[0]  # type: ignore[attr-defined]
    return [row.model_dump() for row in session.exec(select(table).order_by(key))]


def fill(session: Session, document: dict[str, Any]) -> None:
    """Put the rows of a dump into a record that holds nothing, in the session's one transaction.

    Jobs are closed last, as they were. Raises `RefusedError` where the record holds something
    already, `IntegrityError` where the chains of what was put in do not hold or end elsewhere than
    the dump says. What `need_readable` refuses is not let in. A dump from before there was a
    journal is sealed as it is found.
    """
    if _is_there(session, document):
        raise RefusedError("this very record is here already", todo="there is nothing to take in")
    need_empty(session)
    journal.pause(session)
    closed = []
    for table in TABLES:
        rows = document["tables"].get(name_of(table), [])
        if table is JobRow:
            closed = [(r["id"], r["closed_at"], r["closed_by"]) for r in rows if r["closed_at"]]
            rows = [{**r, "closed_at": None, "closed_by": None} for r in rows]
        session.add_all([table(**row) for row in rows])
        session.flush()
    for number, at, by in closed:
        job = session.get_one(JobRow, number)
        job.closed_at, job.closed_by = at, by
        session.add(job)
    session.flush()
    _count_on(session)
    broken = chain.prove(session) or lab.prove(session)
    if broken is None and (document["tables"].get("event") or "journal" in document):
        broken = journal.prove(session)
    if broken:
        raise IntegrityError(f"the chain of what was to be imported breaks at {broken}")
    for key, found in _heads(session).items():
        if found != document.get(key, found):
            raise IntegrityError(
                f"the {key.replace('_', ' ')} ends at link {found['links']}, and should at link "
                f"{document[key]['links']}",
                todo="export it again; nothing was taken in",
            )
    if journal.head(session)[0] == 0:  # an export from before there was a journal
        journal.seal_found(session)


def need_readable(document: dict[str, Any], catalogue: Catalogue | None = None) -> None:
    """Refuse a dump that a later command could not read. `catalogue` has the owner's own fields.

    Raises `InputError` for a newer revision, or a row that no program of ours writes.
    """
    revision = document["revision"]
    if len(revision) != len(HEAD) or not "0001" <= revision <= HEAD:
        raise InputError(
            f"the record is of revision {revision[:20]!r}, and this program knows up to {HEAD}",
            todo="install the newer version of the program",
        )
    found = strict.fault(document, TABLES, catalogue)
    if found is not None:
        raise InputError(
            f"the record holds what it cannot: {found}", todo="export it again; nothing was taken"
        )


def _is_there(session: Session, document: dict[str, Any]) -> bool:
    """Tell whether the record is this one already, as after an import that was ended late."""
    head = {"links": chain.head(session)[0], "head": chain.head(session)[1]}
    if head != document["chain"] or not head["links"]:
        return False
    mine, tables = dump(session)["tables"], document["tables"]
    mine["event"] = mine["event"][: len(tables.get("event", []))]  # taking it in added to them
    return all(rows == tables.get(name, []) for name, rows in mine.items())


def need_empty(session: Session) -> None:
    """Refuse where the record holds something. Raises `RefusedError`."""
    if any(session.exec(select(table).limit(1)).first() for table in TABLES):
        raise RefusedError("there is a record here already", todo="import into an empty home")


def _count_on(session: Session) -> None:
    """Let PostgreSQL number new rows after those put in with their own numbers."""
    if session.get_bind().dialect.name != "postgresql":
        return
    for table in (JobRow, MediaRow, TranscriptRow, SegmentRow, DraftRow):
        name = name_of(table)
        session.connection().execute(
            text(
                f"SELECT setval(pg_get_serial_sequence('{name}', 'id'), "  # noqa: S608
                f"GREATEST((SELECT MAX(id) FROM {name}), 1))"
            )
        )
