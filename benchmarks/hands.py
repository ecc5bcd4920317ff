"""How rightly marked notes are read: precision, recall, silent errors, by whose notes they are.

`python benchmarks/hands.py NOTES... --scorer FILE [--reader FOLDER]`

NOTES are files or folders of marked notes (form: models/recipes/reading/marks.py). Findings are
left out: their wording is no value to compare. --reader names another trained reader, such as one
that has not met these hands (`fold-N` of models/recipes/reading/train.py).
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from datetime import date
from pathlib import Path
from typing import Any

from scoring import machine, score

sys.path.append(str(Path(__file__).parent.parent / "models/recipes/reading"))

import marks

from extract.claims import encoder
from extract.read import read_sentence
from extract.values.catalogue import load
from extract.values.known import Known

FINDINGS = ("defect", "remark")


def files_of(given: list[Path]) -> list[Path]:
    """Give the files of marked notes that are named, or that lie in the folders that are."""
    return [f for g in given for f in (sorted(g.glob("hands-*.txt")) if g.is_dir() else [g])]


def notes_of(files: list[Path]) -> list[dict[str, Any]]:
    """Read marked notes in the form that the scorer takes."""
    made = []
    for file, number, line in marks.read(files):
        note = marks.note(line)
        kept = {
            part: [one for one in note[part] if one["name"] not in FINDINGS]
            for part in ("fields", "traps")
        }
        source = Path(file).stem
        made.append(
            {
                "id": f"{source}-{number}",
                "condition": source,
                "snr_db": None,  # words, and no sound
                "words": note["words"],
                **kept,
            }
        )
    return made


def main() -> None:
    """Read, score and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("notes", type=Path, nargs="+")
    parser.add_argument("--scorer", type=Path, required=True)
    parser.add_argument("--reader", type=Path)
    given = parser.parse_args()
    if given.reader:
        encoder.FOLDER = given.reader
    catalogue, known = load(), Known(on=date(2026, 6, 1))
    notes = notes_of(files_of(given.notes))
    drafts = [
        {**draft.to_json(), "media": note["id"]}
        for note in notes
        for draft in read_sentence(note["words"], catalogue, known)
    ]
    print(machine())
    with tempfile.TemporaryDirectory() as folder:
        truth = Path(folder) / "truth.json"
        truth.write_text(json.dumps(notes), "utf-8")
        print(score(truth, drafts, given.scorer), end="")


if __name__ == "__main__":
    main()
