"""Doubts that only the record and the profile can raise. A doubt never changes a value."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from sqlmodel import Session

from extract.values.catalogue import Catalogue, load
from extract.values.defects import FINDINGS
from extract.values.draft import Draft
from extract.values.known import Known
from record import defects, jobs
from record.defects import Defect
from record.doubts import LASTS, doubted
from record.entries import Entry, entries


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
    found = Earlier(session, job, aircraft)
    made = doubted(drafts, known, catalogue or load(), found.numbers)
    if not any(draft.name in FINDINGS for draft in made):
        return made
    standing = defects.not_cleared(session, aircraft)
    return tuple(_like(draft, defects.like(standing, draft.value, job)) for draft in made)


FREE = "free"  # the kind of a job that is of no kind


class Earlier:
    """What was entered of a field in the other jobs of an aircraft, each field looked up once.

    A meter runs through all of them; any other number is compared with jobs of the same kind, since
    what is added in an oil change is no measure of a top-up. Jobs of no kind have nothing usual.
    """

    def __init__(self, session: Session, job: int | None, aircraft: str | None) -> None:
        self._session, self._job = session, job
        self._kinds = {one.id: one.kind for one in jobs.jobs(session, aircraft)}
        self._found: dict[str, list[Entry]] = {}

    def entries(self, name: str) -> list[Entry]:
        """Give the entries of a field that count, of all other jobs, oldest first."""
        if name not in self._found:
            every = entries(self._session, name=name)
            self._found[name] = [e for e in every if e.job in self._kinds and e.job != self._job]
        return self._found[name]

    def numbers(self, draft: Draft) -> list[Decimal]:
        """Give the earlier numbers that a draft is compared with, oldest first."""
        kind = None if self._job is None or draft.name in LASTS else self._kinds.get(self._job)
        if kind == FREE:
            return []
        return [
            e.value
            for e in self.entries(draft.name)
            if e.position == draft.position
            and isinstance(e.value, Decimal)
            and kind in (None, self._kinds[e.job])
        ]


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
