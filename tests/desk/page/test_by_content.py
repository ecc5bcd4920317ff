"""A file is named by what is in it: swapped names change nothing of what a value rests on."""

from __future__ import annotations

import csv
import json
import re
import sqlite3

import pytest

from capture.vault import Vault
from desk import carry, upkeep
from desk.opening import Opened
from record import journal, media, queue
from record.correct import correct
from record.store import FILE
from record.tables import EventRow
from tests.desk.page.conftest import WHO

SWAP = (
    "UPDATE media SET name = 'x' WHERE name = 'memo_00.wav'",
    "UPDATE media SET name = 'memo_00.wav' WHERE name = 'memo_01.wav'",
    "UPDATE media SET name = 'memo_01.wav' WHERE name = 'x'",
)


@pytest.fixture
def decided(filled):
    """Give the hash of the memo that an entry of the job was confirmed from."""
    with filled.desk.store.session() as session:
        found = next(q for q in queue.drafts(session) if q.draft.media == "memo_00.wav")
        queue.confirm(session, [found.id], WHO, because="looked at")
        return found.id, media.find_media(session, "memo_00.wav").sha256


def sql(desk, *statements):
    """Change the database as another program could, with its guards off."""
    raw = sqlite3.connect(desk.settings.home / FILE)
    guards = raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
    made = [row[0] for row in raw.execute("SELECT sql FROM sqlite_master WHERE type = 'trigger'")]
    for one in (*(f"DROP TRIGGER {name}" for (name,) in guards), *statements, *made):
        raw.execute(one)
    raw.commit()
    raw.close()


def pieces(html):
    """Give the numbers of media with the drafts that stand beside each, as review shows them."""
    told = json.loads(re.search(r'<script[^>]*id="drafts"[^>]*>(.*?)</script>', html, re.S)[1])
    return {one["id"]: one["media"] for one in told}


def test_a_value_keeps_its_file_when_names_are_swapped(client, filled, decided, tmp_path):
    desk, (draft, sha256) = filled.desk, decided
    before = pieces(client.get(f"/job/{filled.job}").text)[draft]
    named = f"memo_00.wav #{sha256[:12]}"
    assert named in client.get(f"/record/{filled.job}").text
    sql(desk, *SWAP)
    assert named in client.get(f"/record/{filled.job}").text
    assert pieces(client.get(f"/job/{filled.job}").text)[draft] == before
    with desk.store.session() as session:  # a correction rests on the same file as what it corrects
        entry = next(e for e in queue.entries(session, filled.job) if e.media)
        corrected = correct(session, entry.id, "61", WHO, "misread", although="looked at")
    assert (entry.sha256, corrected.sha256) == (sha256, sha256)
    out = tmp_path / "out"
    carry.export(Opened(desk.settings, desk.catalogue, desk.store), desk.vault, out)
    with (out / "data" / "csv" / "entry.csv").open(encoding="utf-8-sig", newline="") as file:
        assert {row["media_sha256"] for row in csv.DictReader(file)} == {sha256}


def test_swapped_names_are_found_also_where_the_whole_journal_was_made_anew(filled, decided):
    desk, _ = filled.desk, decided
    assert upkeep.check(desk.store, Vault(desk.settings.vault_dir)).problems == []
    sql(desk, *SWAP, "DELETE FROM event")
    with desk.store.session() as session:
        assert session.get(EventRow, 1) is None
        journal.seal_found(session)
    found = upkeep.check(desk.store, Vault(desk.settings.vault_dir)).problems
    assert any("rests on memo_00.wav, which is called memo_01.wav now" in one for one in found)


def test_nothing_is_decided_on_files_that_have_one_anothers_names(client, filled):
    """A draft that waits has its file by name alone: the swap is refused before it is sealed."""
    desk = filled.desk
    with desk.store.session(write=False) as session:
        waits = next(q for q in queue.drafts(session) if q.draft.media == "memo_00.wav")
        seen = waits.seen(desk.catalogue).to_json()
    told = {"id": waits.id, "act": "confirm", "by": WHO, "shown": seen, "because": "looked at"}
    sql(desk, *SWAP)
    answer = client.post(f"/job/{filled.job}/decide", json=told)
    assert (answer.status_code, "is not what was sealed" in answer.text) == (503, True)
    back = [one.replace("'x'", "'y'") for one in SWAP]
    sql(desk, *back)
    assert client.post(f"/job/{filled.job}/decide", json=told).status_code == 200


def test_an_entry_is_of_a_file_on_which_its_decision_rests(filled, decided):
    desk, _ = filled.desk, decided
    with desk.store.session() as session:
        rows = dict(_proof(session, "memo_01.wav"))
        assert rows == {"entry": "is of memo_01.wav, on which its decision does not rest"}
        assert dict(_proof(session, "memo_00.wav")) == {}


def _proof(session, name):
    from record.proof import Proof
    from record.reading import SessionRows

    class Other(SessionRows):
        def rows(self, table):
            for row in super().rows(table):
                yield {**row, "media": name} if table == "entry" and row["media"] else row

    for broken in Proof(Other(session)).evidence():
        if broken.what == "entry":
            yield broken.what, broken.why
