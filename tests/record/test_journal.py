"""The journal: what each change did, and a seal of every row that it touched."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlmodel import select

from record import arrange, chain, correct, dump, jobs, journal, lab, media, queue
from record.errors import RefusedError
from record.store import FILE, HEAD, Store
from record.tables import DecisionRow, EventRow
from tests.record.conftest import BEGAN, WHO, began, draft, kept, spoken
from tests.record.test_chain import outside
from tests.record.test_lab import report


def service(store: Store) -> int:
    """Take two memos in, hear them, decide what they say, one step a session; give the job."""
    with store.session() as session:
        numbers = [media.note(session, kept(f"memo_0{d}.wav", str(d)), began()).id for d in (1, 2)]
    with store.session() as session:
        for number in numbers:
            media.keep_transcript(session, number, spoken("torqued to seventeen then safetied"))
    with store.session() as session:
        job = jobs.job_for(session, BEGAN, aircraft="N0417Q")
        for number in numbers:
            media.join(session, number, job)
        ids = queue.put(session, job, [draft(), draft("oil_added", "7.25", unit="qt")])
    with store.session() as session:
        queue.confirm(session, ids, WHO)
        lab.add(session, report(), WHO)
    return job


def acts(store: Store) -> list[list[str]]:
    with store.session(write=False) as session:
        rows = session.exec(select(EventRow).order_by(EventRow.id)).all()
        return [row.what.split(", ") for row in rows]


def test_each_change_says_what_it_did(any_store):
    job = service(any_store)
    with any_store.session() as session:
        arrange.aside(session, job, WHO, "a trial", 2)
    with any_store.session() as session:
        jobs.close(session, job, WHO)
    assert acts(any_store) == [
        ["taken in"],
        ["heard"],
        ["opened", "placed", "drafted"],
        ["drafted", "decided", "laboratory report"],
        ["set aside", "decided"],
        ["closed", "decided"],
    ]
    with any_store.session() as session:
        assert journal.prove(session) is None


def test_a_session_that_changes_nothing_adds_nothing(any_store):
    service(any_store)
    before = acts(any_store)
    with any_store.session() as session:
        queue.put(session, 1, [])
        jobs.offer(session, 1, "oil-and-filter", "")
    assert acts(any_store) == before


def test_what_was_taken_in_is_told_with_its_hash(store):
    service(store)
    with store.session(write=False) as session:
        first = json.loads(session.get_one(EventRow, 1).acts)[0]
    assert (first["act"], first["name"], first["sha256"]) == ("taken in", "memo_01.wav", "1" * 64)


def test_a_decision_names_recording_transcript_and_aircraft(store):
    service(store)
    with store.session(write=False) as session:
        told = json.loads(session.get_one(DecisionRow, 1).evidence)
        row = session.connection().execute(text("SELECT * FROM transcript WHERE id = 1"))
        columns = dict(row.mappings().one())
    content = json.dumps(
        {"table": "transcript", **columns},
        sort_keys=True,
        ensure_ascii=False,
        separators=(",", ":"),
    )
    seal = hashlib.sha256(content.encode()).hexdigest()
    assert told == {
        "aircraft": "N0417Q",
        "profile": None,
        "media": {"memo_01.wav": {"sha256": "1" * 64, "transcript": seal}},
    }


def test_a_correction_and_a_closing_name_their_evidence_too(store):
    job = service(store)
    with store.session() as session:
        correct.correct(session, 2, "18", WHO, "misread", although="as seen")
        jobs.close(session, job, WHO)
        rows = session.exec(select(DecisionRow).order_by(DecisionRow.id)).all()
    named = [list(json.loads(row.evidence)["media"]) for row in rows[-2:]]
    assert named == [["memo_01.wav"], ["memo_01.wav", "memo_02.wav"]]


SWAP = (
    "UPDATE media SET sha256 = 'x' WHERE id = 1",
    "UPDATE media SET sha256 = '1111111111111111111111111111111111111111111111111111111111111111'"
    " WHERE id = 2",
    "UPDATE media SET sha256 = '2222222222222222222222222222222222222222222222222222222222222222'"
    " WHERE id = 1",
)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (SWAP, "media 1: is not what was sealed"),
        (("UPDATE transcript SET body = replace(body, 'seventeen', 'seventy')",), "transcript 1"),
        (("UPDATE segment SET text = 'torqued to seventy' WHERE id = 1",), "segment 1"),
        (("DELETE FROM segment",), "segment 1: is gone"),
        (("INSERT INTO segment (media_id, text) VALUES (1, 'a word more')",), "segment 1"),
        (("UPDATE job SET aircraft = 'N0655X'",), "job 1: is not what was sealed"),
        (("UPDATE lab_report SET note = 'x'",), "lab_report 1: is not what was written"),
        (("DELETE FROM lab_report",), "event 4: names another lab_report link 1 than there is"),
        (("DELETE FROM event WHERE id = 4",), "link 4: and what follows 0 is not in the journal"),
        (("DELETE FROM event",), "job 1: was never sealed"),
        (("UPDATE event SET acts = '[]' WHERE id = 2",), "event 2: is not what was written"),
        (("DELETE FROM entry WHERE id = 4", "DELETE FROM decision WHERE id = 3"), "draft 2: is"),
    ],
)
def test_what_is_changed_from_outside_is_found(home: Path, changes, said):
    store = Store.open(home)
    service(store)
    store.close()
    outside(home, *changes)
    store = Store.open(home, read_only=True)
    with store.session(write=False) as session:
        found = str(journal.prove(session))
    store.close()
    assert found.startswith(said)


@pytest.mark.parametrize("change", ["UPDATE event SET what = 'x'", "DELETE FROM event"])
def test_the_journal_is_only_ever_added_to(any_store, change):
    service(any_store)
    with pytest.raises(RefusedError, match="only ever added to"), any_store.session() as session:
        session.connection().execute(text(change))


def test_what_is_heard_anew_or_dated_anew_is_sealed_anew(store):
    service(store)
    with store.session() as session:
        media.keep_transcript(session, 1, spoken("no leaks"))
        media.set_began(session, 2, began(3600))
    with store.session() as session:
        media.keep_transcript(session, 1, spoken(""))  # nothing is left of it but that
    with store.session() as session:
        assert journal.prove(session) is None
    assert acts(store)[-2:] == [["heard", "dated"], ["heard"]]


def test_moving_and_splitting_hold(store):
    job = service(store)
    with store.session() as session:
        arrange.split(session, job, [2], WHO, "another afternoon")
    with store.session() as session:
        arrange.shift_clock(session, [1], timedelta(hours=1), WHO)
        arrange.set_kind(session, job, "tire", WHO)
        arrange.set_aircraft(session, job, "N0655X", WHO)
    with store.session() as session:
        assert journal.prove(session) is None


def test_a_record_of_before_is_sealed_as_it_is_found(home: Path, monkeypatch):
    """A record of revision 0006, as that version wrote it, opened by this one."""
    from alembic import command

    upgrade = command.upgrade
    with monkeypatch.context() as patched:
        patched.setattr(command, "upgrade", lambda config, _: upgrade(config, "0006"))
        Store.open(home).close()
    with sqlite3.connect(home / FILE) as raw:
        raw.execute("INSERT INTO job (id, kind, opened_at) VALUES (1, 'free', '2026-03-14')")
        raw.execute(
            "INSERT INTO media (id, sha256, name, original, size, kind, modified, began_doubt,"
            " state, reason, job_id) VALUES (1, 'a', 'm.wav', 'm.wav', 1, 'memo', '', '', 'kept',"
            " '', 1)"
        )
    raw.close()
    store = Store.open(home)
    assert store.sealed_as_found
    with store.session() as session:
        assert journal.prove(session) is None
        first = session.get_one(EventRow, 1)
        assert first.what == "sealed as found"
        assert set(json.loads(first.seals)) == {"job:1"}
    with store.session() as session:
        (queued,) = queue.put(session, 1, [draft()])
        queue.confirm(session, [queued], WHO)
    with store.session() as session:
        assert journal.prove(session) is None
        assert chain.prove(session) is None
    store.close()
    again = Store.open(home)
    assert not again.sealed_as_found
    again.close()


def test_an_export_of_before_the_journal_is_sealed_as_it_is_taken_in(store, tmp_path):
    service(store)
    with store.session() as session:
        document = dump.dump(session)
    assert document["revision"] == HEAD
    del document["tables"]["event"], document["journal"]
    second = Store.open(tmp_path / "second")
    with second.session() as session:
        dump.fill(session, document)
    with second.session() as session:
        assert journal.prove(session) is None
        assert session.get_one(EventRow, 1).what == "sealed as found"
    second.close()
