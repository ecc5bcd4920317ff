"""The replay finds what it is there to find: a flush that is missing, and only that."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path, PurePosixPath

import pytest

from tests.whole import replay
from tests.whole.disk import Disk
from tests.whole.forked import Forks
from tests.whole.traced import OPTIONS, Follower
from tests.whole.walks import WALKS

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(shutil.which("strace") is None, reason="no strace on this machine"),
]
BEGIN = WALKS[0]

# A file is put in the place of another, as a program should; {0} and {1} are its two flushes.
PUT = """
import os, pathlib, sys
top = pathlib.Path(sys.argv[1])
with (top / "new").open("wb") as out:
    out.write(b"the new one" * 1000)
    out.flush()
    {0}
os.rename(top / "new", top / "kept")
handle = os.open(top, os.O_RDONLY)
{1}
print("done", flush=True)
"""
OLD, NEW = b"the old one", b"the new one" * 1000
FILE, NAME = "os.fsync(out.fileno())", "os.fsync(handle)"


def left(tmp_path: Path, program: str) -> tuple[set[bytes], set[bytes]]:
    """Give what a power cut may leave of the file: at any moment, and once `done` was said."""
    place, said, log = tmp_path / "place", tmp_path / "said", tmp_path / "trace"
    place.mkdir()
    (place / "kept").write_bytes(OLD)
    disk = Disk(place)
    with said.open("wb") as out:
        command = [sys.executable, "-c", program, str(place)]
        subprocess.run(["strace", *OPTIONS, "-o", str(log), *command], stdout=out, check=True)
    Follower(disk, said).follow(log)
    ever, after = set(), set()
    for cut in replay.different(BEGIN, disk, 417):
        held = replay.laid_out(disk, cut)[PurePosixPath("kept")][0] or b""
        ever.add(held)
        if disk.said(cut.at):
            after.add(held)
    assert "done" in disk.said(len(disk.done))
    return ever, after


def test_with_both_flushes_the_old_or_the_new_one_is_there_whole(tmp_path):
    ever, after = left(tmp_path, PUT.format(FILE, NAME))
    assert ever == {OLD, NEW}
    assert after == {NEW}


def test_without_the_flush_of_its_bytes_it_may_be_empty_zeros_or_half(tmp_path):
    ever, after = left(tmp_path, PUT.format("pass", NAME))
    assert b"" in after
    assert b"\0" * len(NEW) in after
    assert any(0 < held.count(b"\0") < len(NEW) for held in ever)


def test_without_the_flush_of_its_name_the_old_one_may_come_back(tmp_path):
    ever, after = left(tmp_path, PUT.format(FILE, "pass"))
    assert ever == {OLD, NEW}
    assert after == {OLD, NEW}


def test_what_is_written_through_memory_is_refused_and_not_left_out(tmp_path):
    program = """
import mmap, pathlib, sys
with (pathlib.Path(sys.argv[1]) / "kept").open("r+b") as file, mmap.mmap(file.fileno(), 0) as held:
    held[:3] = b"THE"
"""
    with pytest.raises(ValueError, match="through memory"):
        left(tmp_path, program)


@pytest.fixture
def failures(tmp_path):
    """Give a function that replays `begin` and gives what fails, with `fsync` or without."""

    def run(*, forgetful: bool) -> list[str]:
        top = tmp_path / str(forgetful)
        (top / "said").mkdir(parents=True)
        (top / "base").mkdir()
        forks = Forks(top / "said", forgetful=forgetful)
        try:
            forks.run("--home", top / "ahead", *BEGIN.args(top), learn=True)
            trials = replay.played(forks, BEGIN, {"begin": top / "base"}, top, 417)
            return [wrong for one in trials if (wrong := one.made())]
        finally:
            forks.close()

    return run


def test_a_program_that_forgets_to_flush_is_found_out_and_ours_is_not(failures):
    assert failures(forgetful=False) == []
    found = failures(forgetful=True)
    assert any("said done" in one or "aircraft.toml" in one for one in found), found
