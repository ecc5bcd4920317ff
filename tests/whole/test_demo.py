"""The whole job on the demo's invented media, by the real engines: folder to draft entry."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tomllib
import wave
from pathlib import Path

import numpy as np
import pytest

from extract.values.catalogue import Catalogue

TOP = Path(__file__).parent.parent.parent
MEDIA = TOP / "demo_media"
TRUTH = tomllib.loads((MEDIA / "truth.toml").read_text("utf-8"))
pytestmark = pytest.mark.slow


def run(home: Path, *args: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "desk", "--home", str(home), *map(str, args)],
        cwd=TOP,
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "no_proxy": "*"},
    )


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home that has taken the demo in."""
    where = tmp_path_factory.mktemp("demo")
    (where / "aircraft.toml").write_bytes((MEDIA / "aircraft.toml").read_bytes())
    phone = where / "phone"
    phone.mkdir()
    for one in (*TRUTH["memo"], *TRUTH["photo"]):
        (phone / one["file"]).write_bytes((MEDIA / one["file"]).read_bytes())
    ran = run(where, "intake", phone, "--json")
    assert ran.returncode == 0, ran.stderr
    assert json.loads(ran.stdout)["jobs"] == [1]
    return where


@pytest.fixture(scope="module")
def drafts(home: Path) -> list[dict]:
    """What was understood of it."""
    return json.loads(run(home, "drafts", "--json").stdout)


def said() -> dict[str, object]:
    fields = [f for one in (*TRUTH["memo"], *TRUTH["photo"]) for f in one["fields"]]
    return {f["name"]: f["value"] for f in fields}


def right(draft: dict, catalogue: Catalogue) -> bool:
    value = said().get(draft["name"])
    if value is None:
        return False
    kind = catalogue.fields[draft["name"]].kind_object
    text = ("yes" if value else "no") if isinstance(value, bool) else str(value)
    got = (
        ("yes" if draft["value"] else "no") if isinstance(draft["value"], bool) else draft["value"]
    )
    return kind.same(kind.parse(str(got)), kind.parse(text))


def test_what_is_sure_is_right(drafts, catalogue):
    """The one thing that must not happen: a wrong value without a doubt."""
    wrong = [d for d in drafts if not d["doubts"] and not right(d, catalogue)]
    assert wrong == []


def test_most_of_what_was_said_is_drafted(drafts, catalogue):
    names = {d["name"] for d in drafts if right(d, catalogue)}
    assert len(names) >= 0.8 * len(said()), sorted(set(said()) - names)


def test_limits_and_negations_make_no_value(drafts):
    traps = [t for one in (*TRUTH["memo"], *TRUTH["photo"]) for t in one.get("not", [])]
    for trap in traps:
        for draft in drafts:
            if draft["name"] == trap["name"]:
                assert "values" in trap
                assert str(draft["value"]) not in trap["values"], trap["why"]


def test_every_moment_is_within_its_memo_and_carries_the_profiles_offset(drafts):
    began = {one["file"]: one["began"] for one in TRUTH["memo"]}
    from datetime import datetime

    for draft in drafts:
        if draft["start"] is not None:
            at = datetime.fromisoformat(draft["said_at"])
            second = (at - began[draft["media"]]).total_seconds()
            assert second == pytest.approx(draft["start"], abs=1.0)
            assert draft["said_at"].endswith("-05:00")


def test_the_demo_command_goes_from_files_to_entry(tmp_path):
    ran = run(tmp_path, "demo")
    assert ran.returncode == 0, ran.stderr
    for said in ("WHAT WAS UNDERSTOOD", "SERVICE RECORD", "DRAFT LOGBOOK ENTRY", "Robin Vale"):
        assert said in ran.stdout
    home = Path(ran.stdout.strip().splitlines()[-1].rsplit(": ", 1)[1])
    assert (home / "record.db").is_file()
    assert "N0417Q" in run(home, "entry").stdout
    assert list(tmp_path.iterdir()) == []


def noise(path: Path, seconds: int, level: float) -> Path:
    rng = np.random.default_rng(1)
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(16_000)
        for _ in range(seconds):
            hiss = np.convolve(rng.standard_normal(16_000), np.hanning(16), "same")
            out.writeframes((np.clip(hiss * level, -1, 1) * 32767).astype("<i2").tobytes())
    return path


@pytest.mark.parametrize(("seconds", "level"), [(20, 0.0), (600, 0.05)], ids=["silence", "noise"])
def test_silence_and_ten_minutes_of_noise_make_no_draft(tmp_path, seconds, level):
    ran = run(tmp_path, "try", noise(tmp_path / "memo.wav", seconds, level), "--json")
    assert (ran.returncode, ran.stdout) == (0, "[]\n")


@pytest.mark.parametrize("cut", [0.02, 0.5])
def test_a_truncated_photo_and_memo_are_one_line_each_and_the_rest_is_taken(tmp_path, cut):
    folder = tmp_path / "phone"
    folder.mkdir()
    for name in ("IMG_0101.jpg", "hangar-06.m4a"):
        whole = (MEDIA / name).read_bytes()
        (folder / f"cut-{name}").write_bytes(whole[: int(len(whole) * cut)])
    (folder / "text.jpg").write_bytes(b"These are words and no picture at all. " * 30)
    (folder / "hangar-05.m4a").write_bytes((MEDIA / "hangar-05.m4a").read_bytes())
    ran = run(tmp_path / "home", "intake", folder, "--json")
    summary = json.loads(ran.stdout)
    left = {Path(one["file"]).name for one in summary["left"]}
    assert ran.returncode == 8
    assert left >= {"cut-hangar-06.m4a", "text.jpg"}
    said = [line for line in ran.stderr.splitlines() if line.startswith("left: ")]
    assert len(said) == len(left)
    assert "Traceback" not in ran.stderr
    assert summary["drafts"] >= 1
