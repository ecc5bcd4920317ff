"""Fits the risk that a sentence is misread whatever its rules say, on words with their truth.

`python benchmarks/fit_risk.py TEXT.json [TEXT.json ...]` prints weights for extract/data/risk.toml.

Use sets that the rules were not written for: on a set that was mended until nothing failed there is
nothing left to learn.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
from fit_confidence import right
from sklearn.linear_model import LogisticRegression
from sklearn.metrics import roc_auc_score
from sklearn.model_selection import GroupKFold

from extract import risk
from extract.catalogue import load
from extract.read import statements_of
from extract.statements import page


def main(argv: list[str]) -> None:
    """Read every sentence, fit on the statements that carry no doubt, print."""
    catalogue = load()
    found, wrong, memos = [], [], []
    for name in argv:
        for memo in json.loads(Path(name).read_text(encoding="utf-8")):
            doc = statements_of(memo["words"], catalogue, None)
            outline = page(doc._.outline, catalogue)
            for one in doc._.statements:
                if not one.doubts:
                    found.append(risk.signs(outline, doc._.judged, one, doc._.statements))
                    wrong.append(not right(one, memo))
                    memos.append(f"{name}/{memo['id']}")
    names = list(found[0])
    x, y = np.array([[row[n] for n in names] for row in found]), np.array(wrong)
    model = LogisticRegression(C=1.0, max_iter=3000)
    p = np.zeros(len(y))
    for train, test in GroupKFold(10).split(x, y, memos):
        p[test] = model.fit(x[train], y[train]).predict_proba(x[test])[:, 1]
    print(f"{len(y)} statements, {y.sum()} wrong, area under the curve {roc_auc_score(y, p):.2f}")
    for share in (0.1, 0.15, 0.2, 0.25):
        limit = np.quantile(p, 1 - share)
        print(f"doubt {limit:.3f}: {share:.0%} doubted, {(y & (p >= limit)).sum()} wrong caught")
    model.fit(x, y)
    print(f"[weights]\nbias = {model.intercept_[0]:.3f}")
    for name, weight in zip(names, model.coef_[0], strict=True):
        print(f"{name} = {weight:.3f}")


if __name__ == "__main__":
    main(sys.argv[1:])
