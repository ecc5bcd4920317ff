"""What lies in the vault without a row is taken back, and what is derived is made anew."""

from __future__ import annotations

import sqlite3
from datetime import date

from capture.vault import Vault
from record import lab, reports
from record.store import Store
from tests.desk.test_check import _note, _orphan
from tests.desk.test_rot import kept, rot


def test_a_file_that_a_kill_left_without_a_row_comes_back(cowlnote, home, folder, engines):
    """Killed between vault and row: intake says so, recover takes it in, the next run reads it."""
    first, second = sorted(folder.glob("*.wav"))
    cowlnote("intake", second)
    Vault(home / "vault").keep(first)
    assert cowlnote("check").code == 6
    assert "1 in the vault and not in the record" in cowlnote("intake", second).err
    ran = cowlnote("recover")
    assert (ran.code, f"taken back: {first.name}" in ran.out) == (0, True)
    assert cowlnote("check").code == 0
    assert cowlnote("intake", second).code == 0
    assert first.name in cowlnote("jobs", "--all").out + cowlnote("jobs", "--job", "1").out
    assert cowlnote("check").code == 0


def test_notes_and_index_are_made_anew(cowlnote, record, home):
    _note(home, name="other.wav", kind="photo")
    with sqlite3.connect(home / "record.db") as raw:
        raw.execute("INSERT INTO entry_words(entry_words) VALUES ('delete-all')")
    raw.close()
    assert cowlnote("check").code == 6
    ran = cowlnote("recover")
    assert (ran.code, "notes written anew from the record: 1" in ran.out) == (0, True)
    assert cowlnote("check").code == 0
    assert "leak" in cowlnote("find", "leak").out


def test_what_rotted_or_is_nothing_of_ours_is_left_and_named(cowlnote, record, home):
    _orphan(home)
    rot(kept(home, "lone.amr"))
    ran = cowlnote("recover")
    assert (ran.code, "left: lone.amr: its bytes have changed" in ran.err) == (8, True)


def test_a_file_whose_note_is_gone_is_known_by_its_bytes(cowlnote, record, home):
    _orphan(home)
    kept(home, "lone.amr").with_suffix(".json").unlink()
    assert "taken back: recovered " in cowlnote("recover").out
    assert cowlnote("check").code == 0


def test_the_photo_of_a_laboratory_report_is_no_lost_file(cowlnote, record, home, tmp_path, photo):
    file = Vault(home / "vault").keep(photo(tmp_path / "report.jpg"))
    told = {"source": f"photo report.jpg {file.sha256}"}
    made = reports.make("South Lab", date(2026, 3, 14), {"Fe": "20"}, **told)
    store = Store.open(home)
    with store.session() as session:
        lab.add(session, made, "Ines Invented")
    store.close()
    assert cowlnote("recover").out == "search index made anew; files taken back: 0\n"
    assert file.sha256[:12] not in cowlnote("check").err
