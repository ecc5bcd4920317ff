"""The chain of the record: each decision, entry and arrangement carries the hash of the one before.

They share one numbering, so a row taken out leaves a gap and a row changed breaks its hash. Rows
cut off the end leave no gap, but the drafts, jobs and media that they decided then do not follow
from them any more. Keep `head` elsewhere too (an export does).
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from sqlalchemy import text
from sqlmodel import Session, SQLModel, col, select

from record.errors import RefusedError
from record.tables import ArrangementRow, DecisionRow, DraftRow, EntryRow, JobRow, MediaRow
from record.values import dump, now

START = "0" * 64
STATES = {  # of a draft, by the last decision on it
    "confirm": "confirmed",
    "add": "confirmed",
    "amend": "amended",
    "reject": "rejected",
    "undo": "waiting",
    "late": "confirmed",
    "retract": "retracted",
}
ASIDE = "aside"  # of a draft that waited when what it was read from was moved or set aside
LINKS = (DecisionRow, EntryRow, ArrangementRow)
# decisions that make an entry: `reopen`, `defer`, `clear` of a defect, `attach` of a signed page
ENTERS = (
    *("confirm", "add", "amend", "late", "correct", "withdraw"),
    *("reopen", "defer", "clear", "attach"),
)
UNDOES = ("undo", "retract")  # decisions that take one back, as if it had never been
# Columns that came after the first links were sealed: left out of the seal where they are null.
CAME_LATER = ("said", "shown", "although")
Link = DecisionRow | EntryRow | ArrangementRow
Row = TypeVar("Row", DecisionRow, EntryRow, ArrangementRow)


@dataclass(frozen=True, slots=True)
class Broken:
    """The first link that does not hold: its place in the chain, what it is, what is wrong."""

    place: int
    what: str
    why: str

    def __str__(self) -> str:
        """Give one line."""
        return f"{self.what} {self.place}: {self.why}"


def person(by: str | None) -> str:
    """Give a person's name, tidied. Raises RefusedError where there is none."""
    name = " ".join((by or "").split())
    if not any(c.isalpha() for c in name):
        raise RefusedError("a decision needs the name of the person who makes it", todo="say who")
    return name


def reason(because: str | None) -> str:
    """Give a reason, tidied. Raises RefusedError where there is none."""
    said = " ".join((because or "").split())
    if not said:
        raise RefusedError("this needs a reason", todo="say why")
    return said


def decide(
    session: Session,
    job: int,
    action: str,
    by: str,
    *,
    because: str = "",
    draft: DraftRow | None = None,
    doubts: tuple[str, ...] = (),
    shown: str | None = None,
    although: str = "",
) -> DecisionRow:
    """Add a decision to the record. `doubts` are those that stood when it was made.

    `shown` is what the person had before their eyes, as JSON; `although` why a doubtful value was
    given all the same.
    """
    row = DecisionRow(
        **_next(session),
        job_id=job,
        draft_id=draft.id if draft else None,
        action=action,
        by=person(by),
        at=now(),
        because=because,
        doubts=dump(doubts),
        draft=_frozen(draft) if draft else None,
        shown=shown,
        although=although or None,
    )
    return _link(session, row)


def enter(session: Session, **values: Any) -> EntryRow:
    """Add an entry to the record; `values` are its columns but for place and hashes."""
    return _link(session, EntryRow(**_next(session), **values))


def arrange(
    session: Session,
    job: int,
    action: str,
    by: str,
    *,
    was: str,
    becomes: str,
    because: str = "",
    media: int | None = None,
) -> ArrangementRow:
    """Add to the record what a person did to a job, or to a memo or photo of it."""
    row = ArrangementRow(
        **_next(session),
        job_id=job,
        media_id=media,
        action=action,
        was=was,
        becomes=becomes,
        by=person(by),
        at=now(),
        because=" ".join(because.split()),
    )
    return _link(session, row)


def head(session: Session) -> tuple[int, str]:
    """Give the last place of the chain and its hash; (0, sixty-four zeros) when it is empty."""
    rows = (
        session.exec(select(t.id, t.hash).order_by(col(t.id).desc()).limit(1)).first()
        for t in LINKS
    )
    return max(((r[0], r[1]) for r in rows if r), default=(0, START))


def _next(session: Session) -> dict[str, Any]:
    if session.get_bind().dialect.name == "postgresql":  # SQLite has one writer at a time anyway
        session.connection().execute(text("SELECT pg_advisory_xact_lock(41710)"))
    last, seal = head(session)
    return {"id": last + 1, "prev": seal, "hash": ""}


def _link(session: Session, row: Row) -> Row:
    row.hash = sealed(row)
    session.add(row)
    session.flush()
    return row


def sealed(row: Link) -> str:
    """Give the SHA-256 of a row: its table and all its columns but the hash, as canonical JSON.

    The columns that came later (`CAME_LATER`) are left out where they have no value.
    """
    content = {"table": row.__tablename__, **_columns(row, "hash")}
    return hashlib.sha256(dump(content).encode()).hexdigest()


def prove(session: Session) -> Broken | None:
    """Walk the whole chain; give the first break, or None where every link holds.

    What lies beside the chain must follow from it too: decided drafts, closed jobs, and what was
    moved or set aside.
    """
    rows: list[Link] = [
        *session.exec(select(DecisionRow)).all(),
        *session.exec(select(EntryRow)).all(),
        *session.exec(select(ArrangementRow)).all(),
    ]
    seal = START
    rows.sort(key=lambda row: row.id)
    for place, row in enumerate(rows, start=1):
        what = str(row.__tablename__)
        if row.id != place:
            return Broken(place, "link", "is missing" if row.id > place else "is there twice")
        if row.prev != seal:
            return Broken(place, what, "does not follow the one before it")
        if row.hash != sealed(row):
            return Broken(place, what, "is not what was written")
        seal = row.hash
    return _followed(session, rows) or _arranged(session, rows)


def _followed(session: Session, rows: Sequence[Link]) -> Broken | None:
    """Compare what follows from the decisions with what lies beside them: entries, drafts, jobs."""
    decisions = [row for row in rows if isinstance(row, DecisionRow)]
    entered = {row.decision_id for row in rows if isinstance(row, EntryRow)}
    for row in decisions:
        if row.action in ENTERS and row.id not in entered:
            return Broken(row.id, "decision", "has lost its entry")
    last = {row.draft_id: row for row in decisions}
    for draft in session.exec(select(DraftRow).order_by(col(DraftRow.id))):
        decided = last.get(draft.id)
        state = STATES[decided.action] if decided else "waiting"
        if draft.state != state and (draft.state, state) != (ASIDE, "waiting"):
            by = f"{decided.action} by {decided.by}" if decided else "no decision"
            return Broken(draft.id or 0, "draft", f"is {draft.state}, but there is {by}")
        if decided and state != "waiting" and decided.draft != _frozen(draft):
            return Broken(draft.id or 0, "draft", "is not what was decided")
    closed = {row.job_id: row.by for row in decisions if row.action == "close"}
    for job in session.exec(select(JobRow).order_by(col(JobRow.id))):
        if job.closed_by != closed.get(job.id or 0):
            return Broken(job.id or 0, "job", "is not open or closed as was decided")
    return None


def _arranged(session: Session, rows: Sequence[Link]) -> Broken | None:
    """Compare where media and jobs belong with what people last said of it."""
    last: dict[tuple[str, int, str], ArrangementRow] = {}
    for row in rows:
        if isinstance(row, ArrangementRow):
            what = "media" if row.media_id else "job"
            about = {"split": "move", "join": "move", "back": "aside"}.get(row.action, row.action)
            last[what, row.media_id or row.job_id, about] = row
    for (what, number, about), row in last.items():
        now_: Any = session.get(MediaRow if what == "media" else JobRow, number)
        if now_ is None:
            return Broken(number, what, "was arranged and is not there")
        stands = {
            "move": getattr(now_, "job_id", None),
            "kind": now_.kind,
            "aircraft": getattr(now_, "aircraft", None) or "",
            "aside": ASIDE if now_.aside else "",
            "clock": getattr(now_, "began", None),
        }
        if about in stands and str(stands[about]) != row.becomes:
            return Broken(number, what, f"is not as {row.by} said ({row.action} at link {row.id})")
    return None


def _frozen(draft: DraftRow) -> str:
    return dump(_columns(draft, "id", "job_id", "state", "version"))


def _columns(row: SQLModel, *left: str) -> dict[str, Any]:
    # rows sealed before there were such columns have none, and must seal to the same hash
    content = row.model_dump(exclude=set(left))
    return {k: v for k, v in content.items() if v is not None or k not in CAME_LATER}
