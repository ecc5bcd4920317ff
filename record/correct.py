"""Corrections: a new entry in the place of a wrong one, in an open or a closed job."""

from __future__ import annotations

from sqlmodel import Session

from extract.values.catalogue import Catalogue
from extract.values.draft import Draft
from extract.values.known import NOTHING, Known
from record import chain, typed
from record.entries import Entry, get, replace
from record.judge import Judge
from record.seen import Seen, of_entry
from record.values import NONE, pack


def correct(
    session: Session,
    entry: int,
    text: str,
    by: str,
    because: str,
    catalogue: Catalogue | None = None,
    *,
    although: str = "",
    seen: Seen | None = None,
    known: Known = NOTHING,
) -> Entry:
    """Put a new entry in the place of a wrong one; the old stays, and both have its evidence.

    `seen` is what was shown of the old, `although` says why a doubtful value is right. Raises
    RefusedError: no name, no reason, no such entry, already replaced; StaleError: not what was
    shown; DoubtedError; InputError for text that cannot be a value of the field.
    """
    by, because = chain.person(by), chain.reason(because)
    old, shown = _shown(session, entry, seen, catalogue)
    made = typed.value(old.name, text, catalogue)
    given = Draft(
        old.name,
        made.value,
        old.unit,
        old.position,
        old.media,
        old.start,
        old.end,
        old.said_at,
        old.heard,
        1.0,
        said=made.said,
    )
    doubts = Judge(session, old.job, catalogue, known).need(given, although, old=old.value)
    decision = chain.decide(
        session,
        old.job,
        "correct",
        by,
        because=because,
        doubts=doubts,
        shown=shown.kept(pressed=text.strip()),
        although=although.strip(),
        media=(old.media,),
        sealed=_sealed(old),
    )
    return replace(session, old, decision, *pack(made.value), said=made.said)


def withdraw(
    session: Session,
    entry: int,
    by: str,
    because: str,
    *,
    seen: Seen | None = None,
    catalogue: Catalogue | None = None,
) -> Entry:
    """Take an entry back with no value in its place; the old stays, with who, when and why."""
    by, because = chain.person(by), chain.reason(because)
    old, shown = _shown(session, entry, seen, catalogue)
    decision = chain.decide(
        session,
        old.job,
        "withdraw",
        by,
        because=because,
        shown=shown.kept(),
        media=(old.media,),
        sealed=_sealed(old),
    )
    return replace(session, old, decision, NONE, "")


def _sealed(old: Entry) -> dict[str, str]:
    return {old.media: old.sha256} if old.sha256 else {}


def _shown(
    session: Session, entry: int, seen: Seen | None, catalogue: Catalogue | None
) -> tuple[Entry, Seen]:
    old = get(session, entry)
    now = of_entry(old, catalogue)
    if seen is not None:
        seen.hold_against(now, f"entry e{entry}")
    return old, now
