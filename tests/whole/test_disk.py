"""A disk that is really full, and one that may really only be read; needs leave to mount one."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from capture.vault import Vault

PROGRAM = Path(__file__).with_name("stand_in.py")
TOP = PROGRAM.parent.parent.parent
pytestmark = pytest.mark.slow


def mount(*args: object) -> None:
    ran = subprocess.run(["mount", *map(str, args)], capture_output=True, text=True, check=False)
    if ran.returncode:
        pytest.skip(f"no leave to mount a disk here: {ran.stderr.strip()}")


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 700 kB."""
    where = tmp_path / "disk"
    where.mkdir()
    if not Path("/bin/mount").exists():
        pytest.skip("no mount on this machine")
    mount("-t", "tmpfs", "-o", "size=700k", "tmpfs", where)
    yield where
    subprocess.run(["umount", str(where)], check=True)


@pytest.fixture
def folder(tmp_path: Path, sound) -> Path:
    """Three memos of 200 kB each, of which not all can fit."""
    for number in (1, 2, 3):
        sound(tmp_path / "phone" / f"REC_20260314_09100{number}.wav", 200 + 50 * number, 6.2)
    return tmp_path / "phone"


def intake(home: Path, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(PROGRAM), "--home", str(home), "intake", str(folder)],
        cwd=TOP,
        env={**os.environ, "PYTHONPATH": str(TOP)},
        capture_output=True,
        text=True,
        check=False,
    )


def complaints(ran: subprocess.CompletedProcess[str]) -> list[str]:
    return [line for line in ran.stderr.splitlines() if line.startswith("cowlnote: ")]


def test_a_full_disk_is_one_line_and_what_was_kept_is_whole(disk, folder):
    ran = intake(disk, folder)
    assert ran.returncode == 5
    assert len(complaints(ran)) == 1
    assert "full" in complaints(ran)[0]
    assert Vault(disk / "vault").verify() == []
    mount("-o", "remount,size=4m", disk)
    assert intake(disk, folder).returncode == 0
    assert len(list(Vault(disk / "vault").kept())) == 3


def test_a_read_only_disk_is_one_line(disk, folder):
    mount("-o", "remount,ro", disk)
    ran = intake(disk, folder)
    assert ran.returncode == 5
    assert len(complaints(ran)) == 1
    assert "Traceback" not in ran.stderr
