"""The trend of a metal in plain words: what changed, by how much, whom to ask; never a finding."""

from __future__ import annotations

from decimal import Decimal

from record.rules import metals
from record.shop import short
from record.trend import Limits, MetalTrend, Split, doubled

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
    """Give a word or two for a table: `values only`, `within limits`, `outside limits, rising`."""
    if trend.limits is None:
        return "values only"
    going = way(trend)
    where = "outside limits" if trend.outside else "within limits"
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
    said = [_compare(level, trend.limits, "ppm", 0 if trend.limits.middle >= 10 else 1)]
    rate = trend.latest.rate(trend.metal)
    if trend.rate_limits is not None and rate is not None:
        said.append(_compare(rate, trend.rate_limits, "ppm an hour", 3))
    n = trend.limits.earlier
    if doubled(trend):
        times = level / trend.limits.middle
        said.append(
            f"It is {times:.1f} times the median, and limits from {n} samples are too wide to tell "
            "whether that is chance."
        )
    wide = " and are wide for that reason; they narrow as samples come" if n < SMALL else ""
    said.append(f"The limits rest on {n} earlier samples{wide}.")
    return said


def too_few(trend: MetalTrend) -> str:
    """Say why there are no limits yet; nothing where there are."""
    count = len(trend.samples)
    row = ", then ".join(s.levels[trend.metal].text for s in trend.samples)
    row = f"{metals()[trend.metal].name} {row}"
    if trend.limits is not None:
        return ""
    if count == 1:
        return "One report is a value, not a trend."
    if count == 2:
        return f"Two reports are not a trend: {row}."
    return f"{count} reports are not enough to judge by ({row}): limits need three earlier ones."


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
    if judged is None or trend.limits is None:
        return []
    over = f"over {len(trend.samples)} samples {'per hour' if trend.rate_run else 'in ppm'}"
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
    if trend.pooled:
        known = (
            "the limits are widened by the largest difference that a split sample showed"
            if trend.splits
            else "no sample was ever split between them, so how far they differ is not known"
        )
        said.append(f"Reports of several laboratories had to be taken together; {known}.")
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
