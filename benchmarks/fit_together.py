"""Fits what being heard right and being read right are worth together (data/confidence.toml).

`python benchmarks/fit_together.py HEARD.json.gz --folds DIR --plan FILE [SET=HEARINGS ...]`

HEARD is what models/recipes/reading/heard.py wrote of training notes; each is read by the fold's
reader that had not met its hand (`fold-N` in DIR; the plan as for fit_weighing.py). SET is a folder
with truth.json, HEARINGS one transcript a memo, read by the reader of the program; its memos should
be of hands that it has not met, and weigh as much as HEARD. Prints `[together]`, how it holds, and
how often what is sure is wrong.
"""

from __future__ import annotations

import argparse
import gzip
import json
import math
import sys
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from fit_confidence import right
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import GroupKFold

sys.path.append(str(Path(__file__).parent.parent / "models/recipes/reading"))

import marks

from capture.observed import Transcript, transcript_from_json
from extract.claims import encoder
from extract.read import verdicts
from extract.values.catalogue import load
from extract.values.known import Known
from extract.witness.confidence import signs
from extract.words.lists import logistic, table

FINDINGS = ("defect", "remark")
KNOWN = Known(on=date(2026, 6, 1))
EDGES = (0, 0.1, 0.2, 0.3, 0.4, 0.51, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 1.01)


@dataclass(frozen=True, slots=True)
class Row:
    """One heard value: whose, the log odds of heard times read, whether right, sure, of a set."""

    note: str
    odds: float
    right: bool
    firm: bool
    of_set: bool


def rows_of(note: str, heard: Transcript, fields: list[dict[str, Any]], of_set: bool) -> list[Row]:
    """Give a row for each value that the hearings of a note have; what is arguable is left out."""
    made = []
    memo = {"fields": [f for f in fields if not f.get("optional")]}
    arguable = {f["name"] for f in fields if f.get("optional")}
    for verdict, draft in verdicts(heard, load(), KNOWN):
        barred = len(verdict.barred_models) > len(verdict.field_models)
        if barred or draft.name in FINDINGS or draft.name in arguable:
            continue
        both = logistic(signs(verdict), table("confidence")["weights"]) * (1 - verdict.risk)
        both = min(0.999, max(0.001, both))
        torn = verdict.barred_models or verdict.other_values or len(verdict.value_models) < 2
        made.append(
            Row(
                note,
                math.log(both / (1 - both)),
                right(draft, memo),
                not torn and not draft.doubts,
                of_set,
            )
        )
    return made


def read_all(given: argparse.Namespace) -> list[Row]:
    """Read the heard training notes by the folds' readers, then the sets by the program's own."""
    plan = json.loads(given.plan.read_text("utf-8"))
    own, made = encoder.FOLDER, []
    for n, memo in enumerate(json.loads(gzip.decompress(given.heard.read_bytes()))):
        fold = next((k for k, group in enumerate(plan) if memo["source"] in group), None)
        if fold is None:
            continue
        encoder.FOLDER = given.folds / f"fold-{fold}"
        heard = transcript_from_json(memo["transcript"])
        made += rows_of(f"heard {n}", heard, marks.note(memo["line"])["fields"], False)
    encoder.FOLDER = own
    for pair in given.sets:
        folder, hearings = map(Path, pair.split("="))
        for memo in json.loads((folder / "truth.json").read_text("utf-8")):
            heard = json.loads((hearings / f"{memo['media']}.json").read_text("utf-8"))
            note = memo.get("note", memo["media"])
            made += rows_of(note, transcript_from_json(heard), memo["fields"], True)
    return made


def main() -> None:
    """Read, fit and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("heard", type=Path)
    parser.add_argument("sets", nargs="*", help="SET=HEARINGS")
    parser.add_argument("--folds", type=Path, required=True)
    parser.add_argument("--plan", type=Path, required=True)
    given = parser.parse_args()
    rows = read_all(given)
    x, y = np.array([[r.odds] for r in rows]), np.array([r.right for r in rows])
    sets = np.array([r.of_set for r in rows])
    weight = np.where(sets, (~sets).sum() / max(1, sets.sum()), 1.0)
    p = np.zeros(len(y))
    for train, test in GroupKFold(8).split(x, y, [r.note for r in rows]):
        part = LogisticRegression(C=10).fit(x[train], y[train], sample_weight=weight[train])
        p[test] = part.predict_proba(x[test])[:, 1]
    whole = LogisticRegression(C=10).fit(x, y, sample_weight=weight)
    print(f"[together]  # {len(y)} values, {y.mean():.3f} of them right")
    print(f"bias = {whole.intercept_[0]:.3f}\nodds = {whole.coef_[0][0]:.3f}")
    for low, high in pairwise(EDGES):
        cells = []
        for some in (~sets, sets):
            here = (p >= low) & (p < high) & some
            cells.append(f"{here.sum():5} {y[here].mean() if here.any() else float('nan'):.3f}")
        print(f"# {low:.2f}: training notes {cells[0]}, sets {cells[1]} right")
    firm = np.array([r.firm for r in rows])
    for level in (0.85, 0.9, 0.92, 0.95):
        some = firm & (p >= level)
        print(
            f"# sure at {level}: training notes {(some & ~sets).sum()}, "
            f"{(some & ~sets & ~y).sum()} wrong; sets {(some & sets).sum()}, "
            f"{(some & sets & ~y).sum()} wrong"
        )


if __name__ == "__main__":
    main()
