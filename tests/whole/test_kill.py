"""A kill at any moment loses nothing, doubles nothing and leaves nothing half written."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from capture.vault import Vault
from desk import upkeep
from record import aside
from record.store import Store

PROGRAM = Path(__file__).with_name("stand_in.py")
TOP = PROGRAM.parent.parent.parent


def heeds_ctrl_c() -> None:
    """Undo what a shell does to its background jobs: a child inherits that SIGINT is ignored."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def start(*args: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, str(PROGRAM), *map(str, args)],
        cwd=TOP,
        env={**os.environ, "PYTHONPATH": str(TOP)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=heeds_ctrl_c if os.name != "nt" else None,
    )


@pytest.fixture
def folder(tmp_path: Path, sound) -> Path:
    for number in (1, 2, 3, 4):
        sound(tmp_path / "phone" / f"REC_20260314_09100{number}.wav", 200 + 50 * number)
    return tmp_path / "phone"


@pytest.mark.slow
def test_killed_at_any_moment_the_next_run_finishes_and_nothing_is_there_twice(folder, tmp_path):
    home = tmp_path / "home"
    begin = time.perf_counter()
    whole = start("--home", tmp_path / "undisturbed", "intake", folder, "--json")
    expected, _ = whole.communicate(timeout=120)
    took = time.perf_counter() - begin
    for share in (0.3, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95):
        victim = start("--home", home, "intake", folder)
        time.sleep(took * share)
        victim.kill()
        victim.communicate(timeout=60)
        assert Vault(home / "vault").verify() == []
    last = start("--home", home, "intake", folder, "--json")
    out, err = last.communicate(timeout=120)
    assert last.returncode == 0, err
    got = json.loads(out)
    assert got["taken"] + got["already"] == json.loads(expected)["taken"] == 4
    shown = start("--home", home, "drafts", "--json").communicate(timeout=60)[0]
    names = sorted(draft["name"] for draft in json.loads(shown))
    said = ["cowling_installed", "filter_torque", "oil_added", "tach_time"]
    assert names == sorted([*said, "service_date"])  # the day is offered where nobody says it
    store = Store.open(home, read_only=True)
    assert not upkeep.check(store, Vault(home / "vault")).problems
    store.close()
    assert len(list(Vault(home / "vault").kept())) == 4


@pytest.mark.slow
def test_what_a_killed_export_left_elsewhere_is_swept_by_the_next_command(
    folder, tmp_path, monkeypatch
):
    monkeypatch.setenv("STAND_IN_S", "0")
    home, stick = tmp_path / "home", tmp_path / "stick"
    stick.mkdir()
    assert start("--home", home, "intake", folder).wait(120) == 0
    victim = start("--home", home, "export", stick / "out")
    while not (left := list(stick.glob(f"{aside.PREFIX}*/originals/*"))):
        assert victim.poll() is None, "it ended before it could be killed"
    victim.kill()
    victim.communicate(timeout=60)
    assert left[0].exists()
    away = stick.rename(tmp_path / "away")  # the stick is not in: it is not forgotten
    assert start("--home", home, "jobs").wait(60) == 0
    away.rename(stick)
    assert start("--home", home, "check").wait(60) == 0
    assert list(stick.iterdir()) == []
    assert list((home / aside.NOTES).iterdir()) == []


@pytest.mark.slow
def test_ctrl_c_ends_with_130_and_no_traceback(folder, tmp_path, monkeypatch):
    monkeypatch.setenv("STAND_IN_S", "30")
    victim = start("--home", tmp_path / "home", "intake", folder)
    assert victim.stderr
    said = []
    while "found" not in "".join(said):
        said.append(victim.stderr.readline())
        assert said[-1], "it ended before it began to hear"
    victim.send_signal(signal.SIGINT)
    _, err = victim.communicate(timeout=60)
    assert victim.returncode == 130
    assert "Traceback" not in err
