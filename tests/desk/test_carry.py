"""In and out, where it is stopped halfway, or what comes in is not what went out."""

from __future__ import annotations

import errno
import json
import os
import shutil
import tempfile
from pathlib import Path

import bagit
import pytest

from record import aside
from tests.desk.test_export import rows


def again(bag: Path) -> None:
    """Give a bag that was changed the manifests of what it holds now."""
    bagit.Bag(str(bag)).save(manifests=True)


def change(bag: Path, **parts: object) -> None:
    where = bag / "data" / "record.json"
    where.write_text(json.dumps({**json.loads(where.read_text("utf-8")), **parts}), "utf-8")
    again(bag)


@pytest.fixture
def bag(cowlnote, record, home, tmp_path):
    (home / "aircraft").mkdir()
    (home / "aircraft" / "N0655X.toml").write_text('registration = "N0655X"\n', "utf-8")
    (home / "fields").mkdir()
    (home / "fields" / "own.toml").write_text("# nothing of our own yet\n", "utf-8")
    assert cowlnote("export", tmp_path / "out").code == 0
    return tmp_path / "out"


@pytest.mark.parametrize(
    "at", ["desk.carry._bring", "desk.carry._bring_originals", "capture.vault.Vault.stand_in"]
)
def test_an_import_killed_late_keeps_the_profile_and_goes_on(
    cowlnote, bag, home, tmp_path, monkeypatch, at
):
    second = tmp_path / "second"

    def killed(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(at, killed)
        assert cowlnote("import", bag, at=second).code == 130
    ran = cowlnote("import", bag, at=second)
    assert (ran.code, ran.err) == (0, "")
    assert rows(second) == rows(home)
    for name in ("aircraft.toml", "aircraft/N0655X.toml", "fields/own.toml"):
        assert (second / name).read_bytes() == (home / name).read_bytes()


def test_nothing_is_staged_in_the_common_temporary_folder(cowlnote, bag, tmp_path, monkeypatch):
    monkeypatch.setenv("TMPDIR", str(tmp_path / "nowhere"))
    monkeypatch.setattr(tempfile, "tempdir", None)
    assert cowlnote("import", bag, at=tmp_path / "second").code == 0


def test_an_import_that_is_there_already_says_so(cowlnote, bag, tmp_path):
    second = tmp_path / "second"
    cowlnote("import", bag, at=second)
    ran = cowlnote("import", bag, at=second)
    assert (ran.code, ran.err.count("\n")) == (7, 1)
    assert "this very record is here already" in ran.err


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ({"files": []}, "2 of the record are not in its list of files"),
        ({"revision": "9999"}, "of revision '9999'"),
        ({"version": 2}, "not as the schema says"),
    ],
)
def test_a_record_that_is_not_ours_is_one_line_and_leaves_nothing(
    cowlnote, bag, tmp_path, parts, says
):
    change(bag, **parts)
    ran = cowlnote("import", bag, at=tmp_path / "second")
    assert ran.code in (3, 6)
    assert (ran.err.count("\n"), says in ran.err) == (1, True)
    assert not (tmp_path / "second").exists()


@pytest.mark.parametrize("name", ["aircraft.toml", "aircraft/N0655X.toml", "fields/own.toml"])
def test_a_malformed_profile_is_one_line_and_leaves_nothing(cowlnote, bag, tmp_path, name):
    (bag / "data" / name).write_text("registration = = \n", "utf-8")
    again(bag)
    ran = cowlnote("import", bag, at=tmp_path / "second")
    assert (ran.code, ran.err.count("\n")) == (3, 1)
    assert Path(name).name in ran.err
    assert not (tmp_path / "second").exists()


def test_a_file_that_was_exchanged_is_named_though_its_manifest_is_new(cowlnote, bag, tmp_path):
    next((bag / "data" / "originals").glob("*.wav")).write_bytes(b"RIFF another")
    again(bag)
    ran = cowlnote("import", bag, at=tmp_path / "second")
    assert ran.code == 6
    assert "memo one.wav is not in the bag as the list of files says" in ran.err
    assert not (tmp_path / "second").exists()


def test_a_broken_chain_leaves_no_profile_and_no_file(cowlnote, bag, tmp_path):
    document = json.loads((bag / "data" / "record.json").read_text("utf-8"))
    document["tables"]["entry"][0]["heard"] = "something else"
    change(bag, tables=document["tables"])
    second = tmp_path / "second"
    assert cowlnote("import", bag, at=second).code == 6
    assert not (second / "aircraft.toml").exists()
    assert not (second / "vault").exists()


def test_an_original_that_is_missing_is_named_and_ends_with_8(
    cowlnote,
    record,
    home,
    tmp_path,
):
    for path in (home / "vault").rglob("*"):
        if path.is_file() and path.read_bytes()[:4] == b"RIFF":
            path.unlink()
    ran = cowlnote("export", tmp_path / "out")
    assert ran.code == 8
    assert "memo one.wav: not in the vault" in ran.err
    ran = cowlnote("import", tmp_path / "out", at=tmp_path / "second")
    assert ran.code == 8
    assert "memo one.wav: not in the export" in ran.err


def test_what_a_killed_export_left_is_swept_by_the_next_and_a_living_one_is_not(tmp_path):
    left = tmp_path / f"{aside.PREFIX}dead"
    (left / "originals").mkdir(parents=True)
    (left / "originals" / "IMG_0001.jpg").write_bytes(b"with a position")
    with aside.folder(tmp_path) as living:
        (living / "a").write_bytes(b"a")
        assert not left.exists()
        with aside.folder(tmp_path):
            assert (living / "a").read_bytes() == b"a"
    assert list(tmp_path.iterdir()) == []


def test_a_home_forgets_a_folder_that_is_gone_and_takes_away_no_other(tmp_path):
    home, stick = tmp_path / "home", tmp_path / "stick"
    stick.mkdir()
    with aside.folder(stick, home) as living:
        aside.sweep_noted(home)
        assert living.is_dir()
    assert list((home / aside.NOTES).iterdir()) == []
    mine = stick / "mine"
    mine.mkdir()
    for number, named in enumerate((mine, stick / f"{aside.PREFIX}gone", "")):
        (home / aside.NOTES / f"{number}.txt").write_text(str(named))
    aside.sweep_noted(home)
    assert mine.is_dir()
    assert list((home / aside.NOTES).iterdir()) == []


def test_begin_on_a_full_disk_leaves_nothing_and_can_be_run_again(cowlnote, tmp_path, monkeypatch):
    new = tmp_path / "new"

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        ran = cowlnote("begin", "N0417Q", at=new)
    assert (ran.code, ran.err.count("\n")) == (3, 1)
    assert list(new.iterdir()) == []
    assert cowlnote("begin", "N0417Q", at=new).code == 0


def test_begin_goes_on_from_an_empty_profile_that_an_earlier_version_left(cowlnote, tmp_path):
    new = tmp_path / "new"
    new.mkdir()
    (new / "aircraft.toml").touch()
    assert cowlnote("begin", "N0417Q", at=new).code == 0
    assert 'registration = "N0417Q"' in (new / "aircraft.toml").read_text("utf-8")
    shutil.rmtree(new)
