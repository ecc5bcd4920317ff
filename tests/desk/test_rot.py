"""An original that rotted, or is gone, is named on each way out; none is laundered."""

from __future__ import annotations

import json
from pathlib import Path

import bagit
import pytest

from capture.errors import AlteredError
from capture.vault import Vault
from record.bag import DOCUMENT
from tests.desk.test_evidence import filled as filled


def kept(home: Path, ending: str) -> Path:
    """Give where an original lies in the vault, by the ending of its name in the note."""
    notes = (p for p in (home / "vault").glob("??/*.json"))
    note = next(p for p in notes if json.loads(p.read_text())["name"].endswith(ending))
    return note.with_suffix("")


def rot(path: Path, how: str = "zero") -> None:
    path.chmod(0o644)
    if how == "zero":
        path.write_bytes(bytes(path.stat().st_size))
    elif how == "flip":
        whole = bytearray(path.read_bytes())
        whole[len(whole) // 2] ^= 4
        path.write_bytes(bytes(whole))
    elif how == "cut":
        path.write_bytes(path.read_bytes()[:-1])
    else:
        path.unlink()


@pytest.mark.parametrize("how", ["zero", "flip", "cut"])
@pytest.mark.parametrize("ending", ["wav", "jpg"])
def test_an_export_of_what_rotted_says_so_and_writes_nothing(
    cowlnote, record, home, tmp_path, how, ending
):
    rot(kept(home, ending), how)
    ran = cowlnote("export", tmp_path / "out")
    assert (ran.code, ran.err.count("\n"), ran.out) == (6, 1, "")
    assert ending in ran.err
    assert not (tmp_path / "out").exists()


def test_the_rest_goes_out_when_asked_and_the_damage_is_named(cowlnote, record, home, tmp_path):
    rot(kept(home, "jpg"))
    ran = cowlnote("export", tmp_path / "out", "--leave-damaged")
    assert ran.code == 8
    assert "1 of 2 originals" in ran.out
    assert "proved" not in ran.out
    assert "position taken out" not in ran.out
    assert "IMG_0001.jpg: not what was kept" in ran.err
    assert bagit.Bag(str(tmp_path / "out")).validate()
    files = json.loads((tmp_path / "out" / "data" / DOCUMENT).read_text("utf-8"))["files"]
    assert {f["name"]: (f["file"] is None, f["position_removed"]) for f in files} == {
        "memo one.wav": (False, False),
        "IMG_0001.jpg": (True, False),
    }
    taken = cowlnote("import", tmp_path / "out", at=tmp_path / "second")
    assert (taken.code, "IMG_0001.jpg" in taken.err) == (8, True)
    assert cowlnote("check", at=tmp_path / "second").code == 6


def test_one_that_is_gone_is_named_and_the_rest_goes_out(cowlnote, record, home, tmp_path):
    rot(kept(home, "jpg"), "gone")
    ran = cowlnote("export", tmp_path / "out")
    assert (ran.code, "IMG_0001.jpg" in ran.err, "proved" in ran.out) == (8, True, False)


def test_position_is_said_to_be_taken_out_only_where_there_was_one(cowlnote, record, tmp_path):
    assert "position taken out of 1 copy\n" in cowlnote("export", tmp_path / "out").out
    files = json.loads((tmp_path / "out" / "data" / DOCUMENT).read_text("utf-8"))["files"]
    removed = {f["name"]: f["position_removed"] for f in files}
    assert removed == {"memo one.wav": False, "IMG_0001.jpg": True}


def test_a_copy_that_nobody_sealed_stands_in_for_nothing(cowlnote, record, home, tmp_path):
    photo, memo = kept(home, "jpg"), kept(home, "wav")
    rot(photo, "gone")
    photo.with_name(f"{photo.name}.copy").write_text(memo.name)
    ran = cowlnote("export", tmp_path / "out")
    assert (ran.code, "IMG_0001.jpg" in ran.err) == (8, True)


def test_papers_name_what_rotted_in_place_of_its_picture(cowlnote, filled, home, tmp_path):
    photo = kept(home, "jpg")  # the vault names it by its hash
    rot(photo)
    assert cowlnote("entry", "--pdf", tmp_path / "a.pdf", "--photos").code == 0
    ran = cowlnote("export", tmp_path / "out", "--leave-damaged")
    index = tmp_path / "out" / "data" / "entries" / "job-0001" / "index.html"
    assert ran.code == 8
    assert f"tach.jpg #{photo.name[:12]}: is not what was kept" in index.read_text("utf-8")


def test_a_note_that_says_something_else_of_its_bytes_is_made_anew(vault, sound, tmp_path):
    path = sound(tmp_path / "memo.wav")
    first = vault.keep(path)
    note = vault.path(first.sha256).with_name(f"{first.sha256}.json")
    told = json.loads(note.read_text("utf-8"))
    note.write_text(json.dumps({**told, "kind": "photo", "size": 7}), "utf-8")
    assert vault.keep(path) == first
    assert json.loads(note.read_text("utf-8")) == told


def test_proved_reads_every_byte(vault, sound, tmp_path):
    found = vault.keep(sound(tmp_path / "memo.wav"))
    assert vault.proved(found.sha256) == vault.path(found.sha256)
    rot(vault.path(found.sha256), "flip")
    with pytest.raises(AlteredError, match="bytes have changed"):
        vault.proved(found.sha256)
    with pytest.raises(AlteredError, match="not in the vault"):
        Vault(tmp_path).proved("0" * 64)
