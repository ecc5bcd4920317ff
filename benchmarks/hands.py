"""How rightly marked notes are read: precision, recall, silent errors, by whose notes they are.

`python benchmarks/hands.py NOTES... --scorer FILE [--only rules|model] [--reader FOLDER]`

NOTES are files or folders of marked notes (form: models/recipes/reading/marks.py). Findings are
left out: their wording is no value to compare. --only shows one reader by itself: `rules`, every
field by its cues as a field of a mechanic's own is read, or `model`, what the trained reader takes
each number and state for, unweighed. --reader names another trained reader, such as one that has
not met these hands (`fold-N` of models/recipes/reading/train.py). Shares of all notes are given
with a 95 % interval (Wilson's score, as if each draft stood for itself).
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from math import sqrt
from pathlib import Path
from typing import Any

from scoring import machine, score

sys.path.append(str(Path(__file__).parent.parent / "models/recipes/reading"))

import marks

from extract.claims import encoder
from extract.claims.cues import doubtful, read_by_cues
from extract.claims.weighing import level
from extract.read import draft_of, read_sentence, statements_of
from extract.settle.settled import statement_of
from extract.values.catalogue import load
from extract.values.draft import Draft
from extract.values.known import Known

FINDINGS = ("defect", "remark")
ON = date(2026, 12, 31)  # of the notes is the year known, and no day of work is still to come
_SHARE = re.compile(r"^all (\w+) [\d.]+ \((\d+)/(\d+)\)$")
_Z = 1.96


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


def drafts_of(words: str, catalogue: Any, only: str | None) -> Iterator[Draft]:
    """Read a note by both readers, or by one of them alone."""
    if only is None:
        yield from read_sentence(words, catalogue, Known(on=ON))
        return
    doc = statements_of(words, catalogue, ON.year)
    if only == "rules":
        cued = read_by_cues(doc._.outline, catalogue, catalogue.fields, ON.year)
        found = [doubtful(one.statement) for one in cued]
    else:
        stated = [p for p in doc._.proposed if p.by_model >= 0.5]
        told = [statement_of(p, p.by_model, doc) for p in stated]
        found = [s if s.chance >= level("doubt") else s.doubted("not sure") for s in told]
    doc._.statements = tuple(replace(s, signs={**s.signs, "chance": s.chance}) for s in found)
    yield from (draft_of(doc, s, "", None) for s in doc._.statements)


def interval(right: int, of: int) -> tuple[float, float]:
    """Give Wilson's 95 % interval of a share (E. B. Wilson, 1927)."""
    share, z2 = right / of, _Z * _Z
    middle = (share + z2 / (2 * of)) / (1 + z2 / of)
    half = _Z * sqrt(share * (1 - share) / of + z2 / (4 * of * of)) / (1 + z2 / of)
    return max(0.0, middle - half), min(1.0, middle + half)


def with_intervals(scored: str) -> Iterator[str]:
    """Give the scorer's lines, the shares of all notes with their interval."""
    for line in scored.splitlines():
        found = _SHARE.match(line)
        if found is None or not int(found[3]):
            yield line
        else:
            low, high = interval(int(found[2]), int(found[3]))
            yield f"{line} 95 %: {low:.3f} to {high:.3f}"


def main() -> None:
    """Read, score and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("notes", type=Path, nargs="+")
    parser.add_argument("--scorer", type=Path, required=True)
    parser.add_argument("--only", choices=("rules", "model"))
    parser.add_argument("--reader", type=Path)
    given = parser.parse_args()
    if given.reader:
        encoder.FOLDER = given.reader
    catalogue = load()
    notes = notes_of(files_of(given.notes))
    drafts = [
        {**draft.to_json(), "media": note["id"]}
        for note in notes
        for draft in drafts_of(note["words"], catalogue, given.only)
    ]
    print(machine())
    with tempfile.TemporaryDirectory() as folder:
        truth = Path(folder) / "truth.json"
        truth.write_text(json.dumps(notes), "utf-8")
        print("\n".join(with_intervals(score(truth, drafts, given.scorer))))


if __name__ == "__main__":
    main()
