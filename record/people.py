"""The people whose names stand under decisions, and what each decided."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import Session, func, select

from record.tables import ArrangementRow, DecisionRow, LabReportRow


@dataclass(frozen=True, slots=True)
class Person:
    """A name as it stands in the record; how much it stands under, and from when to when (ISO)."""

    name: str
    decisions: int
    first: str
    last: str


@dataclass(frozen=True, slots=True)
class Decided:
    """One thing that a person decided: its job, what, when (ISO), why, and why although doubted."""

    job: int
    draft: int | None
    action: str
    at: str
    because: str
    although: str


def people(session: Session) -> list[Person]:
    """Give everyone who decided, arranged or entered anything, whoever did so last first."""
    found: dict[str, Person] = {}
    for table in (DecisionRow, ArrangementRow, LabReportRow):
        counted = select(table.by, func.count(), func.min(table.at), func.max(table.at)).group_by(
            table.by
        )
        for name, many, first, last in session.exec(counted):
            was = found.get(name) or Person(name, 0, first, last)
            found[name] = Person(
                name, many + was.decisions, min(first, was.first), max(last, was.last)
            )
    return sorted(found.values(), key=lambda one: one.last, reverse=True)


def decided(session: Session, name: str, *, page: int = 1, most: int = 50) -> Sequence[Decided]:
    """Give one page of what a person decided on drafts and entries, the newest first."""
    rows = session.exec(
        select(DecisionRow)
        .where(DecisionRow.by == name)
        .order_by(DecisionRow.id.desc())  # type: ignore[attr-defined]
        .offset((page - 1) * most)
        .limit(most)
    )
    return [
        Decided(r.job_id, r.draft_id, r.action, r.at, r.because, r.although or "") for r in rows
    ]
