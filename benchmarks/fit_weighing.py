"""Fits what a proposal of the trained reader is worth (extract/data/weighing.toml).

`python benchmarks/fit_weighing.py HANDS FOLDS --plan FILE`

HANDS is the folder of marked notes, FOLDS that with `fold-N/` of models/recipes/reading/train.py,
and the plan the list of lists of sources by fold that it was given. Each note is read by the reader
that had not met its hand. Prints [values] and [states], and how often proposals of each likelihood
are right, each fifth of the hands judged by the others.
"""

from __future__ import annotations

import argparse
import json
import sys
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import GroupKFold

sys.path.append(str(Path(__file__).parent.parent / "models/recipes/reading"))

import marks

from extract.claims import encoder
from extract.claims.proposals import Proposal
from extract.read import statements_of
from extract.values.catalogue import load

YEAR = 2026
EDGES = (0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 1.01)
# the writers of the first files were not asked to mark these
LATE = (
    "defect", "remark", "old_gasket_removed", "gasket_oiled", "oil_cap_tight", "tools_counted",
    "oil_kind",
)  # fmt: skip


def is_right(one: Proposal, note: dict[str, Any]) -> bool | None:
    """Say whether a proposal is what a note states; None where that is arguable."""
    arguable = False
    for truth in note["fields"]:
        if truth["name"] != one.name:
            continue
        arguable = arguable or bool(truth.get("optional"))
        here = truth["position"] is None or str(truth["position"]) == str(one.position)
        if here and any(same(one, v, truth) for v in [truth["value"], *truth.get("also", [])]):
            return None if truth.get("optional") else True
    return None if arguable else False


def same(one: Proposal, value: Any, truth: dict[str, Any]) -> bool:
    """Say whether a proposed value is a marked one."""
    if isinstance(one.value, bool):
        return one.value == value
    if isinstance(one.value, date):
        return one.value.isoformat() == value
    if isinstance(one.value, str):
        return one.value.replace(" ", "") == str(value).replace(" ", "")
    slack = 0.0 if truth["unit"] == "h" else abs(float(value)) * 1e-4
    return abs(float(one.value) - float(value)) <= max(truth["tol"], slack)


def proposals(
    hands: Path, folds: Path, plan: list[list[str]]
) -> list[tuple[str, str, Proposal, Any]]:
    """Give (source, words, proposal, right or not) of every note."""
    catalogue, made = load(), []
    for file in sorted(hands.glob("hands-*.txt")):
        fold = next((n for n, sources in enumerate(plan) if file.stem in sources), None)
        if fold is None or not (folds / f"fold-{fold}").is_dir():
            continue
        encoder.FOLDER = folds / f"fold-{fold}"
        for _, _, line in marks.read([file]):
            note = marks.note(line)
            doc = statements_of(note["words"], catalogue, YEAR)
            made += [
                (file.stem, note["words"], p, is_right(p, note))
                for p in doc._.proposed
                if p.name not in LATE
            ]
    return made


def main() -> None:
    """Read, fit and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("hands", type=Path)
    parser.add_argument("folds", type=Path)
    parser.add_argument("--plan", type=Path, required=True)
    given = parser.parse_args()
    found = proposals(given.hands, given.folds, json.loads(given.plan.read_text("utf-8")))
    stated = {(words, p.name) for _, words, p, right in found if right}
    for which in ("values", "states"):
        rows = [
            (source, p.signs, right)
            for source, words, p, right in found
            if right is not None
            and ("state" in p.signs) == (which == "states")
            # an earlier value of a field whose later one is right is settled afterwards
            and not (not right and (words, p.name) in stated and p.by_model > 0.5)
        ]
        fit(which, rows)


def fit(which: str, rows: list[tuple[str, dict[str, float], bool]]) -> None:
    """Fit one table and print it, with how often proposals of each likelihood are right."""
    names = sorted({name for _, signs, _ in rows for name in signs})
    x = np.array([[signs.get(name, 0.0) for name in names] for _, signs, _ in rows])
    y = np.array([right for *_, right in rows])
    model = LogisticRegression(C=1.0, max_iter=3000)
    p = np.zeros(len(y))
    for train, test in GroupKFold(5).split(x, y, [source for source, *_ in rows]):
        p[test] = model.fit(x[train], y[train]).predict_proba(x[test])[:, 1]
    model.fit(x, y)
    print(f"[{which}]  # {len(y)} proposals, {y.mean():.3f} of them right")
    print(f"bias = {model.intercept_[0]:.3f}")
    for name, weight in zip(names, model.coef_[0], strict=True):
        print(f"{name} = {weight:.3f}")
    for low, high in pairwise(EDGES):
        here = (p >= low) & (p < high)
        if here.any():
            print(f"# {low:.2f} to {min(high, 1):.2f}: {here.sum():5} {y[here].mean():.3f} right")
    print()


if __name__ == "__main__":
    main()
