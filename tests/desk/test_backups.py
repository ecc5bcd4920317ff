"""Backups: made, read back, so many kept; one that cannot be read back is none."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from capture.errors import InputError
from desk import backups
from desk.opening import Opened
from tests.desk.page.conftest import fill


@pytest.fixture
def full(tmp_path: Path):
    filled = fill(tmp_path / "home")
    here = Opened(filled.desk.settings, filled.desk.catalogue, filled.desk.store)
    yield here, filled.desk.vault, tmp_path
    filled.desk.store.close()


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def test_a_backup_holds_every_byte_and_restores(full, tmp_path):
    from desk.carry import bring_in
    from desk.settings import load

    here, vault, _ = full
    out = tmp_path / "stick"
    out.mkdir()
    made = backups.make(here, vault, out, 5)
    assert (made.originals, names(out)) == (3, [made.folder.name])
    again = load(tmp_path / "restored", {})
    done = bring_in(made.folder, again)
    assert (done.originals, done.without_position) == (3, 0)
    now = datetime.now(here.settings.zone)
    assert backups.told(here.settings.home, now)[0].startswith("last good: today, read back")


def test_only_so_many_are_kept_and_nothing_else_in_the_folder_is_touched(full, monkeypatch):
    here, vault, tmp = full
    out = tmp / "stick"
    (out / "cowlnote-20200101T000000").mkdir(parents=True)  # looks like one of ours and is none
    (out / "holiday").mkdir()
    for n in range(3):
        day = datetime(2026, 3, 1 + n, 9, 0, tzinfo=here.settings.zone)
        monkeypatch.setattr(backups, "_now", lambda _zone, day=day: day)
        made = backups.make(here, vault, out, 2)
    assert made.removed == ("cowlnote-20260301T090000",)
    assert names(out) == [
        "cowlnote-20200101T000000",
        "cowlnote-20260302T090000",
        "cowlnote-20260303T090000",
        "holiday",
    ]


def test_a_backup_that_lacks_an_original_is_no_backup_and_the_older_one_stays(full):
    here, vault, tmp = full
    out = tmp / "stick"
    out.mkdir()
    good = backups.make(here, vault, out, 1).folder
    victim = vault.path(next(iter(vault.kept())).sha256)
    victim.unlink()
    with pytest.raises(Exception, match=r"vault|original|not"):
        backups.make(here, vault, out, 1)
    assert names(out) == [good.name]
    told, bad = backups.told(here.settings.home, datetime.now(here.settings.zone))
    assert bad
    assert "failed" in told
    assert "last good: today" in told


def test_a_backup_that_was_altered_does_not_restore(full):
    here, vault, tmp = full
    out = tmp / "stick"
    out.mkdir()
    made = backups.make(here, vault, out, 1)
    backups.prove(made.folder)
    document = made.folder / "data" / "record.json"
    raw = json.loads(document.read_text("utf-8"))
    raw["tables"]["draft"][0]["value"] = "99"
    document.write_text(json.dumps(raw), "utf-8")
    with pytest.raises(Exception, match=r".+"):
        backups.prove(made.folder)


def test_the_plan_says_when_one_is_due(full):
    here, vault, tmp = full
    out = tmp / "stick"
    out.mkdir()
    top = here.settings.home
    now = datetime.now(here.settings.zone)
    assert not backups.is_due(top, now)
    backups.set_plan(top, str(out), "7", "3")
    assert backups.is_due(top, now)
    backups.make(here, vault, out, 3)
    assert not backups.is_due(top, now + timedelta(days=6))
    assert backups.is_due(top, now + timedelta(days=8))
    for folder, days in ((str(top / "x"), "7"), ("", "7"), (str(out), "often"), (str(out), "-1")):
        with pytest.raises(InputError):
            backups.set_plan(top, folder, days, "3")


def test_the_command_makes_one_and_remembers_where(cowlnote, tmp_path):
    cowlnote("begin", "N0417Q")
    (tmp_path / "stick").mkdir()
    first = cowlnote("backup", str(tmp_path / "stick"))
    assert (first.code, "read back" in first.out) == (0, True)
    assert cowlnote("backup").code == 0
    assert cowlnote("backup", str(tmp_path / "nowhere")).code == 3
