from __future__ import annotations

import hashlib
import json
import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import text

from record import chain, jobs, queue
from record.store import FILE, Store
from record.tables import DecisionRow
from tests.record.conftest import BEGAN, WHO, draft


def three(store: Store) -> None:
    with store.session() as session:
        job = jobs.job_for(session, BEGAN)
        given = [draft(media=f"memo_{i}.wav", position=i) for i in (1, 2, 3)]
        queue.confirm(session, queue.put(session, job, given), WHO)


def outside(home: Path, *changes: str) -> None:
    """Change the file as a program could that knows nothing of the record: its guards taken off."""
    raw = sqlite3.connect(home / FILE)
    for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        raw.execute(f"DROP TRIGGER {name}")
    for change in changes:
        raw.execute(change)
    raw.commit()
    raw.close()


def test_an_empty_record_and_a_whole_one_hold(any_store):
    with any_store.session() as session:
        assert chain.prove(session) is None
        assert chain.head(session) == (0, "0" * 64)
    three(any_store)
    with any_store.session() as session:
        assert chain.prove(session) is None
        assert chain.head(session)[0] == 6


def test_a_link_can_be_recomputed_with_the_standard_library_alone(store):
    """SHA-256 by Python's hashlib, over the JSON of the row as the docstring describes it."""
    three(store)
    with store.session() as session:
        row = dict(
            session.connection()
            .execute(text("SELECT * FROM decision WHERE id = 1"))
            .mappings()
            .one()
        )
    seal = row.pop("hash")
    # the two columns that came later stand in a seal only where they say something
    assert row.pop("although") is None
    assert json.loads(row["shown"])["value"] == "17 ft-lb"
    content = json.dumps(
        {"table": "decision", **row}, sort_keys=True, ensure_ascii=False, separators=(",", ":")
    )
    assert hashlib.sha256(content.encode()).hexdigest() == seal
    assert row["prev"] == "0" * 64


DRAFT = "job_id, 'confirmed', name, position, kind, value, unit, media, start_s, end_s, said_at"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("UPDATE entry SET value = '71' WHERE id = 4", "entry 4: is not what was written"),
        ("UPDATE decision SET by = 'Another' WHERE id = 3", "decision 3: is not what was written"),
        ("DELETE FROM entry WHERE id = 4", "link 4: is missing"),
        ("UPDATE decision SET prev = 'x' WHERE id = 5", "decision 5: does not follow the one"),
        ("DELETE FROM entry WHERE id = 6", "decision 5: has lost its entry"),
        ("UPDATE draft SET state = 'rejected' WHERE id = 1", "draft 1: is rejected, but there is"),
        ("UPDATE draft SET heard = 'other' WHERE id = 2", "draft 2: is not what was decided"),
        ("UPDATE job SET closed_by = 'Another' WHERE id = 1", "job 1: is not open or closed as"),
        (
            f"INSERT INTO draft SELECT 9, {DRAFT}, heard, confidence, doubts, alternatives, quad,"
            " also, said, version FROM draft WHERE id = 1",
            "draft 9: is confirmed, but there is no decision",
        ),
    ],
)
def test_the_first_break_is_named(home: Path, change: str, said: str):
    store = Store.open(home)
    three(store)
    store.close()
    outside(home, change)
    store = Store.open(home, read_only=True)
    with store.session() as session:
        assert str(chain.prove(session)).startswith(said)
    store.close()


def test_links_cut_off_the_end_are_missed_by_what_they_decided(home: Path):
    store = Store.open(home)
    three(store)
    store.close()
    outside(home, "DELETE FROM entry WHERE id = 6", "DELETE FROM decision WHERE id = 5")
    store = Store.open(home, read_only=True)
    with store.session() as session:
        said = str(chain.prove(session))
    store.close()
    assert said == "draft 3: is confirmed, but there is no decision"


def test_a_rewritten_hash_breaks_the_next_link(home: Path):
    store = Store.open(home)
    three(store)
    with store.session() as session:
        row = session.get(DecisionRow, 1)
        row.by = "Another"
        seal = chain.sealed(row)
        session.expunge(row)
    store.close()
    outside(home, f"UPDATE decision SET by = 'Another', hash = '{seal}' WHERE id = 1")
    store = Store.open(home)
    with store.session() as session:
        assert str(chain.prove(session)) == "entry 2: does not follow the one before it"
    store.close()
