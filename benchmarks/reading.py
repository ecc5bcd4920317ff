"""How rightly words become drafts: text, recorded hearings, or the whole program on recordings.

`python benchmarks/reading.py SET [--hearings DIR] [--only MODEL] [--speech] [--score FILE]`

SET is a folder with `text.json` (words and true fields) and perhaps `truth.json` (recordings). Text
is read in this process. With `--hearings DIR` (NAME.json a recording, as capture.observed writes
it) or `--speech` (through `cowlnote try --json`, the real engine) the recordings are read as well;
`--only MODEL` keeps the first hearing of one model, for a baseline. The figures are printed by the
set's own scorer: `--score FILE`, or `score_speech.py` in SET or the folder above it.
"""

from __future__ import annotations

import argparse
import json
import platform
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from capture.observed import Transcript, transcript_from_json
from extract.catalogue import Catalogue, load
from extract.read import read_memo, read_sentence


def read_text(memos: list[dict[str, Any]], catalogue: Catalogue) -> list[dict[str, Any]]:
    """Read every memo's words; `media` is its id, as the scorer wants it."""
    return [
        {**draft.to_json(), "media": memo["id"]}
        for memo in memos
        for draft in read_sentence(memo["words"], catalogue)
    ]


def read_hearings(
    memos: list[dict[str, Any]], folder: Path, catalogue: Catalogue, only: str | None
) -> list[dict[str, Any]]:
    """Read every memo that has a recorded transcript."""
    made = []
    for memo in memos:
        path = folder / f"{memo['media']}.json"
        if not path.exists():
            print(f"no hearing of {memo['media']}", file=sys.stderr)
            continue
        transcript = transcript_from_json(json.loads(path.read_text(encoding="utf-8")))
        if only:
            transcript = first_of(transcript, only)
        made += [draft.to_json() for draft in read_memo(transcript, catalogue)]
    return made


def first_of(transcript: Transcript, model: str) -> Transcript:
    """Keep the first hearing of one model: a single decoding, as a baseline."""
    kept = [hearing for hearing in transcript.hearings if hearing.model == model]
    return replace(transcript, hearings=tuple(kept[:1]))


def read_recordings(memos: list[dict[str, Any]], folder: Path) -> list[dict[str, Any]]:
    """Put every recording through the program, the engine included."""
    paths = [str(folder / memo["media"]) for memo in memos]
    run = subprocess.run(
        [Path(sys.executable).parent / "cowlnote", "try", "--json", *paths],
        capture_output=True,
        text=True,
        check=True,
    )
    return [draft for line in run.stdout.splitlines() for draft in json.loads(line)]


def show(title: str, truth: Path, drafts: list[dict[str, Any]], scorer: Path, more: bool) -> None:
    """Print the scorer's figures."""
    with tempfile.NamedTemporaryFile("w", suffix=".json", delete=False) as file:
        json.dump(drafts, file)
    extra = ["--list"] if more else []
    print(f"\n{title}")
    run = subprocess.run(
        [sys.executable, scorer, truth, file.name, *extra],
        capture_output=True,
        text=True,
        check=True,
    )
    print(run.stdout, end="")
    Path(file.name).unlink()


def main(argv: list[str]) -> None:
    """Read the set and print its figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("set", type=Path)
    parser.add_argument("--hearings", type=Path)
    parser.add_argument("--only")
    parser.add_argument("--speech", action="store_true")
    parser.add_argument("--score", type=Path)
    parser.add_argument("--list", action="store_true")
    given = parser.parse_args(argv)
    places = [given.set / "score_speech.py", given.set.parent / "score_speech.py"]
    scorer = given.score or next((p for p in places if p.exists()), places[0])
    catalogue = load()
    today = datetime.now(UTC).date().isoformat()
    print(f"{today}, {platform.machine()}, Python {platform.python_version()}")
    text, truth = given.set / "text.json", given.set / "truth.json"
    if text.exists():
        memos = json.loads(text.read_text(encoding="utf-8"))
        began = time.perf_counter()
        drafts = read_text(memos, catalogue)
        each = (time.perf_counter() - began) / len(memos)
        show(f"text, {each * 1000:.0f} ms a memo", text, drafts, scorer, given.list)
    if truth.exists() and (given.hearings or given.speech):
        memos = json.loads(truth.read_text(encoding="utf-8"))
        if given.speech:
            drafts = read_recordings(memos, given.set)
        else:
            drafts = read_hearings(memos, given.hearings, catalogue, given.only)
        name = f"speech, one hearing of {given.only}" if given.only else "speech"
        show(name, truth, drafts, scorer, given.list)


if __name__ == "__main__":
    main(sys.argv[1:])
