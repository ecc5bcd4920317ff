"""The ends of the chains: the place of the last link and its hash."""

from __future__ import annotations

from sqlmodel import Session, col, select

from record.seals import START
from record.tables import ArrangementRow, DecisionRow, EntryRow, EventRow, LabReportRow

Linked = ArrangementRow | DecisionRow | EntryRow | EventRow | LabReportRow
SHORT = 12  # figures of a hash that are shown to people


def end(session: Session, *tables: type[Linked]) -> tuple[int, str]:
    """Give the last place of a chain over some tables and its hash; (0, 64 zeros) when empty."""
    rows = (
        session.exec(select(t.id, t.hash).order_by(col(t.id).desc()).limit(1)).first()
        for t in tables
    )
    return max(((r[0], r[1]) for r in rows if r), default=(0, START))


def of_record(session: Session) -> tuple[int, str]:
    """Give the end of the journal, which stands for the whole record."""
    return end(session, EventRow)


def shown(number: int, seal: str) -> str:
    """Give a head as it is printed: `412-9f3a1c20d4e5`."""
    return f"{number}-{seal[:SHORT]}"
