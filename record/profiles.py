"""How the profile of an aircraft was changed through this program: who, when and why.

The profile itself is the owner's file, and what is edited there by hand stands here as one act
without a name (see `record.witnesses`).
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, select

from record import chain, journal
from record.tables import EventRow

CHANGED = "profile changed"


@dataclass(frozen=True, slots=True)
class Changed:
    """One line of a profile that was changed: key, before, after, who, why, when (ISO)."""

    key: str
    before: str
    after: str
    by: str
    because: str
    at: str


def note(
    session: Session,
    aircraft: str,
    changes: Sequence[tuple[str, str, str]],
    by: str,
    because: str = "",
) -> None:
    """Put changes (key, before, after) into the journal in a person's name.

    Raises RefusedError without a name.
    """
    name = chain.person(by)
    for key, before, after in changes:
        journal.note(
            session,
            CHANGED,
            aircraft=aircraft,
            key=key,
            before=before,
            after=after,
            by=name,
            because=" ".join(because.split()),
        )


def history(session: Session, aircraft: str, most: int = 200) -> list[Changed]:
    """Give what was changed in the profile of an aircraft, the newest first."""
    rows = session.exec(
        select(EventRow.acts, EventRow.at)
        .where(col(EventRow.what).contains(CHANGED))
        .order_by(col(EventRow.id).desc())
        .limit(most)
    )
    return [
        Changed(act["key"], act["before"], act["after"], act["by"], act["because"], at)
        for acts, at in rows
        for act in reversed(json.loads(acts))
        if act["act"] == CHANGED and act.get("aircraft") == aircraft
    ]
