"""What the benchmarks of text and speech share: running the program, and the set's own scorer.

A set is a folder with `text.json` (`id`, `words`, `fields`, `traps`) and `truth.json` (the same
with `media`, `condition`, `script`, `duration`). Its scorer, `score_speech.py` in the set or in the
folder above it, is called with the truth and a list of drafts; it prints lines of three parts:
group, figure, value.
"""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

Json = dict[str, Any]


def scorer_of(folder: Path, given: Path | None) -> Path:
    """Give the scorer that belongs to a set.

    Raises:
        SystemExit: there is none; says what to do.
    """
    places = [given] if given else [at / "score_speech.py" for at in (folder, folder.parent)]
    for place in places:
        if place.is_file():
            return place
    raise SystemExit(f"{folder}: no score_speech.py in it or above it; name one with --scorer FILE")


def memos_of(file: Path) -> list[Json]:
    """Read a set's truth.

    Raises:
        SystemExit: the file cannot be read; says which.
    """
    try:
        memos: list[Json] = json.loads(file.read_text("utf-8"))
    except (OSError, ValueError) as error:
        raise SystemExit(f"{file}: cannot be read ({error}); --set takes a set's folder") from None
    return memos


def tried(arguments: list[str], home: Path | None = None, words: str | None = None) -> list[str]:
    """Run `cowlnote try --json`; give its lines, one a readable input. Complaints go to stderr."""
    with tempfile.TemporaryDirectory() as empty:
        command = [sys.executable, "-m", "desk", "--home", str(home or empty), "try", "--json"]
        done = subprocess.run(
            [*command, *arguments], input=words, stdout=subprocess.PIPE, text=True, check=False
        )
    return done.stdout.splitlines()


def score(truth: Path, drafts: list[Json], scorer: Path, *, listed: bool = False) -> str:
    """Give what the set's scorer prints about some drafts."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "drafts.json"
        file.write_text(json.dumps(drafts), "utf-8")
        command = [sys.executable, str(scorer), str(truth), str(file)]
        more = ["--list"] if listed else []
        done = subprocess.run([*command, *more], stdout=subprocess.PIPE, text=True, check=True)
    return done.stdout


def machine() -> str:
    """Name the machine's processor and cores, and the Python."""
    model = platform.processor() or platform.machine()
    cpus = Path("/proc/cpuinfo")
    if cpus.is_file():
        names = [x for x in cpus.read_text("utf-8").splitlines() if x.startswith("model name")]
        model = names[0].split(":", 1)[1].strip() if names else model
    return f"{model}, {len(os.sched_getaffinity(0))} cores, Python {platform.python_version()}"
