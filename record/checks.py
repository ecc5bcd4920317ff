"""Doubts that only the record and the profile can raise. A doubt never changes a value."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from sqlmodel import Session

from extract.values.catalogue import Catalogue, load
from extract.values.defects import FINDINGS
from extract.values.draft import Draft
from extract.values.known import Known
from record import defects, service
from record.defects import Defect
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

    made = doubted(drafts, known, catalogue or load(), before)
    if not any(draft.name in FINDINGS for draft in made):
        return made
    standing = defects.not_cleared(session, aircraft)
    return tuple(_like(draft, defects.like(standing, draft.value, job)) for draft in made)


def _like(draft: Draft, found: Sequence[Defect]) -> Draft:
    """Say which defect of an earlier job a finding may be of; whether it ends it, a person says."""
    if draft.name not in FINDINGS:
        return draft
    return draft.with_doubt(
        *(
            f"job {d.first.job} has a defect like it, {d.state}: {d.words} ({d.ref}); "
            f"whether this ends it, say with `cowlnote defect {d.ref}`"
            for d in found
        )
    )
