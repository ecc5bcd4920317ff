"""How many MADs from the median of n earlier values a next one lies, once in twenty.

By simulation.

Prints the factors that `record/data/rules.toml` holds, with how often a fixed cut of 3.5 (Iglewicz
and Hoaglin, 1993: 3.5 / 0.6745 = 5.19 MAD) would be crossed by an engine that has not changed.

    python benchmarks/limits.py [--draws 1000000] [--seed 20261125]
"""

from __future__ import annotations

import argparse

import numpy as np

SIZES = (3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 30)


def main() -> None:
    """Draw n earlier values and one new; print the 95 % quantile of |new - median| / MAD."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=20261125)
    args = parser.parse_args()
    rng = np.random.default_rng(args.seed)
    print(" n  factor  fixed 5.19 MAD crossed")
    for n in SIZES:
        earlier = rng.standard_normal((args.draws, n))
        middle = np.median(earlier, axis=1)
        mad = np.median(np.abs(earlier - middle[:, None]), axis=1)
        far = np.abs(rng.standard_normal(args.draws) - middle) / mad
        print(f"{n:2d}  {np.quantile(far, 0.95):6.2f}  {np.mean(far > 3.5 / 0.6745):.1%}")


if __name__ == "__main__":
    main()
