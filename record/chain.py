"""The chain of the record: each decision, entry and arrangement carries the hash of the one before.

They share one numbering, so a row taken out leaves a gap and a row changed breaks its hash. Rows
cut off the end leave no gap, but the drafts, jobs and media that they decided then do not follow
from them any more. Keep `head` elsewhere too (an export does).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

from sqlalchemy import text
from sqlmodel import Session

from record import heads, signs
from record.acts import ASIDE as ASIDE
from record.acts import ENTERS as ENTERS
from record.acts import STATES as STATES
from record.acts import UNDOES as UNDOES
from record.errors import RefusedError
from record.proof import Broken as Broken
from record.proof import Proof, frozen
from record.reading import SessionRows
from record.rows import draft_of
from record.seals import link_seal
from record.tables import ArrangementRow, DecisionRow, DraftRow, EntryRow
from record.values import dump, now
from record.witnesses import NOT_SEALED, evidence

LINKS = (DecisionRow, EntryRow, ArrangementRow)
Link = DecisionRow | EntryRow | ArrangementRow
Row = TypeVar("Row", DecisionRow, EntryRow, ArrangementRow)


def person(by: str | None) -> str:
    """Give a person's name, tidied. Raises RefusedError where there is none."""
    name = " ".join((by or "").split())
    if not any(c.isalpha() for c in name):
        raise RefusedError("a decision needs the name of the person who makes it", todo="say who")
    if signs.STEERING.search(name):
        raise RefusedError(
            f"the name {signs.written_out(name)} holds signs that steer a screen",
            todo="write it with letters alone",
        )
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
    media: Iterable[str] | None = (),
    sealed: Mapping[str, str] = NOT_SEALED,
) -> DecisionRow:
    """Add a decision to the record. `doubts` are those that stood when it was made.

    `shown` is what the person had before their eyes, as JSON; `although` why a doubtful value was
    given all the same. It is sealed with the hashes of what it rests on: the recordings of the
    draft and those that `media` names, or all of the job where that is None. `sealed` (name to
    SHA-256) are those that an earlier decision sealed.
    """
    if draft is not None and media is not None:
        media = (*media, draft.media, *(one.media for one in draft_of(draft).also))
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
        evidence=evidence(session, job, media, sealed),
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
    return heads.end(session, *LINKS)


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

    The columns that came later (`record.seals.CAME_LATER`) are left out where they have no value.
    """
    return link_seal(str(row.__tablename__), row.model_dump())


def prove(session: Session) -> Broken | None:
    """Walk the whole chain; give the first break, or None where every link holds.

    What lies beside the chain must follow from it too: decided drafts, closed jobs, and what was
    moved or set aside.
    """
    return next(Proof(SessionRows(session)).chain(), None)


def _frozen(draft: DraftRow) -> str:
    return frozen(draft.model_dump())
