"""The pictures of the book, drawn for paper: black and white, a mark for each cylinder."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from record.compute import Interval

_MARKS = ("o", "s", "^", "D", "v", "x")
_SIZE = (7.1, 2.9)  # inches: the width of the text on A4
_DPI = 200
FULL_PSI = 80  # a differential test is against 80 psi: 74/80


def used(points: Sequence[tuple[date, Interval]], unit: str) -> bytes:
    """Give a PNG of the oil used before each change, in `unit` an hour, each with its span."""

    def draw(axes: Axes) -> None:
        days: list[Any] = [day for day, _ in points]
        values = [float(span.value) for _, span in points]
        below = [float(span.value - span.low) for _, span in points]
        above = [float(span.high - span.value) for _, span in points]
        axes.errorbar(days, values, yerr=[below, above], fmt="o-", color="black", capsize=3)
        axes.set_ylim(bottom=min(0.0, *(float(span.low) for _, span in points)))
        axes.set_ylabel(f"{unit} an hour")

    return _drawn(draw)


def held(points: Mapping[int, Sequence[tuple[date, Decimal]]]) -> bytes:
    """Give a PNG of the compressions by cylinder, psi held of 80, as they were reported."""

    def draw(axes: Axes) -> None:
        for at, (cylinder, series) in enumerate(points.items()):
            days: list[Any] = [day for day, _ in series]
            values = [float(value) for _, value in series]
            mark = _MARKS[at % len(_MARKS)]
            axes.plot(
                days, values, marker=mark, color="black", lw=0.8, label=f"cylinder {cylinder}"
            )
        lowest = min(float(value) for series in points.values() for _, value in series)
        axes.set_ylim(min(lowest - 4, 56), FULL_PSI + 1)
        axes.set_ylabel(f"psi of {FULL_PSI}")
        axes.legend(frameon=False, fontsize=8, ncols=3)

    return _drawn(draw)


def _drawn(draw: Any) -> bytes:
    from matplotlib import rc_context
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
    from matplotlib.figure import Figure

    out = io.BytesIO()
    with rc_context({"font.size": 9, "text.parse_math": False}):
        figure = Figure(figsize=_SIZE, layout="constrained")
        axes = figure.subplots()
        draw(axes)
        locator = AutoDateLocator()  # type: ignore[no-untyped-call]
        axes.xaxis.set_major_locator(locator)
        axes.xaxis.set_major_formatter(ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]
        axes.margins(x=0.05)
        axes.grid(axis="y", lw=0.3)
        figure.savefig(out, format="png", dpi=_DPI, metadata={"Software": None})
    return out.getvalue()
