"""Doubts that only the record and the profile can raise. A doubt never changes a value."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from sqlmodel import Session

from extract.values.catalogue import Catalogue, load
from extract.values.draft import Draft
from extract.values.known import Known
from record import service
from record.doubts import doubted


def add_doubts(
    session: Session,
    drafts: Iterable[Draft],
    known: Known,
    *,
    job: int | None = None,
    aircraft: str | None = None,
    catalogue: Catalogue | None = None,
) -> tuple[Draft, ...]:
    """Give the drafts with what the record has to say against them; values stay as they are.

    `job` is left out of what is usual: its own entries are no history.
    """

    def before(draft: Draft) -> list[Decimal]:
        return [
            e.value
            for e in service.history(session, draft.name, aircraft)
            if e.job != job and e.position == draft.position and isinstance(e.value, Decimal)
        ]

    return doubted(drafts, known, catalogue or load(), before)
