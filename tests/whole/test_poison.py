"""A folder with 20 poison files and 50 good ones: 50 drafted, 20 named, under 1.5 GB."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from record import media
from record.store import Store
from tests.whole import hostile

PROGRAM = Path(__file__).with_name("poisoned.py")
TOP = PROGRAM.parent.parent.parent
MOST = 1.5e9  # bytes
SEEDS = int(os.environ.get("COWLNOTE_POISON", "0")) or 1


def intake(home: Path, *args: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, PROGRAM, "--home", home, "intake", *args, "--json"],
        cwd=TOP,
        env={**os.environ, "PYTHONPATH": str(TOP), "PEAK": str(home.with_name("peak"))},
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
    )


@pytest.fixture
def phone(tmp_path):
    yield tmp_path / "phone"
    hostile.clear(tmp_path / "phone")


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(12, 12 + min(SEEDS, 20)))
def test_twenty_poison_files_stop_none_of_fifty_good_ones(tmp_path, phone, seed):
    bad, good = hostile.make(phone, seed)
    home = tmp_path / "home"
    home.mkdir()
    (home / "aircraft.toml").write_text('registration = "N0417Q"\n', "utf-8")
    ran = intake(home, phone)
    assert ran.returncode == 8, ran.stderr
    assert "Traceback" not in ran.stderr
    told = json.loads(ran.stdout)
    assert told["memos"] + told["photos"] == len(good) == 50
    named = {Path(one["file"]).name for one in told["left"]}
    assert named >= set(bad)
    assert all("\n" not in one["why"] for one in told["left"])
    store = Store.open(home, read_only=True)
    with store.session(write=False) as session:
        states = Counter(m.state for m in media.media(session))
    store.close()
    assert states["heard"] == 50
    assert states["kept"] == 0  # nothing is left that a later run would stumble over
    assert int(home.with_name("peak").read_text("ascii")) < MOST
    again = intake(home, phone)
    assert again.returncode == 8, again.stderr
    assert json.loads(again.stdout)["memos"] == 0


def mangled(chance: random.Random, body: bytes) -> bytes:
    """Change some bytes, cut some out, or put some in."""
    made = bytearray(body)
    for _ in range(chance.choice((1, 4, 40))):
        at = chance.randrange(len(made))
        match chance.randrange(3):
            case 0:
                made[at] = chance.randrange(256)
            case 1:
                del made[at : at + chance.choice((1, 9, 400))]
            case _:
                made[at:at] = chance.randbytes(chance.choice((1, 9, 400)))
        if len(made) < 16:
            break
    return bytes(made)


@pytest.mark.slow
def test_mangled_files_are_read_or_named_and_never_a_fault(tmp_path):
    """As `SEEDS` is raised, more of them: 40 in the suite, and `COWLNOTE_POISON` times as many."""
    hostile.make(tmp_path / "good", 5, deep=0)
    whole = [p for p in sorted((tmp_path / "good").iterdir()) if p.is_file() and not p.is_symlink()]
    chance = random.Random(2026)
    folder = tmp_path / "phone"
    folder.mkdir()
    for number in range(40 * SEEDS):
        victim = chance.choice(whole)
        body = victim.read_bytes() or b"0123456789abcdef"
        (folder / f"{number:05}{victim.suffix}").write_bytes(mangled(chance, body))
    (tmp_path / "home").mkdir()
    ran = intake(tmp_path / "home", folder)
    assert ran.returncode in (0, 8), ran.stderr
    assert "Traceback" not in ran.stderr
    told = json.loads(ran.stdout)
    assert told["memos"] + told["photos"] + len(told["left"]) >= 40 * SEEDS * 0.9
    assert int((tmp_path / "peak").read_text("ascii")) < MOST
