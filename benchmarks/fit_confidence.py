"""Fits the confidence of a heard value on sets with truth, and writes extract/data/confidence.toml.

    python benchmarks/fit_confidence.py SET=HEARINGS [SET=HEARINGS ...] [--write] [--plot FILE]

SET is a folder with truth.json and its scorer's idea of right (numbers within `tol`); HEARINGS a
folder with one transcript a memo (NAME.json, as capture.observed writes it). Memos whose written
words are misread are left out: this is the confidence that a thing was heard right, and
`fit_weighing.py` fits the one that it was read right. Prints the cross-validated reliability, then
what each pair of thresholds would drop and doubt.
"""

from __future__ import annotations

import datetime
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import GroupKFold

from capture.observed import transcript_from_json
from extract.read import read_sentence, verdicts
from extract.values.catalogue import Catalogue, load
from extract.values.draft import Draft, plain
from extract.witness.confidence import signs

OUT = Path(__file__).parent.parent / "extract" / "data" / "confidence.toml"


def right(draft: Draft, memo: dict[str, Any]) -> bool:
    """Say whether a draft states a true field of the memo with its value."""
    for field in memo["fields"]:
        if (field["name"], field["position"]) != (draft.name, draft.position):
            continue
        got = plain(draft.value)
        for want in [field["value"], *field.get("also", [])]:
            if isinstance(want, bool) or isinstance(got, bool):
                same = want is got
            elif isinstance(want, (int, float)):
                same = (
                    isinstance(got, (int, float))
                    and abs(got - want) <= field.get("tol", 0.05) + 1e-9
                )
            else:
                same = flat(want) == flat(got)
            if same:
                return True
    return False


def flat(value: Any) -> str:
    """Give text without case, spaces and hyphens."""
    return "".join(c for c in str(value).lower() if c not in " -")


def rows(
    pairs: list[tuple[Path, Path]],
) -> tuple[list[dict[str, float]], list[bool], list[str], list[bool]]:
    """Read every memo: signs of each value, whether it is right, its memo, whether doubted."""
    catalogue = load()
    found: list[dict[str, float]] = []
    truth: list[bool] = []
    memos: list[str] = []
    doubted: list[bool] = []
    for folder, hearings in pairs:
        for memo in json.loads((folder / "truth.json").read_text()):
            path = hearings / f"{memo['media']}.json"
            if not path.exists() or not well_read(memo, catalogue):
                continue
            transcript = transcript_from_json(json.loads(path.read_text()))
            for verdict, draft in verdicts(transcript, catalogue):
                found.append(signs(verdict))
                truth.append(right(draft, memo))
                memos.append(f"{folder.name}/{memo['media']}")
                doubted.append(bool(draft.doubts))
    return found, truth, memos, doubted


def well_read(memo: dict[str, Any], catalogue: Catalogue) -> bool:
    """Say whether a memo's written words are read rightly: nothing wrong and nothing missed."""
    drafts = read_sentence(memo["script"], catalogue)
    found = {(draft.name, draft.position) for draft in drafts}
    asked = [f for f in memo["fields"] if not f.get("optional")]
    return all(right(draft, memo) for draft in drafts) and all(
        (field["name"], field["position"]) in found for field in asked
    )


def reliability(p: np.ndarray, y: np.ndarray, title: str = "", file: Path | None = None) -> float:
    """Print, and draw where asked to, how often what is said p sure is right; give the mean error.

    `p` are probabilities, `y` booleans, both of shape (n,).
    """
    bins, error = [], 0.0
    for low in np.arange(0, 1, 0.1):
        part = (p >= low) & (p < low + 0.1 + (low > 0.85))
        if part.any():
            said, right_ = p[part].mean(), y[part].mean()
            error += part.sum() * abs(said - right_) / len(y)
            bins.append((said, right_, int(part.sum())))
            print(f"{low:.1f}  n {part.sum():4d}  said {said:.3f}  right {right_:.3f}")
    if file is not None:
        draw(bins, f"{title}: {len(y)} values, error {error:.3f}", file)
    return float(error)


def draw(bins: list[tuple[float, float, int]], title: str, file: Path) -> None:
    """Draw said against right, each point with its number of values; prints in black and white."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(figsize=(5, 5), layout="constrained")
    axes.plot([0, 1], [0, 1], color="0.7", lw=1)
    axes.plot([b[0] for b in bins], [b[1] for b in bins], color="0.1", marker="o", lw=1)
    for said, was, count in bins:
        axes.annotate(str(count), (said, was), (6, -12), textcoords="offset points", fontsize=8)
    axes.set(xlabel="confidence", ylabel="share right", xlim=(0, 1), ylim=(0, 1.02), title=title)
    figure.savefig(file, dpi=110)


def plot_of(argv: list[str]) -> Path | None:
    """Give the file named behind --plot."""
    return Path(argv[argv.index("--plot") + 1]) if "--plot" in argv else None


def main(argv: list[str]) -> None:
    """Fit, print, and write where asked to."""
    pairs = [tuple(map(Path, a.split("="))) for a in argv if "=" in a]
    found, truth, memos, doubted = rows([(a, b) for a, b in pairs])
    names = list(found[0])
    x = np.array([[row[n] for n in names] for row in found])
    y = np.array(truth)
    model = LogisticRegression(C=3.0, max_iter=5000)
    p = np.zeros(len(y))
    for train, test in GroupKFold(n_splits=8).split(x, y, memos):
        p[test] = model.fit(x[train], y[train]).predict_proba(x[test])[:, 1]
    print(f"{len(y)} values of {len(set(memos))} memos, {y.mean():.3f} right")
    error = reliability(p, y, "heard right", plot_of(argv))
    print(f"expected calibration error {error:.3f}, cross-validated")
    sure = ~np.array(doubted)
    for drop in (0.3, 0.4, 0.5, 0.6, 0.7):
        kept = p >= drop
        print(
            f"drop {drop}: kept {kept.sum()}, precision {y[kept].mean():.3f},"
            f" lost {(y & ~kept).sum()}",
            end="",
        )
        for doubt in (0.8, 0.85, 0.9, 0.93, 0.95, 0.97):
            silent = kept & sure & (p >= doubt)
            print(
                f" | {doubt}: {(silent & y).sum()}/{(kept & y).sum()} sure,"
                f" {(silent & ~y).sum()} silent",
                end="",
            )
        print()
    model.fit(x, y)
    weights = dict(zip(names, model.coef_[0], strict=True))
    lines = [
        "# Fitted by benchmarks/fit_confidence.py; the weights are those of a logistic regression.",
        f'fitted = "{datetime.datetime.now(datetime.UTC).date().isoformat()}"',
        f'sets = "{len(pairs)} sets of synthesised memos"',
        f"memos = {len(set(memos))}",
        f"fields = {len(y)}",
        f"calibration_error = {error:.3f} # cross-validated over memos",
        "",
        "[weights]",
        f"bias = {model.intercept_[0]:.3f}",
        *(f"{name} = {weight:.3f}" for name, weight in weights.items()),
        "",
        "# Below `drop` a reading is no draft; below `doubt` it carries a doubt.",
        "[thresholds]",
        "drop = 0.7",
        "doubt = 0.92",
    ]
    print("\n".join(lines))
    if "--write" in argv:
        OUT.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
