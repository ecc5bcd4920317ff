"""The one place where a value is weighed against what is known, whoever gives it.

What was heard or read off a photo is weighed when it is drafted and again when it is decided; what
a person types, adds or corrects when it is given. The doubts are those of `record.doubts`, from the
catalogue's ranges, the profile's limits, the last readings of the meters, the day, and the other
values of the job.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import cached_property

from sqlmodel import Session

from extract.values.catalogue import Catalogue
from extract.values.draft import Draft, Value
from extract.values.known import NOTHING, Known
from record import before, jobs, typed
from record.checks import Earlier
from record.doubts import DONE_ON, LASTS, doubted
from record.entries import Entry, entries
from record.errors import DoubtedError
from record.seen import text_of
from record.values import now

SHIFTS = (1, 2, -1, -2)  # places by which a point is mistaken


class Judge:
    """What is known beside one job, looked up once, to weigh any number of values against."""

    def __init__(
        self,
        session: Session,
        job: int,
        catalogue: Catalogue | None = None,
        known: Known = NOTHING,
    ) -> None:
        self._session, self._job = session, job
        self._catalogue = typed.catalogue_of(catalogue)
        found = jobs.get(session, job)
        self._recorded = found.first.date() if found.first else known.on
        day = before.day_of(session, found) or known.on
        self._known = before.known(session, known, day, job=job, aircraft=found.aircraft)
        self._earlier = Earlier(session, job, found.aircraft)

    def of(self, draft: Draft, *, given: bool = False, old: Value | None = None) -> tuple[str, ...]:
        """Give what speaks against a value; `given` where a person gives it, in the place of `old`.

        The draft's own doubts are not among them.
        """
        bare = replace(draft, doubts=())
        beside = [bare, *self._meters(bare)]
        today = date.fromisoformat(now()[:10])
        known = self._known
        if isinstance(draft.value, date):  # a day is weighed against the recordings, not itself
            known = replace(known, on=self._recorded)
        elif known.on is None and draft.said_at is None:
            known = replace(known, on=today)
        doubts = doubted(beside, known, self._catalogue, self._earlier.numbers)[0].doubts
        doubts += self._order(bare)
        if given:
            last = getattr(known, LASTS[bare.name]) if bare.name in LASTS else None
            doubts += (*_shifted(bare, old, last), *_future(bare, today))
        return tuple(dict.fromkeys(doubts))

    def need(self, draft: Draft, although: str, *, old: Value | None = None) -> tuple[str, ...]:
        """Give the doubts of a value that a person gives. Raises DoubtedError without a reason."""
        doubts = self.of(draft, given=True, old=old)
        if doubts and not although.strip():
            raise DoubtedError(
                text_of(draft.name, draft.value, draft.unit, self._catalogue, draft.said), doubts
            )
        return doubts

    def _meters(self, draft: Draft) -> Iterable[Draft]:
        """Give the other meters of the job, which a meter is weighed together with."""
        if draft.name not in LASTS:
            return []
        mine = entries(self._session, self._job)
        return [_as_draft(e) for e in mine if e.name in LASTS and e.name != draft.name]

    @cached_property
    def _days(self) -> dict[int, date | None]:
        """Give the day of every job that counts."""
        entered = before.by_job(self._session, "service_date")
        every = jobs.jobs(self._session)
        return {job.id: before.day_among(job, entered.get(job.id, [])) for job in every}

    def _order(self, draft: Draft) -> tuple[str, ...]:
        """Doubt a meter that reads more than at a later service."""
        day = self._known.on
        if draft.name not in LASTS or day is None or not isinstance(draft.value, Decimal):
            return ()
        later = [
            (on, e.value)
            for e in self._earlier.entries(draft.name)
            if isinstance(e.value, Decimal)
            and (on := self._days.get(e.job)) is not None
            and on > day
        ]
        over = [(on, read) for on, read in sorted(later) if draft.value > read][:1]
        return tuple(f"higher than the {read} h of {on}, which came later" for on, read in over)


def _as_draft(entry: Entry) -> Draft:
    assert entry.value is not None  # noqa: S101  (only entries that count come here)
    return Draft(
        entry.name,
        entry.value,
        entry.unit,
        entry.position,
        entry.media,
        entry.start,
        entry.end,
        entry.said_at,
        entry.heard,
        1.0,
    )


def _shifted(draft: Draft, *earlier: Value | None) -> Sequence[str]:
    """Doubt a number that has the figures of an earlier one, with the point elsewhere."""
    value = draft.value
    for old in earlier:
        if not isinstance(value, Decimal) or not isinstance(old, Decimal) or not old:
            continue
        if any(value == old.scaleb(places) for places in SHIFTS):
            return (f"the figures of {old} with the point elsewhere",)
    return ()


def _future(draft: Draft, today: date) -> Sequence[str]:
    """Doubt a day that has not come yet."""
    if draft.name in DONE_ON and isinstance(draft.value, date) and draft.value > today:
        return (f"later than today, {today}",)
    return ()
