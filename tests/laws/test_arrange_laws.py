"""Whatever people arrange and decide, in any order: nothing is lost, and the chain holds."""

from __future__ import annotations

import contextlib
import tempfile
from datetime import timedelta
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from capture.observed import Instant
from record import arrange, chain, correct, entries, jobs, media, queue
from record.errors import RefusedError
from record.store import Store
from tests.record.conftest import BEGAN, draft, kept

MEMOS = 4
WHO = st.sampled_from(("Ines Invented", "Otto Other"))
MEMO = st.integers(1, MEMOS)
ANY = st.integers(0, 10**6)


class Arranging(RuleBasedStateMachine):
    """A record of four memos, each with a draft, and two people who move and decide them."""

    @initialize()
    def begin(self) -> None:
        self.folder = tempfile.TemporaryDirectory()
        self.store = Store.open(Path(self.folder.name))
        with self.store.session() as session:
            job = jobs.job_for(session, BEGAN, aircraft="N0417Q")
            made = []
            for number in range(MEMOS):
                at = Instant(BEGAN + timedelta(minutes=number), "container")
                row = media.note(session, kept(f"{number}.wav", f"{number:x}"), at)
                media.join(session, row.id, job)
                made.append(draft(media=row.name, position=number))
            queue.put(session, job, made)

    def act(self, work: Any) -> None:
        """Do something in one transaction; what is refused leaves nothing behind.

        A refusal comes from the record's own rules, never from the guards of its tables.
        """
        with contextlib.suppress(RefusedError), self.store.session() as session:
            try:
                work(session)
            except RefusedError:
                raise
            except Exception as error:
                raise AssertionError(f"not refused in words: {error!r}") from error
            session.flush()

    def job(self, session: Any, pick: int) -> int:
        found = jobs.jobs(session, every=True)
        return found[pick % len(found)].id

    def draft(self, session: Any, pick: int) -> int:
        found = queue.drafts(session)
        return found[pick % len(found)].id if found else 1

    @rule(memo=MEMO, to=ANY, new=st.booleans(), by=WHO)
    def move(self, memo: int, to: int, new: bool, by: str) -> None:
        self.act(lambda s: arrange.move(s, [memo], None if new else self.job(s, to), by))

    @rule(one=ANY, into=ANY, by=WHO)
    def join(self, one: int, into: int, by: str) -> None:
        self.act(lambda s: arrange.join(s, self.job(s, one), self.job(s, into), by))

    @rule(memo=MEMO, by=WHO)
    def aside(self, memo: int, by: str) -> None:
        self.act(lambda s: arrange.aside(s, media.get(s, memo).job or 0, by, "why", memo))

    @rule(memo=MEMO, by=WHO)
    def back(self, memo: int, by: str) -> None:
        self.act(lambda s: arrange.back(s, media.get(s, memo).job or 0, by, "", memo))

    @rule(one=ANY, by=WHO)
    def job_aside(self, one: int, by: str) -> None:
        self.act(lambda s: arrange.aside(s, self.job(s, one), by, "why"))

    @rule(one=ANY, by=WHO)
    def job_back(self, one: int, by: str) -> None:
        self.act(lambda s: arrange.back(s, self.job(s, one), by))

    @rule(one=ANY, by=WHO)
    def confirm(self, one: int, by: str) -> None:
        self.act(lambda s: queue.confirm(s, [self.draft(s, one)], by))

    @rule(one=ANY, by=WHO)
    def reject(self, one: int, by: str) -> None:
        self.act(lambda s: queue.reject(s, self.draft(s, one), by, "not said"))

    @rule(one=ANY, by=WHO)
    def undo(self, one: int, by: str) -> None:
        self.act(lambda s: queue.undo(s, self.draft(s, one), by))

    @rule(one=ANY, by=WHO)
    def correct(self, one: int, by: str) -> None:
        def work(session: Any) -> None:
            found = entries.entries(session)
            if found:
                correct.correct(session, found[one % len(found)].id, "18", by, "read again")

        self.act(work)

    @invariant()
    def nothing_is_lost(self) -> None:
        if not hasattr(self, "store"):
            return
        with self.store.session(write=False) as session:
            assert chain.prove(session) is None
            every = {m.name: m for m in media.media(session)}
            assert len(every) == MEMOS
            drafts = [
                q for j in jobs.jobs(session, every=True) for q in queue.drafts(session, j.id)
            ]
            assert len({q.draft.media for q in drafts}) == len(drafts)
            for queued in drafts:  # a draft is where its memo is, and counts when that does
                memo = every[queued.draft.media]
                assert (memo.job, memo.aside) == (queued.job, False)
            counting = {m.name for m in every.values() if not m.aside}
            assert counting == {q.draft.media for q in drafts}
            for entry in entries.entries(session):
                assert every[entry.media].job == entry.job
                assert not every[entry.media].aside

    def teardown(self) -> None:
        """Let go of the record."""
        if hasattr(self, "store"):
            self.store.close()
            self.folder.cleanup()


TestArranging = Arranging.TestCase
TestArranging.settings = settings(
    max_examples=8,
    stateful_step_count=25,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
