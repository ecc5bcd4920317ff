"""How often each cue fires on marked notes, and how often it is right.

`python benchmarks/cues.py NOTES... [--every N] [--weak]`

NOTES are files or folders of marked notes (form: models/recipes/reading/marks.py); --every takes
each Nth of them. A line a cue: field, kind, its words; in how many notes it fires; how many of
these state its field (what a name is asked for); and, read by cues alone, how many drafts it led to
and how many of them are right. --weak shows only cues that never fire, or fire mostly in notes that
do not state their field.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from pathlib import Path
from typing import Any

from hands import ON, files_of

sys.path.append(str(Path(__file__).parent.parent / "models/recipes/reading"))

import marks
from fit_weighing import same

from extract.claims.cues import cues_in, read_by_cues
from extract.claims.proposals import Proposal
from extract.read import statements_of
from extract.talk.outline import sentences
from extract.talk.statements import Statement
from extract.values.catalogue import Catalogue, load

Row = tuple[str, str, str]  # field, kind, words


def is_right(one: Statement, note: dict[str, Any]) -> bool:
    """Say whether a statement is what a note states."""
    asked = Proposal(one.name, one.value, one.unit, one.position, 0, 0, 0.0)
    return any(
        same(asked, value, truth)
        for truth in note["fields"]
        if truth["name"] == one.name
        and (truth["position"] is None or str(truth["position"]) == str(one.position))
        for value in [truth["value"], *truth.get("also", [])]
    )


def counted(files: list[Path], every: int, catalogue: Catalogue) -> dict[str, Counter[Row]]:
    """Count by cue: notes it fires in (`fires`), that state its field, its drafts, those right."""
    made = {what: Counter[Row]() for what in ("fires", "states", "drafts", "right")}
    names = tuple(catalogue.fields)
    for n, (_, _, line) in enumerate(marks.read(files)):
        if n % every:
            continue
        note = marks.note(line)
        elements = statements_of(note["words"], catalogue, ON.year)._.outline
        found = [
            c for a, b in sentences(elements) for c in cues_in(elements, a, b, catalogue, names)
        ]
        stated = {truth["name"] for truth in note["fields"]}
        for row in {(c.owner, c.kind, c.row) for c in found}:
            made["fires"][row] += 1
            made["states"][row] += row[0] in stated
        for one in read_by_cues(elements, catalogue, names, ON.year):
            row = (one.cue.owner, one.cue.kind, one.cue.row)
            made["drafts"][row] += 1
            made["right"][row] += is_right(one.statement, note)
    return made


def rows_of(catalogue: Catalogue) -> list[Row]:
    """Give every cue of the catalogue that a note can fire."""
    made: list[Row] = []
    for name, field in catalogue.fields.items():
        made += [(name, kind, row) for kind, rows in field.cues.items() for row in rows]
        made += [(name, f"says:{c}", row) for c, rows in field.says.items() for row in rows]
    return made


def main() -> None:
    """Count and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("notes", type=Path, nargs="+")
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--weak", action="store_true")
    given = parser.parse_args()
    catalogue = load()
    found = counted(files_of(given.notes), given.every, catalogue)
    print("field kind | words | fires in, of which state the field | drafts by it alone, right")
    for row in rows_of(catalogue):
        fires, states, drafts, right = (
            found[what][row] for what in ("fires", "states", "drafts", "right")
        )
        if given.weak and fires and 2 * states >= fires:
            continue
        print(f"{row[0]} {row[1]} | {row[2]} | {fires} {states} | {drafts} {right}")


if __name__ == "__main__":
    main()
