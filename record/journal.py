"""The journal: one link for each change of the record, with the seal of every row it touched.

A session that is `watch`ed notes which rows of jobs, media, transcripts, segments and drafts are
made, changed or taken away, and what happened by that (a file taken in, heard, moved, set aside, a
job closed). `seal` then adds one event with all of it and with the ends of the chains of decisions
and of laboratory reports: so the last hash of the journal, the head, stands for everything.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from sqlalchemy import event, inspect, text
from sqlmodel import Session, SQLModel, col, select

from record import chain, heads
from record.acts import told
from record.proof import FOUND, Broken, Proof
from record.reading import AT_ONCE, SessionRows
from record.seals import link_seal, row_seal, unit_seal
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
from record.values import dump, now

STANDS_IN = "stands in for"  # a copy without position, for an original that is elsewhere
# The rows that are sealed here, each by its unit: what a row is known by in the journal.
UNITS: dict[type[SQLModel], str] = {
    JobRow: "id",
    MediaRow: "id",
    TranscriptRow: "media_id",
    SegmentRow: "media_id",
    DraftRow: "id",
}
LINKED = (DecisionRow, EntryRow, ArrangementRow, LabReportRow)
# What the change of a column means: table, column, and the words for its first and a later value.
MEANS = (
    (MediaRow, "job_id", "placed", "moved"),
    (MediaRow, "aside", "set aside", "set aside"),
    (MediaRow, "began", "dated", "dated"),
    (MediaRow, "state", "", ""),
    (JobRow, "closed_at", "closed", "closed"),
    (JobRow, "aside", "set aside", "set aside"),
    (JobRow, "kind", "kind", "kind"),
    (JobRow, "aircraft", "aircraft", "aircraft"),
)
FACTS = {  # what an act says of its row, beside the seal of all its columns
    "taken in": ("sha256", "name", "original", "size", "kind", "began"),
    "opened": ("kind", "aircraft"),
    "placed": ("job_id",),
    "moved": ("job_id",),
    "dated": ("began",),
    "closed": ("closed_at", "closed_by"),
    "kind": ("kind", "offered"),
    "aircraft": ("aircraft",),
    "failed": ("reason",),
}


def watch(session: Session) -> None:
    """Note from now on what a session makes, changes and takes away."""
    session.info["touched"], session.info["acts"] = {}, []
    event.listen(session, "before_flush", _look)


def pause(session: Session) -> None:
    """Note nothing more: what is put in now was sealed elsewhere."""
    event.remove(session, "before_flush", _look)
    session.info["touched"], session.info["acts"] = {}, []


def note(session: Session, act: str, **facts: Any) -> None:
    """Have the event of this session say something that no row tells."""
    session.info.setdefault("acts", []).append({"act": act, **facts})


def _look(session: Session, *_: Any) -> None:
    touched = session.info["touched"]
    for row in (*session.new, *session.dirty, *session.deleted):
        if isinstance(row, SQLModel) and isinstance(row, (*UNITS, *LINKED)):
            _, acts = touched.setdefault(id(row), (row, []))
            acts += [act for act in _acts(session, row) if act not in acts]


def _acts(session: Session, row: SQLModel) -> list[str]:
    """Say what happens to a row by this flush."""
    made = row in session.new
    if isinstance(row, TranscriptRow):
        return ["heard" if row.kind == "memo" else "read"]
    if isinstance(row, MediaRow | JobRow) and made:
        return ["taken in" if isinstance(row, MediaRow) else "opened"]
    found = []
    for table, column, first, later in MEANS:
        if isinstance(row, table):
            history = inspect(row).attrs[column].history
            if history.has_changes():
                old = next(iter(history.deleted), None)
                found.append(first if old is None else later)
    if isinstance(row, MediaRow) and row.state == "failed":
        found.append("failed")
    return [act for act in found if act]


def seal(session: Session) -> EventRow | None:
    """Add the event of all that this session did since it was watched, or since the last one.

    None where it did nothing.
    """
    session.flush()
    touched, acts = session.info.get("touched"), session.info.get("acts")
    if not touched and not acts:
        return None
    session.info["touched"], session.info["acts"] = {}, []
    units: dict[type[SQLModel], list[int]] = {table: [] for table in UNITS}
    done = list(acts or [])
    for row, does in (touched or {}).values():
        if type(row) in UNITS:
            units[type(row)].append(getattr(row, UNITS[type(row)]))
            done += [_told(row, act) for act in does]
    units[SegmentRow] += units[TranscriptRow]  # what is heard anew may leave no stretch of speech
    if units[DraftRow]:
        done.append({"act": "drafted", "drafts": len(set(units[DraftRow]))})
    done += _linked(session)
    seals = {
        unit: made for table, ids in units.items() for unit, made in sealed(session, table, ids)
    }
    return _add(session, done, seals)


def _told(row: SQLModel, act: str) -> dict[str, Any]:
    key = UNITS[type(row)]
    about = "job" if isinstance(row, JobRow) else "media"
    facts = {"job" if k == "job_id" else k: getattr(row, k) for k in FACTS.get(act, ())}
    if act == "set aside" and not getattr(row, "aside", True):
        act = "taken back"
    return {"act": act, about: getattr(row, key), **facts}


def _linked(session: Session) -> list[dict[str, Any]]:
    """Say which links of the two other chains are new since the last event."""
    last = _last(session)
    made = []
    for act, before, (links, _) in (
        ("decided", last.links if last else 0, chain.head(session)),
        ("laboratory report", last.reports if last else 0, heads.end(session, LabReportRow)),
    ):
        if links > before:
            made.append({"act": act, "links": [before + 1, links]})
    return made


def _last(session: Session) -> EventRow | None:
    return session.exec(select(EventRow).order_by(col(EventRow.id).desc()).limit(1)).first()


def _add(session: Session, acts: list[dict[str, Any]], seals: dict[str, str | None]) -> EventRow:
    if session.get_bind().dialect.name == "postgresql":  # SQLite has one writer at a time anyway
        session.connection().execute(text("SELECT pg_advisory_xact_lock(41711)"))
    number, prev = head(session)
    links, hash_ = chain.head(session)
    reports, report_hash = heads.end(session, LabReportRow)
    row = EventRow(
        id=number + 1,
        what=", ".join(dict.fromkeys(act["act"] for act in acts)) or "changed",
        acts=dump(acts),
        seals=dump(seals),
        links=links,
        link_hash=hash_,
        reports=reports,
        report_hash=report_hash,
        at=now(),
        prev=prev,
        hash="",
    )
    row.hash = link_seal("event", row.model_dump())
    session.add(row)
    session.flush()
    return row


def copies(session: Session) -> dict[str, str]:
    """Give the copies without position that stand in for originals, by the originals' hashes."""
    rows = select(EventRow.acts).where(EventRow.what == STANDS_IN).order_by(col(EventRow.id))
    found = (act for acts in session.exec(rows) for act in told(acts, STANDS_IN))
    return {act["sha256"]: act["copy"] for act in found}


def head(session: Session) -> tuple[int, str]:
    """Give the number of the last event and its hash: it stands for the whole record."""
    return heads.of_record(session)


def sealed(
    session: Session, table: type[SQLModel], ids: Iterable[int]
) -> Iterator[tuple[str, str | None]]:
    """Give the unit and the seal of rows as they lie in the database; None for one not there."""
    key, name = UNITS[table], str(table.__tablename__)
    columns = table.__table__.columns  # type: ignore[attr-defined]
    wanted = sorted(set(ids))
    for start in range(0, len(wanted), AT_ONCE):
        some = wanted[start : start + AT_ONCE]
        query = select(*columns).where(columns[key].in_(some)).order_by(columns["id"])
        found: dict[int, list[str]] = {}
        for row in session.connection().execute(query).mappings():
            found.setdefault(row[key], []).append(row_seal(name, dict(row)))
        for number in some:
            yield f"{name}:{number}", unit_seal(found.get(number, []))


def prove(session: Session) -> Broken | None:
    """Walk the journal and hold every row against it; give the first break, or None."""
    seal(session)
    return next(Proof(SessionRows(session)).all(), None)


def seal_found(session: Session) -> None:
    """Seal everything that is there, as it is found: for a record that had no journal before."""
    acts = [{"act": FOUND, "on": now()[:10]}]
    for table, key in UNITS.items():
        column = getattr(table, key)
        ids = list(session.exec(select(column).distinct().order_by(column)))
        for start in range(0, len(ids), AT_ONCE):
            _add(session, acts, dict(sealed(session, table, ids[start : start + AT_ONCE])))
            acts = [{"act": FOUND}]
    if chain.head(session)[0] + heads.end(session, LabReportRow)[0] and head(session)[0] == 0:
        _add(session, acts, {})
