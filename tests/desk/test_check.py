"""`check` as a file system check: each damage is named, none ends it, and a whole home is whole."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import tempfile
import time
from pathlib import Path

import pytest

from capture.vault import Vault
from record import journal
from record.store import Store
from tests.desk.test_rot import kept, rot
from tests.record.test_store import powerless


def edit(home: Path, *statements: str) -> None:
    """Change the record as another program could, its guards taken off and put back."""
    raw = sqlite3.connect(home / "record.db", isolation_level=None)
    guards = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
    off = raw.execute(guards).fetchall()
    for name, _ in off:
        raw.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        raw.execute(statement)
    for _, sql in off:
        raw.execute(sql)
    raw.close()


def test_a_whole_home_is_whole_and_the_check_ends_with_figures(cowlnote, record):
    ran = cowlnote("check")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("2 files (")
    assert "4 links, " in ran.out
    assert "0 problems; head " in ran.out


DAMAGE = {
    "a vault file": lambda home: rot(kept(home, "wav"), "flip"),
    "a file that is gone": lambda home: rot(kept(home, "jpg"), "gone"),
    "a note": lambda home: _note(home, name="other.wav"),
    "a note's size": lambda home: _note(home, size=7),
    "a note that is gone": lambda home: kept(home, "wav").with_suffix(".json").unlink(),
    "a note that is no text": lambda home: (
        kept(home, "wav").with_suffix(".json").write_bytes(b"\xff")
    ),
    "a file without a row": lambda home: _orphan(home),
    "something else in the vault": lambda home: (home / "vault" / "notes.txt").write_text("x"),
    "a copy that nobody sealed": lambda home: (
        kept(home, "wav").with_name(f"{kept(home, 'wav').name}.copy").write_text("0" * 64)
    ),
    "a guard": lambda home: _sql(home, "DROP TRIGGER entry_no_update"),
    "a guard put off": lambda home: _sql(
        home,
        "DROP TRIGGER entry_no_update",
        "CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN SELECT 1; END",
    ),
    "the search index": lambda home: _sql(
        home, "INSERT INTO entry_words(entry_words) VALUES ('delete-all')"
    ),
    "a table more": lambda home: _sql(home, "CREATE TABLE more (id INTEGER)"),
    "hashes swapped": lambda home: edit(
        home,
        "UPDATE media SET sha256 = 'x' || sha256",
        "UPDATE media SET sha256 = (SELECT substr(sha256, 2) FROM media AS m WHERE m.id = 2)"
        " WHERE id = 1",
    ),
    "a transcript": lambda home: edit(
        home, "UPDATE transcript SET body = replace(body, 'seventeen', 'seventy')"
    ),
    "a waiting draft": lambda home: edit(home, "UPDATE draft SET value = '71' WHERE id = 1"),
    "a number that is text": lambda home: edit(home, "UPDATE media SET size = 'many'"),
    "text that is no text": lambda home: edit(
        home, "UPDATE decision SET by = CAST(x'ff41' AS TEXT) WHERE id = 1"
    ),
    "bytes in place of JSON": lambda home: edit(home, "UPDATE event SET seals = x'00ff'"),
    "JSON of another kind": lambda home: edit(
        home, """UPDATE event SET seals = '[1]', acts = '{"a": 1}'""", "UPDATE draft SET also = '3'"
    ),
    "evidence of another kind": lambda home: edit(
        home, """UPDATE decision SET evidence = '{"media": {"m": {"sha256": []}}}'"""
    ),
    "no moment": lambda home: edit(home, "UPDATE entry SET at = 'soon', said_at = 'x'"),
    "the journal": lambda home: edit(home, "DELETE FROM event"),
}


def _sql(home: Path, *statements: str) -> None:
    raw = sqlite3.connect(home / "record.db", isolation_level=None)
    for statement in statements:
        raw.execute(statement)
    raw.close()


def _note(home: Path, **wrong: object) -> None:
    path = kept(home, "wav").with_suffix(".json")
    path.write_text(json.dumps({**json.loads(path.read_text()), **wrong}))


def _orphan(home: Path) -> None:
    lone = home.parent / "lone.amr"
    lone.write_bytes(b"#!AMR\nlone")
    Vault(home / "vault").keep(lone)


@pytest.mark.parametrize("damage", DAMAGE.values(), ids=DAMAGE.keys())
def test_each_damage_is_named_and_none_ends_the_check(cowlnote, record, home, damage):
    damage(home)
    ran = cowlnote("check")
    assert ran.code == 6, ran.err
    assert "could not be looked at" not in ran.err
    assert "looked at, " in ran.out
    assert ran.err.startswith("cowlnote: ")


def test_a_head_kept_elsewhere_shows_what_was_cut_off_or_put_back(cowlnote, record, home, tmp_path):
    """A whole home put back to how it was earlier is whole in itself; only a head tells."""
    backup = tmp_path / "backup"
    store = Store.open(home)
    backup.mkdir()
    store.backup(backup / "record.db")
    store.close()
    early = cowlnote("head").out.strip()
    assert cowlnote("add", "oil_level", "7", "--by", "Ines Invented").code == 0
    late = cowlnote("head").out.strip()
    assert cowlnote("check", "--against", late).code == 0
    assert cowlnote("check", "--against", early[:16]).code == 0
    (home / "record.db").unlink()
    for left in home.glob("record.db-*"):
        left.unlink()
    (backup / "record.db").rename(home / "record.db")
    assert cowlnote("check").code == 0
    ran = cowlnote("check", "--against", late)
    assert (ran.code, "cut off" in ran.err) == (6, True)
    number, _, seal = early.partition("-")
    other = f"{number}-{'0' * 12}"
    assert "another link" in cowlnote("check", "--against", other).err
    assert cowlnote("check", "--against", "soon").code == 3
    assert cowlnote("check", "--against", f"{number}-{seal}").code == 0


def test_the_head_in_an_export_is_one_to_compare_with(cowlnote, record, tmp_path):
    assert cowlnote("export", tmp_path / "out").code == 0
    assert cowlnote("head").out.strip().replace("-", " ") in (
        tmp_path / "out" / "bag-info.txt"
    ).read_text("utf-8")
    assert cowlnote("check", "--against", tmp_path / "out").code == 0


def test_a_check_that_was_interrupted_goes_on(cowlnote, record, home):
    done = home / "cache" / "check.txt"
    done.parent.mkdir(exist_ok=True)
    done.write_text(f"{kept(home, 'wav').name}\n", "ascii")
    ran = cowlnote("check")
    assert (ran.code, "1 file read by a check that was interrupted" in ran.err) == (0, True)
    assert not done.exists()
    done.write_text(f"{kept(home, 'wav').name}\n", "ascii")
    old = time.time() - 2 * 24 * 3600
    os.utime(done, (old, old))
    assert "interrupted" not in cowlnote("check").err


def test_a_time_that_runs_back_is_told(cowlnote, record, home, monkeypatch):
    monkeypatch.setattr("record.chain.now", lambda: "2020-01-01T08:00:00+00:00")
    monkeypatch.setattr("record.journal.now", lambda: "2020-01-01T08:00:00+00:00")
    assert cowlnote("add", "oil_level", "7", "--by", "Ines Invented").code == 0
    ran = cowlnote("check")
    assert ran.code == 0
    assert "is dated 2020-01-01T08:00:00+00:00, before the one it follows" in ran.err


def test_a_damaged_page_is_named(cowlnote, record, home):
    store = Store.open(home)
    with store.session(write=False) as session:
        assert journal.head(session)[0]
    store.close()
    path = home / "record.db"
    whole = bytearray(path.read_bytes())
    raw = sqlite3.connect(path)
    size = raw.execute("PRAGMA page_size").fetchone()[0]
    root = raw.execute("SELECT rootpage FROM sqlite_master WHERE name = 'event'").fetchone()[0]
    raw.close()
    whole[(root - 1) * size : root * size] = bytes(size)
    path.write_bytes(bytes(whole))
    ran = cowlnote("check")
    assert ran.code in (5, 6)
    assert "Traceback" not in ran.err


def test_a_home_that_may_only_be_read_is_checked(cowlnote, record, home):
    assert cowlnote("check").code == 0  # loads what another user might not be let to
    with tempfile.TemporaryDirectory() as folder:
        there = Path(folder) / "home"
        shutil.copytree(home, there)
        paths = [Path(folder), there, *there.rglob("*")]
        with powerless(*paths):
            for path in reversed(paths):
                path.chmod(0o500 if path.is_dir() else 0o400)
            ran = cowlnote("check", at=there)
            for path in paths:
                path.chmod(0o700 if path.is_dir() else 0o600)
    assert (ran.code, ran.err) == (0, "")
