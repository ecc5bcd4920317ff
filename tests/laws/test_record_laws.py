"""Laws of the record, tried on values that hypothesis makes."""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from extract.values.draft import Alternative, Draft, Evidence
from record import chain, entries, jobs, media, queue, search
from record.errors import RefusedError
from record.store import FILE, Store
from tests.record.conftest import BEGAN, WHO, began, kept, spoken

QUICK = settings(max_examples=25, deadline=None)
TEXT = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=12)
VALUES = st.one_of(
    st.decimals(allow_nan=False, allow_infinity=False), TEXT, st.booleans(), st.dates()
)
SECONDS = st.none() | st.floats(0, 20000, allow_nan=False)
CORNERS = st.tuples(*[st.tuples(*[st.floats(0, 5000)] * 2)] * 4)
MOMENTS = st.none() | st.integers(0, 10**6).map(lambda s: BEGAN + timedelta(milliseconds=s))
CONFIDENCE = st.floats(0, 1)
DRAFTS = st.builds(
    Draft,
    name=st.sampled_from(("filter_torque", "oil_added", "oil_grade", "service_date")),
    value=VALUES,
    unit=st.none() | TEXT,
    position=st.none() | st.integers(1, 6) | st.sampled_from(("nose", "left")),
    media=st.sampled_from(("memo_1.wav", "memo_2.wav", "photo.jpg")),
    start=SECONDS,
    end=SECONDS,
    said_at=MOMENTS,
    heard=TEXT,
    confidence=CONFIDENCE,
    doubts=st.lists(TEXT.filter(bool), max_size=2, unique=True).map(tuple),
    alternatives=st.lists(st.builds(Alternative, VALUES, CONFIDENCE, TEXT), max_size=2).map(tuple),
    quad=st.none() | CORNERS,
    also=st.lists(
        st.builds(Evidence, TEXT, TEXT, SECONDS, SECONDS, MOMENTS, st.none() | CORNERS), max_size=2
    ).map(tuple),
)


@contextmanager
def a_record() -> Iterator[Store]:
    with tempfile.TemporaryDirectory() as folder:
        store = Store.open(Path(folder))
        yield store
        store.close()


def exact(value):
    return (type(value), str(value))


@QUICK
@given(DRAFTS)
def test_what_goes_into_the_queue_comes_out(draft):
    with a_record() as store, store.session() as session:
        queue.put(session, jobs.job_for(session, BEGAN), [draft])
        session.expire_all()
        (found,) = queue.drafts(session)
        assert found.draft == draft
        assert exact(found.draft.value) == exact(draft.value)  # 7.50 stays 7.50


@QUICK
@given(st.lists(DRAFTS, max_size=6), st.lists(st.sampled_from("cajru"), max_size=12), st.randoms())
def test_no_order_of_decisions_loses_a_draft(drafts, acts, chance):
    """Confirm, amend, reject, put again, undo, in any order: each draft stays, the chain holds."""
    with a_record() as store, store.session() as session:
        job = jobs.job_for(session, BEGAN)
        ids = queue.put(session, job, drafts)
        assert len(set(ids)) == len(drafts)
        for act in acts if ids else ():
            waiting = [q.id for q in queue.waiting(session)]
            decided = [q.id for q in queue.drafts(session) if q.state != "waiting"]
            if act == "u" and decided:
                with suppress(RefusedError):  # its entry was replaced since, and stands under it
                    queue.undo(session, chance.choice(decided), WHO)
            elif act == "j":
                queue.put(session, job, chance.sample(drafts, len(drafts)))
            elif waiting:
                one = chance.choice(waiting)
                if act == "c":
                    stands = [e.id for e in entries.entries(session, job)]
                    told = {"because": "later", "replaces": stands}
                    queue.confirm(session, [one], WHO, **told)
                elif act == "r":
                    queue.reject(session, one, WHO, "not said")
                elif act == "a" and queue.get(session, one).draft.name == "oil_added":
                    queue.amend(session, one, "7.25", WHO, "misheard", although="as seen")
        left = queue.drafts(session)
        assert {q.id for q in left} >= set(ids)
        values = [exact(q.draft.value) for q in left]
        assert all(exact(d.value) in values for d in drafts)
        slots = [e.slot for e in entries.entries(session, job)]
        assert len(slots) == len(set(slots))
        assert chain.prove(session) is None


@QUICK
@given(st.lists(DRAFTS, max_size=5), st.randoms())
def test_putting_the_same_again_in_any_order_adds_nothing(drafts, chance):
    with a_record() as store, store.session() as session:
        job = jobs.job_for(session, BEGAN)
        ids = queue.put(session, job, drafts)
        before = queue.drafts(session)
        again = chance.sample(drafts, len(drafts))
        assert sorted(queue.put(session, job, again)) == sorted(ids)
        assert len(queue.drafts(session)) == len(before)


COLUMNS = {
    "decision": ("action", "by", "at", "doubts", "draft", "prev", "hash"),
    "entry": ("name", "position", "kind", "value", "media", "heard", "by", "at", "text", "hash"),
}


@QUICK
@given(st.data())
def test_any_byte_flipped_in_a_decided_row_is_found(data):
    """A bit is flipped and not a constant written: a constant could be what was there already."""
    with tempfile.TemporaryDirectory() as folder:
        store = Store.open(Path(folder))
        with store.session() as session:
            job = jobs.job_for(session, BEGAN)
            for place, value in enumerate(("17", "7.25", "16.5")):
                draft = Draft(
                    "oil_added", Decimal(value), "qt", place, "m.wav", 1.0, 2.0, BEGAN, "x", 0.9
                )
                queue.confirm(session, queue.put(session, job, [draft]), WHO)
        store.close()
        table = data.draw(st.sampled_from(sorted(COLUMNS)))
        column = data.draw(st.sampled_from(COLUMNS[table]))
        raw = sqlite3.connect(Path(folder) / FILE)
        raw.execute(f"DROP TRIGGER {table}_no_update")
        rows = raw.execute(f"SELECT id, CAST({column} AS BLOB) FROM {table}").fetchall()
        number, old = data.draw(st.sampled_from([r for r in rows if r[1]]))
        place = data.draw(st.integers(0, len(old) - 1))
        new = bytes(b ^ (1 if i == place else 0) for i, b in enumerate(old))
        raw.execute(f"UPDATE {table} SET {column} = CAST(? AS TEXT) WHERE id = ?", (new, number))
        raw.commit()
        raw.close()
        store = Store.open(Path(folder))
        with store.session() as session:
            broken = chain.prove(session)
        store.close()
        assert broken is not None
        assert broken.place in (number, number + 1)


@QUICK
@given(st.lists(st.integers(0, 10**6), min_size=1, max_size=4, unique=True))
def test_what_is_found_comes_in_the_order_in_which_it_was_said(starts):
    with a_record() as store, store.session() as session:
        for place, second in enumerate(starts):
            row = media.note(session, kept(f"{place}.wav", "abcd"[place]), began(second))
            media.keep_transcript(session, row.id, spoken("oil oil oil oil", pause_after=1))
        said = [h.said_at for h in search.find(session, "oil")]
    assert said == sorted(said)
    assert len(said) == 4 * len(starts)


@QUICK
@given(st.text(max_size=30))
def test_no_words_upset_the_search(words):
    with a_record() as store, store.session() as session:
        row = media.note(session, kept(), began())
        media.keep_transcript(session, row.id, spoken("no leaks"))
        search.find(session, words)
        search.find(session, words, since=date(2026, 1, 1), field="oil_added", value=words)
        assert len(search.find(session, "leaks")) == 1
