"""The trend of a metal in plain words: what changed, by how much, whom to ask; never a finding."""

from __future__ import annotations

from decimal import Decimal

from record.rules import metals, rules
from record.shop import short
from record.trend import Limits, MetalTrend, Split, doubled

FEW = 3  # samples below which there is nothing to set side by side
SMALL = 12  # earlier samples below which the limits are called wide
ASK = (
    "Ask the laboratory and a mechanic, with the filter's findings of the same date; the limits of "
    "the engine's maker come first."
)
FOOT = (
    "Metals are only roughly linear with hours on the oil, and differ from engine to engine. "
    "Make-up oil thins them; no published correction is known, so none is made.",
    "With eight metals looked at, one outside its limits by chance alone is to be expected in "
    "about one report of three, and a direction by chance alone now and then.",
)


def words(trend: MetalTrend) -> tuple[str, ...]:
    """Say in sentences what there is to say about a metal, the newest value first."""
    said = [_now(trend), *_against(trend), *_direction(trend), *_labs(trend)]
    if changed(trend):
        said += [
            f"{metals()[trend.metal].name.capitalize()} usually comes from "
            f"{metals()[trend.metal].usual}: that is where it comes from in general, not a finding "
            "about this engine.",
            ASK,
        ]
    return tuple(said)


def changed(trend: MetalTrend) -> bool:
    """Say whether there is something to ask about."""
    return trend.outside or way(trend) != "none" or doubled(trend)


def state(trend: MetalTrend) -> str:
    """Give a word or two for a table: `too few to judge`, `within limits`, `outside limits`."""
    if trend.limits is None:
        return "values only" if len(trend.samples) < FEW else "too few to judge"
    going = way(trend)
    where = "within limits" if trend.judged else "too few to judge"
    if trend.outside:
        where = "outside limits"
    more = ["doubled"] if doubled(trend) else []
    return ", ".join([where, *more, *([going] if going != "none" else [])])


def way(trend: MetalTrend) -> str:
    """Give `rising`, `falling` or `none`, per hour where that can be told; none while too few."""
    judged = trend.rate_run or trend.run
    return judged.way if judged is not None and trend.limits is not None else "none"


def _now(trend: MetalTrend) -> str:
    level, rate = trend.latest.levels[trend.metal], trend.latest.rate(trend.metal)
    name = metals()[trend.metal].name.capitalize()
    under = "under " if level.below else ""
    hourly = (
        f", {under}{rate:.3f} ppm an hour over {trend.latest.hours} h on the oil"
        if rate is not None
        else "; hours on the oil are not known, so there is no figure an hour"
    )
    return f"{name} {level.text} ppm on {trend.latest.taken.isoformat()}{hourly}."


def _against(trend: MetalTrend) -> list[str]:
    if trend.limits is None:
        return [too_few(trend)]
    if trend.latest.levels[trend.metal].below:
        return ["That is under what the laboratory reports."]
    level = trend.latest.levels[trend.metal].ppm
    n = (trend.deciding or trend.limits).earlier
    if not trend.judged and not trend.outside:
        return [_beside(trend, level, n)]
    said = [_compare(level, trend.limits, "ppm", 0 if trend.limits.middle >= 10 else 1)]
    rate = trend.latest.rate(trend.metal)
    if trend.rate_limits is not None and rate is not None:
        said.append(_compare(rate, trend.rate_limits, "ppm an hour", 3))
    if doubled(trend) and not trend.outside:
        times = level / trend.limits.middle
        said.append(
            f"It is {times:.1f} times the median, and limits from {n} samples are too wide to tell "
            "whether that is chance."
        )
    wide = " and are wide for that reason; they narrow as samples come" if n < SMALL else ""
    said.append(f"The limits rest on {n} earlier samples{wide}.")
    return [*said, *_coarse(trend)]


def _beside(trend: MetalTrend, level: Decimal, n: int) -> str:
    """Set a figure beside the median where the samples are too few to judge it by."""
    middle = trend.limits.middle if trend.limits else Decimal(0)
    head = f"{n} earlier samples, with a median of {short(middle, 1)} ppm, are too few to judge by"
    if not doubled(trend):
        return f"{head}."
    return f"It is {level / middle:.1f} times what it was, and is asked about: {head}."


def _coarse(trend: MetalTrend) -> list[str]:
    """Say what limits over figures that scatter by no more than their last place can see."""
    limits, hours = trend.deciding, trend.latest.hours
    if limits is None or not limits.coarse:
        return []
    by_hour = limits is trend.rate_limits and hours is not None
    step = trend.latest.levels[trend.metal].step
    seen = short(limits.seen_above(step, hours if by_hour and hours else Decimal(1)), 1)
    at = f" at {hours} h" if by_hour else ""
    low, high = rules()["robust"]["coarse_percent"]
    below = "" if limits.low > 0 else ", and no fall at all"
    return [
        "The figures scatter by no more than their last place, so the limits are wider than "
        "nineteen in twenty: if that is all that an unchanged engine scatters, it crosses them "
        f"{low} to {high} times in a hundred (simulated). They can see "
        f"{seen} ppm or more{at}, nothing smaller{below}."
    ]


def too_few(trend: MetalTrend) -> str:
    """Say why there are no limits yet; nothing where there are."""
    count = len(trend.samples)
    row = ", then ".join(s.levels[trend.metal].text for s in trend.samples)
    row = f"{metals()[trend.metal].name} {row}"
    if trend.limits is not None:
        return ""
    if count == 1:
        return "One report is a value, not a trend."
    if trend.pooled:
        lab = trend.latest.lab
        own = sum(s.lab == lab for s in trend.samples)
        return (
            f"Too few to judge by ({row}): {own} of these {count} reports {_are(own)} of {lab}, "
            "and no sample was ever split between the laboratories, so how far they differ is not "
            "known."
        )
    if count == 2:
        return f"Two reports are not a trend: {row}."
    return f"{count} reports are not enough to judge by ({row}): limits need three earlier ones."


def _are(count: int) -> str:
    return "is" if count == 1 else "are"


def _compare(value: Decimal, limits: Limits, unit: str, places: int) -> str:
    span = f"{limits.low:.{places}f} to {limits.high:.{places}f}"
    change = value - limits.middle
    moved = (
        "the same as"
        if not change
        else f"{abs(change):.{places}f} {'above' if change > 0 else 'below'}"
    )
    where = "within" if limits.low <= value <= limits.high else "outside"
    return f"That is {moved} the median of {limits.middle:.{places}f} {unit}, {where} {span}."


def _direction(trend: MetalTrend) -> list[str]:
    judged = trend.rate_run or trend.run
    if trend.pooled:
        return [
            "The reports are of several laboratories, so no direction and no odds are given: a "
            "change of laboratory can make as much."
        ]
    if judged is None or trend.limits is None:
        return []
    count = len([s for s in trend.samples if s.hours or not trend.rate_run])
    over = f"over {count} samples {'per hour' if trend.rate_run else 'in ppm'}"
    often = f"chance alone does as much, up or down, {_odds(judged.chance)}"
    if judged.way == "none":
        return [f"No direction {over}: {often}."]
    unit, places = ("ppm an hour", 3) if trend.rate_run else ("ppm", 1)
    by = f"by about {abs(judged.slope):.{places}f} {unit} from one sample to the next"
    return [f"{judged.way.capitalize()} {over}, {by}: {often}."]


def _odds(chance: float) -> str:
    if chance > 0.5:
        return "more often than not"
    return f"about once in {round(1 / chance)}" if chance > 1e-4 else "less than once in 10,000"


def _labs(trend: MetalTrend) -> list[str]:
    said = [_split(split) for split in trend.splits]
    if len(trend.splits) == 1:
        said.append("One split sample cannot tell one laboratory's habit from chance.")
    if trend.pooled and trend.splits:
        said.append(
            "Reports of several laboratories had to be taken together; the limits are widened by "
            "the largest difference that a split sample showed."
        )
    return said


def _split(split: Split) -> str:
    (a, b), (one, two) = split.labs, split.levels
    day = split.taken.isoformat()
    head = f"The sample of {day} was split: {one.text} ppm at {a}, {two.text} ppm at {b}"
    if not split.apart:
        return f"{head}; the two agree."
    return (
        f"{head}, {short(abs(split.apart), 1)} ppm apart. A change of that size between reports of "
        "different laboratories says nothing about the engine."
    )
