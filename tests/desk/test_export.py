"""A record goes out as a bag and comes back the same, with originals that say nothing of where."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import bagit
import exifread

TABLES = ("job", "media", "transcript", "segment", "draft", "decision", "entry", "lab_report")


def rows(home: Path) -> dict[str, list[tuple]]:
    with sqlite3.connect(home / "record.db") as database:
        return {t: database.execute(f"SELECT * FROM {t}").fetchall() for t in TABLES}


def photo_in(out: Path) -> Path:
    return next((out / "data" / "originals").glob("*.jpg"))


def has_position(path: Path) -> bool:
    with path.open("rb") as file:
        return any(tag.startswith("GPS") for tag in exifread.process_file(file))


def test_out_and_back_in_is_the_same_record(cowlnote, record, home, tmp_path):
    out, second = tmp_path / "out", tmp_path / "second"
    assert cowlnote("export", out).code == 0
    assert bagit.Bag(str(out)).validate()
    assert cowlnote("import", out, at=second).code == 0
    assert rows(second) == rows(home)
    assert (second / "aircraft.toml").read_bytes() == (home / "aircraft.toml").read_bytes()
    here, there = (cowlnote("entry", **at).out.splitlines() for at in ({}, {"at": second}))
    assert there[:-1] == here[:-1]  # the last names the head: what stands in for what was added
    assert "Head of the record" in here[-1]
    assert cowlnote("find", "torqued", at=second).out == cowlnote("find", "torqued").out


def test_position_leaves_only_when_asked_for(cowlnote, record, tmp_path):
    bare, full = tmp_path / "bare", tmp_path / "full"
    assert "position taken out of 1 copy" in cowlnote("export", bare).out
    cowlnote("export", full, "--with-position")
    assert not has_position(photo_in(bare))
    assert has_position(photo_in(full))


def test_originals_with_position_come_back_byte_for_byte(cowlnote, record, home, tmp_path):
    out, second = tmp_path / "out", tmp_path / "second"
    cowlnote("export", out, "--with-position")
    cowlnote("import", out, at=second)
    kept = {p.name: p.read_bytes() for p in (home / "vault").rglob("*") if p.is_file()}
    again = {p.name: p.read_bytes() for p in (second / "vault").rglob("*") if p.is_file()}
    assert {k: v for k, v in kept.items() if not k.endswith("json")} == {
        k: v for k, v in again.items() if not k.endswith("json")
    }


def test_an_import_passes_the_check_with_copies_standing_in(cowlnote, record, tmp_path):
    out, second = tmp_path / "out", tmp_path / "second"
    cowlnote("export", out)
    cowlnote("import", out, at=second)
    assert cowlnote("check", at=second).code == 0


def test_an_import_can_be_exported_again(cowlnote, record, tmp_path):
    first, second, third = tmp_path / "out", tmp_path / "second", tmp_path / "again"
    cowlnote("export", first)
    cowlnote("import", first, at=second)
    assert cowlnote("export", third, at=second).code == 0
    assert photo_in(third).read_bytes() == photo_in(first).read_bytes()


def test_a_home_with_a_record_takes_nothing_in(cowlnote, record, home, tmp_path):
    cowlnote("export", tmp_path / "out")
    before = rows(home)
    assert cowlnote("import", tmp_path / "out").code == 7
    assert rows(home) == before


def test_a_damaged_export_is_refused_and_leaves_no_record(cowlnote, record, tmp_path):
    out, second = tmp_path / "out", tmp_path / "second"
    cowlnote("export", out)
    text = (out / "data" / "record.json").read_text("utf-8")
    (out / "data" / "record.json").write_text(text.replace("17", "18"), "utf-8")
    ran = cowlnote("import", out, at=second)
    assert (ran.code, ran.err.count("\n")) == (6, 1)
    assert not (second / "record.db").exists()


def test_an_import_killed_midway_can_be_run_again(cowlnote, record, home, tmp_path, monkeypatch):
    from record import dump

    out, second = tmp_path / "out", tmp_path / "second"
    cowlnote("export", out)
    with monkeypatch.context() as patch:
        patch.setattr(dump, "fill", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt()))
        cowlnote("import", out, at=second)
    assert cowlnote("import", out, at=second).code == 0
    assert rows(second) == rows(home)


def test_entries_are_there_as_pdf_and_as_text(cowlnote, record, tmp_path):
    cowlnote("export", tmp_path / "out")
    papers = tmp_path / "out" / "data" / "entries"
    assert (papers / "job-0001.pdf").read_bytes().startswith(b"%PDF-")
    assert "DRAFT LOGBOOK ENTRY" in (papers / "job-0001.txt").read_text("utf-8")


def test_a_folder_that_is_there_is_left_alone(cowlnote, record, tmp_path):
    (tmp_path / "out").mkdir()
    assert cowlnote("export", tmp_path / "out").code == 3
    assert list((tmp_path / "out").iterdir()) == []
