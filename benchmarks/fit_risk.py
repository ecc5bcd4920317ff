"""Fits the risk that a sentence is misread whatever its rules say, on words with their truth.

    python benchmarks/fit_risk.py TEXT.json ... [--ordinary TEXT.json ...] [--plot FILE]

Prints weights for extract/data/risk.toml. All sets are fitted; how sure a draft is, is levelled on
those behind `--ordinary`: notes as people leave them, and not sentences picked to be hard.

Use sets that the rules were not written for: on a set that was mended until nothing failed there is
nothing left to learn.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
from fit_confidence import plot_of, reliability, right
from sklearn.linear_model import LogisticRegression
from sklearn.metrics import roc_auc_score
from sklearn.model_selection import GroupKFold

from extract.read import read_sentence, statements_of
from extract.talk.statements import page
from extract.values.catalogue import load
from extract.witness import risk


def main(argv: list[str]) -> None:
    """Read every sentence, fit on all statements, print."""
    catalogue = load()
    found, wrong, draft, memos, plain, usual = [], [], [], [], [], []
    cut = argv.index("--ordinary") if "--ordinary" in argv else 0
    files = [a for a in argv if a.endswith(".json")]
    ordinary = [a for a in argv[cut:] if a.endswith(".json")]
    for name in files:
        for memo in json.loads(Path(name).read_text(encoding="utf-8")):
            doc = statements_of(memo["words"], catalogue, None)
            outline = page(doc._.outline, catalogue)
            met = {d.slot: d for d in read_sentence(memo["words"], catalogue)}
            for one in doc._.weighed:
                found.append(risk.signs(outline, doc._.judged, one, doc._.weighed))
                wrong.append(not right(one, memo))
                draft.append(not right(met.get((one.name, one.position), one), memo))
                memos.append(f"{name}/{memo['id']}")
                plain.append(not one.doubts)
                usual.append(name in ordinary)
    names = list(found[0])
    x, y = np.array([[row[n] for n in names] for row in found]), np.array(wrong)
    model = LogisticRegression(C=1.0, max_iter=3000)
    p = np.zeros(len(y))
    for train, test in GroupKFold(10).split(x, y, memos):
        p[test] = model.fit(x[train], y[train]).predict_proba(x[test])[:, 1]
    print(f"{len(y)} statements, {y.sum()} wrong, area under the curve {roc_auc_score(y, p):.2f}")
    # two statements of one field meet in one draft, which is wrong less often than each of them
    kept = (p < risk.DROP) & np.array(usual)
    odds = np.log(p / (1 - p))[:, None]
    level = LogisticRegression(C=1e6).fit(odds[kept], np.array(draft)[kept])
    level_p = level.predict_proba(odds[kept])[:, 1]
    reliability(1 - level_p, ~np.array(draft)[kept], "read right", plot_of(argv))
    p, y = p[plain], y[plain]  # what no rule doubts
    print(f"without a doubt {len(y)}, {y.sum()} wrong")
    for share in (0.1, 0.15, 0.2, 0.25):
        limit = np.quantile(p, 1 - share)
        print(f"doubt {limit:.3f}: {share:.0%} doubted, {(y & (p >= limit)).sum()} wrong caught")
    print(f"[draft]\nbias = {level.intercept_[0]:.3f}\nodds = {level.coef_[0][0]:.3f}\n")
    model.fit(x, np.array(wrong))
    print(f"[weights]\nbias = {model.intercept_[0]:.3f}")
    for name, weight in zip(names, model.coef_[0], strict=True):
        print(f"{name} = {weight:.3f}")


if __name__ == "__main__":
    main(sys.argv[1:])
