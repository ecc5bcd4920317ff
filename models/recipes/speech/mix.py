"""Mix adapters of one model: so much of each, brought to a rank. `mix.py OUT --rank 40 A.npz 0.7 B.npz 0.3`

The factors of several trainings are laid beside each other, and the largest parts of what they do
together are kept (singular value decomposition). Prints the share of it that is kept.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np

p = argparse.ArgumentParser(description=__doc__)
p.add_argument("out", type=Path)
p.add_argument("--rank", type=int, required=True)
p.add_argument("parts", nargs="+", help="ADAPTER SHARE ADAPTER SHARE ...")
x = p.parse_args()
held = [(np.load(a), float(s)) for a, s in zip(x.parts[::2], x.parts[1::2], strict=True)]
told = [json.loads(str(h["about"])) for h, _ in held]
base = {t.pop("base_sha256") for t in told}
assert len(base) == 1, "these were made for different models"
made, kept = {}, []
for key in held[0][0].files:
    if not key.endswith(".A"):
        continue
    name = key[:-2]
    a = np.concatenate([h[f"{name}.A"].astype(float) for h, _ in held], 0)
    b = np.concatenate([h[f"{name}.B"].astype(float) * s for h, s in held], 1)
    (qa, ra), (qb, rb) = np.linalg.qr(a.T), np.linalg.qr(b)
    u, s, v = np.linalg.svd(rb @ ra.T)
    kept.append((s[: x.rank] ** 2).sum() / (s**2).sum())
    root = np.sqrt(s[: x.rank])
    made[f"{name}.A"] = ((v[: x.rank] @ qa.T) * root[:, None]).astype(np.float16)
    made[f"{name}.B"] = ((qb @ u[:, : x.rank]) * root).astype(np.float16)
of = [{**t, "part": s} for t, (_, s) in zip(told, held, strict=True)]
about = {"base_sha256": base.pop(), "rank": x.rank, "made_of": of}
np.savez(x.out, about=json.dumps(about), **made)
print(f"kept {np.mean(kept):.3f}, least {min(kept):.3f}")
