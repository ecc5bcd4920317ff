"""How many MADs from the median of n earlier values a next one lies, once in twenty.

By simulation.

Prints the factors that `record/data/rules.toml` holds, with how often a fixed cut of 3.5 (Iglewicz
and Hoaglin, 1993: 3.5 / 0.6745 = 5.19 MAD) would be crossed by an engine that has not changed.

    python benchmarks/limits.py [--draws 1000000] [--seed 20261125]
"""

from __future__ import annotations

import argparse

import numpy as np

from record.trend import factor

SIZES = (3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 30)


def main() -> None:
    """Draw n earlier values and one new; print the 95 % quantile of |new - median| / MAD."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=20261125)
    parser.add_argument("--whole", action="store_true", help="of whole figures near 5 instead")
    args = parser.parse_args()
    rng = np.random.default_rng(args.seed)
    if args.whole:
        whole(rng, args.draws)
        return
    print(" n  factor  fixed 5.19 MAD crossed")
    for n in SIZES:
        earlier = rng.standard_normal((args.draws, n))
        middle = np.median(earlier, axis=1)
        mad = np.median(np.abs(earlier - middle[:, None]), axis=1)
        far = np.abs(rng.standard_normal(args.draws) - middle) / mad
        print(f"{n:2d}  {np.quantile(far, 0.95):6.2f}  {np.mean(far > 3.5 / 0.6745):.1%}")


def whole(rng: np.random.Generator, draws: int) -> None:
    """Print how often whole figures near 5 cross the limits, by their scatter, while MAD is 1."""
    print("scatter  " + "  ".join(f"n={n:<2d}" for n in SIZES[:8]))
    for spread in (0.5, 1.0, 1.25, 1.5):
        row = []
        for n in SIZES[:8]:
            drawn = np.rint(np.clip(rng.normal(5, spread, (draws, n + 1)), 0, None))
            before, now = drawn[:, :-1], drawn[:, -1]
            middle = np.median(before, axis=1)
            mad = np.maximum(np.median(np.abs(before - middle[:, None]), axis=1), 0.5)
            reach = float(factor(n)) * mad
            out = (now > middle + reach) | (now < np.maximum(0, middle - reach))
            row.append(f"{out[mad <= 1].mean():4.1%}")
        print(f"{spread:7.2f}  " + "  ".join(row))


if __name__ == "__main__":
    main()
