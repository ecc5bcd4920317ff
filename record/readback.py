"""What was read back to whoever spoke, sealed in the journal: evidence beside a draft, no decision.

The words are whatever the desk keeps of it (`desk.readback.journal`); here they are only held as
they were noted, so that an export has them, an import brings them, and a change of them is found.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlmodel import Session, col, select

from record import journal
from record.acts import told
from record.tables import EventRow

READ_BACK = "read back"


def note(session: Session, phone: str, lines: Sequence[Mapping[str, Any]]) -> None:
    """Note what was read back to a phone, and which files it sent, oldest first, JSON-ready."""
    if lines:
        journal.note(session, READ_BACK, phone=phone, lines=[dict(line) for line in lines])


def noted(session: Session) -> dict[str, list[dict[str, Any]]]:
    """Give what was noted of each phone, oldest first."""
    rows = session.exec(
        select(EventRow.acts)
        .where(col(EventRow.what).contains(READ_BACK))
        .order_by(col(EventRow.id))
    )
    made: dict[str, list[dict[str, Any]]] = {}
    for act in (one for acts in rows for one in told(acts, READ_BACK)):
        lines = act.get("lines")
        found: Iterable[Any] = lines if isinstance(lines, list) else ()
        made.setdefault(str(act.get("phone")), []).extend(x for x in found if isinstance(x, dict))
    return made
