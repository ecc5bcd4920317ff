"""Decide what number drums show, given each drum's phase, by how drums carry. Pure.

A drum turns only while every drum to its right stands between 9 and 0, and by the same part. The
number is the one that has not yet been replaced: 2399.9 on its way to 2400.0 is 2399.9.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np


def _shares(weights: dict[int, float]) -> dict[int, float]:
    return {away: weight / sum(weights.values()) for away, weight in weights.items()}


SLACK = _shares(
    {-4: 0.05, -3: 0.3, -2: 1.0, -1: 1.0, 0: 1.0, 1: 1.0, 2: 1.0, 3: 0.6, 4: 0.3, 5: 0.1}
)
"""How a worn drum at rest may lean, in tenths of a digit, as shares of one: that five drums lean
back alike is then less likely than that they turn together. By eye, no source."""
LAG = {
    away: float(np.log(share))
    for away, share in _shares({-2: 0.6, -1: 0.8, 0: 1.0, 1: 0.8, 2: 0.6}).items()
}
"""Likewise how far a turning drum may be off the last one; the logarithm of the share."""


def carry(phases: list[np.ndarray]) -> tuple[dict[int, float], dict[int, float]]:
    """Weigh the numbers that drums with these phases can show, the rightmost drum last.

    Each phase is (100,), the likelihoods of 0.0 to 9.9. Gives for each number worth weighing
    (all drums as one whole number) its probability, and how far the last drum has turned.
    """
    count = len(phases)
    log = [np.log(phase + 1e-4) for phase in phases]
    rest = np.array([np.log(_tolerant(phase) + 1e-4) for phase in phases])
    scores: dict[int, list[float]] = {}
    turned: dict[int, tuple[float, float]] = {}
    for step in range(0, 10):
        part = step / 10
        for chain in range(count if step else 1):  # drums on the right that stand between 9 and 0
            options: list[np.ndarray] = []
            for place in range(count):
                back = count - 1 - place
                if step and back <= chain:
                    score = np.array(
                        [_near(log[place], digit * 10 + step, back) for digit in range(10)]
                    )
                    if back < chain:
                        score[[d for d in range(10) if d != 9]] = -1e3
                    else:
                        score[9] = -1e3 if place else score[9]
                else:
                    score = (
                        rest[place]
                        if back
                        else np.array([_still(log[place], d) for d in range(10)])
                    )
                options.append(score)
            for digits, fit in _ways(options):
                value = int("".join(map(str, digits)))
                scores.setdefault(value, []).append(fit)
                turned[value] = max(turned.get(value, (fit, part)), (fit, part))
    values = list(scores)
    weights = np.array([np.logaddexp.reduce(scores[value]) for value in values])
    weights = np.exp(weights - weights.max())
    weights /= weights.sum()
    chances = {value: float(w) for value, w in zip(values, weights, strict=True)}
    return chances, {value: turned[value][1] for value in values}


def _ways(options: list[np.ndarray]) -> Iterator[tuple[list[int], float]]:
    """Give the best digits for these scores (10 a drum), and those with one drum read otherwise."""
    best = [int(score.argmax()) for score in options]
    total = float(sum(score.max() for score in options))
    yield best, total
    for place, score in enumerate(options):
        second = int(np.argsort(score)[-2])
        yield (
            [*best[:place], second, *best[place + 1 :]],
            total - float(score.max() - score[second]),
        )


def _near(log: np.ndarray, bin_: int, back: int) -> float:
    """How well a turning drum fits; those further left may lag or lead by more."""
    if back == 0:
        return float(log[bin_])
    return float(np.logaddexp.reduce([log[(bin_ + d) % 100] + w for d, w in LAG.items()]))


def _still(log: np.ndarray, digit: int) -> float:
    """How well the last drum fits a digit at rest."""
    return float(np.logaddexp.reduce([log[(digit * 10 + d) % 100] for d in (-1, 0, 1)]))


def _tolerant(phase: np.ndarray) -> np.ndarray:
    """For each digit how likely a resting drum shows it, with the slack of worn drums."""
    return np.array(
        [sum(phase[(d * 10 + k) % 100] * w for k, w in SLACK.items()) for d in range(10)]
    )
