"""Wear metals over several oil samples: robust limits, runs, laboratories side by side. Pure.

It says what changed and by how much. It never says what is wrong with an engine.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from itertools import combinations
from math import erf, factorial, sqrt
from statistics import median

from record.rules import rules

Spread = tuple[Decimal, Decimal]


@dataclass(frozen=True, slots=True)
class Level:
    """One figure of a report, in ppm (mg/kg): as printed, as a number, and if it was `<` that."""

    text: str
    ppm: Decimal
    below: bool = False

    @property
    def step(self) -> Decimal:
        """Give what one in the last printed place is worth: 1 for `22`, 0.1 for `9.6`."""
        return Decimal(1).scaleb(int(self.ppm.as_tuple().exponent))

    @property
    def spread(self) -> Spread:
        """Give the lowest and highest that it may have been before it was rounded."""
        if self.below:
            return Decimal(0), self.ppm
        return max(Decimal(0), self.ppm - self.step / 2), self.ppm + self.step / 2


@dataclass(frozen=True, slots=True)
class Sample:
    """One laboratory's report on one oil sample.

    `taken` is the day of the sample; `tach` and `hours` (on the oil) are in h, None where not
    known; `levels` are by the metal's symbol. Reports of one day are of one sample.
    """

    lab: str
    taken: date
    tach: Decimal | None
    hours: Decimal | None
    levels: Mapping[str, Level] = field(default_factory=dict)

    def rate(self, metal: str) -> Decimal | None:
        """Give ppm per hour on the oil, or None where either is not known (roughly linear only)."""
        level = self.levels.get(metal)
        return level.ppm / self.hours if level and self.hours else None


@dataclass(frozen=True, slots=True)
class Limits:
    """Where the next value of an unchanged engine falls nineteen times in twenty.

    `step` is what one figure of the last printed place is worth, 0 where that is not told.
    """

    low: Decimal
    middle: Decimal
    high: Decimal
    mad: Decimal
    factor: Decimal
    earlier: int
    widened: Decimal = Decimal(0)
    step: Decimal = Decimal(0)

    @property
    def coarse(self) -> bool:
        """Say whether figures scatter by no more than their last place, so that limits are wide.

        They are then crossed less often than they say.
        """
        few = self.earlier < rules()["robust"]["coarse_below"]
        return few and self.step > 0 and self.mad <= self.step

    def seen_above(self, step: Decimal, hours: Decimal = Decimal(1)) -> Decimal:
        """Give the lowest ppm, printed in steps of `step`, that lies above limits for `hours`."""
        return (self.high * hours // step + 1) * step


@dataclass(frozen=True, slots=True)
class Run:
    """How a series goes: Mann and Kendall's `s`, the chance of as much, Sen's slope a step.

    `way` is `rising`, `falling` or `none`; none unless chance does it less than once in twenty.
    """

    s: int
    chance: float
    slope: Decimal
    way: str


@dataclass(frozen=True, slots=True)
class Split:
    """One metal of one sample that two laboratories measured."""

    taken: date
    labs: tuple[str, str]
    levels: tuple[Level, Level]

    @property
    def apart(self) -> Decimal:
        """Give the second less the first, in ppm."""
        return self.levels[1].ppm - self.levels[0].ppm


@dataclass(frozen=True, slots=True)
class MetalTrend:
    """All there is to say about one metal.

    `samples` hold one report a sample, the oldest first, and `labs` all reports. `limits`, `run`
    are over ppm and `rate_limits`, `rate_run` over ppm per hour, of those samples whose hours are
    known; each None while there are too few. `pooled` says that reports of several laboratories had
    to be taken together: then there is no run, and there are limits only where a split sample
    showed how far the laboratories differ.
    """

    metal: str
    samples: tuple[Sample, ...]
    labs: tuple[Sample, ...]
    splits: tuple[Split, ...]
    limits: Limits | None
    rate_limits: Limits | None
    run: Run | None
    rate_run: Run | None
    pooled: bool

    @property
    def latest(self) -> Sample:
        """Give the newest sample."""
        return self.samples[-1]

    @property
    def deciding(self) -> Limits | None:
        """Give the limits that decide: those per hour on the oil where that can be told."""
        timed = self.rate_limits is not None and self.latest.rate(self.metal) is not None
        return self.rate_limits if timed else self.limits

    @property
    def judged(self) -> bool:
        """Say whether there are enough samples for lying within the limits to mean something."""
        found = self.deciding
        return found is not None and found.earlier >= rules()["robust"]["judge_min"]

    @property
    def outside(self) -> bool:
        """Say whether the newest value is outside its limits, per hour where that can be told."""
        rate = self.latest.rate(self.metal)
        if self.rate_limits is not None and rate is not None:
            return not self.rate_limits.low <= rate <= self.rate_limits.high
        level = self.latest.levels[self.metal].ppm
        return self.limits is not None and not self.limits.low <= level <= self.limits.high


def doubled(trend: MetalTrend) -> bool:
    """Say whether the newest figure is about twice the median or more while samples are few.

    Beyond what rounding can make: 1 and then 2 ppm is not called doubled, 5 and then 10 is.
    """
    rule, found = rules()["doubling"], trend.limits
    if found is None or found.earlier >= rule["earlier_below"]:
        return False
    newest = trend.latest.levels[trend.metal]
    if newest.below or newest.ppm < rule["times"] * found.middle:
        return False
    if newest.spread[0] < rule["surely"] * (found.middle + newest.step / 2):
        return False
    rate = trend.latest.rate(trend.metal)
    return (
        trend.rate_limits is None
        or rate is None
        or rate >= rule["times"] * trend.rate_limits.middle
    )


def factor(earlier: int) -> Decimal:
    """Give how many MADs the limits lie from the median of `earlier` values (3 or more)."""
    return next(Decimal(k) for n, k in reversed(rules()["robust"]["factors"]) if n <= earlier)


def limits(
    earlier: Sequence[Decimal], *, step: Decimal = Decimal(0), widen: Decimal = Decimal(0)
) -> Limits | None:
    """Give limits for the next value from the earlier ones, or None while there are under three.

    median - k * MAD to median + k * MAD, not below 0, in the unit of the values. MAD is the median
    of the absolute deviations from the median, and not less than half of `step`, what one figure of
    the last place is worth, because rounding alone makes that much. k widens while there are few
    samples (see `rules.toml`: crossed once in twenty by normal values). `widen` is added to both
    sides.
    """
    if len(earlier) < rules()["robust"]["earlier_min"]:
        return None
    middle = median(earlier)
    mad = max(median([abs(value - middle) for value in earlier]), step / 2)
    k = factor(len(earlier))
    reach = k * mad + widen
    return Limits(
        max(Decimal(0), middle - reach), middle, middle + reach, mad, k, len(earlier), widen, step
    )


def run(values: Sequence[Decimal], spreads: Sequence[Spread] | None = None) -> Run | None:
    """Say whether values in order of time rise or fall more than chance would have them.

    None for fewer than three. S counts the pairs that rise less those that fall (Mann 1945, Kendall
    1975). Two values whose `spreads` (the lowest and highest that each may be before rounding) meet
    count as equal. How often chance does as much either way is counted exactly over all orders of
    different values up to ten, which is the cautious side where some are equal, and by the normal
    approximation with ties beyond. The slope is the median of the slopes of all pairs (Theil, Sen).
    """
    n = len(values)
    if n < rules()["robust"]["earlier_min"]:
        return None
    spreads = [(value, value) for value in values] if spreads is None else spreads
    pairs = list(combinations(range(n), 2))
    s = sum((spreads[j][0] > spreads[i][1]) - (spreads[j][1] < spreads[i][0]) for i, j in pairs)
    slope = median([(values[j] - values[i]) / (j - i) for i, j in pairs])
    chance = _exact(n, abs(s)) if n <= 10 else _normal(values, abs(s))
    sure = chance < float(rules()["robust"]["chance"])
    return Run(s, chance, slope, ("rising" if s > 0 else "falling") if sure else "none")


def _exact(n: int, s: int) -> float:
    # Orders of n different values by their number of inversions; S = pairs - 2 * inversions.
    counts = [1]
    for size in range(2, n + 1):
        grown = [0] * (len(counts) + size - 1)
        for inversions, ways in enumerate(counts):
            for more in range(size):
                grown[inversions + more] += ways
        counts = grown
    pairs = n * (n - 1) // 2
    ways = sum(w for inversions, w in enumerate(counts) if abs(pairs - 2 * inversions) >= s)
    return ways / factorial(n)


def _normal(values: Sequence[Decimal], s: int) -> float:
    n = len(values)
    ties = [values.count(v) for v in set(values)]
    variance = (n * (n - 1) * (2 * n + 5) - sum(t * (t - 1) * (2 * t + 5) for t in ties)) / 18
    z = max(0, s - 1) / sqrt(variance) if variance else 0.0
    return 1 - erf(z / sqrt(2))


def follow(samples: Sequence[Sample], metal: str) -> MetalTrend | None:
    """Follow one metal through all reports, or give None where no report names it.

    One report stands for each sample: of a laboratory that reported on the newest and has three
    samples before it; else reports of several are taken together. Then the limits are widened by
    the largest difference that a split sample showed for this metal, and without such a sample
    there are none, since how far the laboratories differ is not known.
    """
    known = _known(samples, metal)
    if not known:
        return None
    splits = tuple(_splits(known, metal))
    chosen = _chosen(known)
    pooled = len({s.lab for s in chosen}) > 1
    apart = max((abs(split.apart) for split in splits), default=Decimal(0))
    if pooled and not splits:
        nothing = (None, None, None, None)
        return MetalTrend(metal, tuple(chosen), tuple(known), splits, *nothing, pooled)
    widen = apart if pooled else Decimal(0)
    levels = [s.levels[metal] for s in chosen]
    step = max(level.step for level in levels)
    by_hour, hourly_run = _by_hour(chosen, metal, step, widen)
    return MetalTrend(
        metal,
        tuple(chosen),
        tuple(known),
        splits,
        limits([level.ppm for level in levels[:-1]], step=step, widen=widen),
        by_hour,
        None if pooled else run([v.ppm for v in levels], [level.spread for level in levels]),
        None if pooled else hourly_run,
        pooled,
    )


def _by_hour(
    chosen: Sequence[Sample], metal: str, step: Decimal, widen: Decimal
) -> tuple[Limits | None, Run | None]:
    """Give limits and run in ppm per hour; a sample without hours drops out of these alone."""
    timed = [(s.levels[metal], s.hours) for s in chosen if s.hours]
    if not chosen[-1].hours:
        return None, None
    rates = [level.ppm / h for level, h in timed]
    spreads = [(level.spread[0] / h, level.spread[1] / h) for level, h in timed]
    usual = median(h for _, h in timed)
    return limits(rates[:-1], step=step / usual, widen=widen / usual), run(rates, spreads)


def _known(samples: Sequence[Sample], metal: str) -> list[Sample]:
    """Give the reports that name a metal, in order; the hours on one sample's oil are the same."""
    hours = {s.taken: s.hours for s in samples if s.hours}
    named = [s for s in samples if metal in s.levels]
    filled = [s if s.hours else replace(s, hours=hours.get(s.taken)) for s in named]
    return sorted(filled, key=lambda s: (s.taken, s.lab))


def _chosen(known: Sequence[Sample]) -> list[Sample]:
    count = {lab: sum(s.lab == lab for s in known) for lab in sorted({s.lab for s in known})}
    newest = [s.lab for s in known if s.taken == known[-1].taken]
    enough = [lab for lab in newest if count[lab] > rules()["robust"]["earlier_min"]]
    main = max(enough or count, key=lambda lab: count[lab])
    own = {s.taken: s for s in known if s.lab == main}
    return list((own if enough else {**{s.taken: s for s in known}, **own}).values())


def _splits(known: Sequence[Sample], metal: str) -> list[Split]:
    return [
        Split(a.taken, (a.lab, b.lab), (a.levels[metal], b.levels[metal]))
        for a, b in combinations(known, 2)
        if a.taken == b.taken and a.lab != b.lab
    ]
