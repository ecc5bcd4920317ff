"""Oil trends drawn for paper: a panel a metal, readable in black and white."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from capture import flushed
from capture.errors import InputError
from record.rules import metals, rules
from record.trend import MetalTrend, Sample, follow

if TYPE_CHECKING:
    from matplotlib.figure import Figure

KINDS = (".svg", ".png", ".pdf")
_MARKS = ("o", "s", "^", "D", "v")  # a shape a laboratory, since paper has no colour
_ACROSS = 2
_STYLE: Any = {"svg.hashsalt": "cowlnote", "font.size": 9, "svg.fonttype": "none"}
# A laboratory's name or a word that was heard may hold a `$`, which is no formula.
_STYLE["text.parse_math"] = False
_BELOW = "outside lower left"
_PAPER = (8.27, 11.0)  # inches: fits A4 and Letter
_WIDE, _DEEP = 98, 80  # characters in a line, lines on a page
_BESIDE = "Beside each point: ppm as the laboratory printed it. The maker's limits come first."


def draw(
    trends: Sequence[MetalTrend],
    path: Path,
    title: str,
    found: dict[date, str],
    words: Sequence[str] = (),
) -> Path:
    """Draw the metals, ppm per hour on the oil where that is known, to an SVG, PNG or PDF file.

    `found` is what the filter held, by the day of the sample. A grey bar is where the value of an
    unchanged engine would fall nineteen times in twenty, from the samples before it; the first is
    at the fourth sample, and may run off the top. The figures are ppm as the laboratory printed
    them. A PDF is pages that fit A4 and Letter, with `words` after the panels. Raises `InputError`
    for nothing to draw, another ending or a folder that is not there.
    """
    ending = path.suffix.lower()
    if ending not in KINDS:
        raise InputError("is no picture that can be drawn", path, f"end it in {' '.join(KINDS)}")
    if not path.parent.is_dir():
        raise InputError("there is no such folder", path.parent, "make it first")
    if not trends:
        raise InputError("there is nothing to draw", path, "enter an oil report first")
    from matplotlib import rc_context

    aside = path.with_name(f".{path.name}.part{ending}")
    with rc_context(_STYLE):
        figure = _figure(trends, title, found, paper=ending == ".pdf")
        try:
            if ending == ".pdf":
                _pages(figure, words, aside)
            else:
                figure.savefig(aside, dpi=150, metadata={"Date": None} if ending == ".svg" else {})
            flushed.placed(aside, path)
        except OSError as error:
            raise InputError(
                f"cannot be written ({error.strerror})", path, "choose another"
            ) from None
        finally:
            aside.unlink(missing_ok=True)
    return path


def svg(
    trends: Sequence[MetalTrend], title: str, found: dict[date, str], *, across: int = _ACROSS
) -> bytes:
    """Give the same drawing as SVG, for a page; on a narrow screen one panel `across`."""
    import io

    from matplotlib import rc_context

    out = io.BytesIO()
    with rc_context(_STYLE):
        figure = _figure(trends, title, found, paper=False, across=across)
        figure.savefig(out, format="svg", metadata={"Date": None})
    return out.getvalue()


def _figure(
    trends: Sequence[MetalTrend],
    title: str,
    found: dict[date, str],
    *,
    paper: bool,
    across: int = _ACROSS,
) -> Figure:
    from matplotlib.figure import Figure

    rows = -(-len(trends) // across)
    narrow = across == 1
    across = min(across, len(trends))
    figure = Figure(figsize=_PAPER if paper else (3.75 * across, 1.2 + 2.3 * rows))
    figure.set_layout_engine("constrained", **({"rect": _margins(rows)} if paper else {}))
    panels = figure.subplots(rows, across, squeeze=False).flatten()
    labs = sorted({s.lab for t in trends for s in t.labs})
    for panel, trend in zip(panels, trends, strict=False):
        _panel(panel, trend, labs, found)
    for panel in panels[len(trends) :]:
        panel.set_visible(False)
    left = 0.09 if paper else 0.01
    head = f"{title}\n{_BESIDE}"
    if narrow:
        head = "\n".join(line for part in head.split("\n") for line in textwrap.wrap(part, 50))
    figure.suptitle(head, x=left, ha="left", fontsize=9)
    where = {"loc": "lower left", "bbox_to_anchor": (0.07, 0.03)} if paper else {"loc": _BELOW}
    figure.legend(
        handles=_legend(labs, 44 if narrow else 200),
        ncols=1 if narrow else 2,
        frameon=False,
        fontsize=8,
        **where,
    )
    return figure


def _margins(rows: int) -> tuple[float, float, float, float]:
    tall = min(0.84, 0.05 + 0.2 * rows)
    return 0.08, 0.94 - tall, 0.84, tall


def _pages(figure: Figure, words: Sequence[str], path: Path) -> None:
    from matplotlib.backends.backend_pdf import PdfPages
    from matplotlib.figure import Figure

    wrapped = [part for line in words for part in textwrap.wrap(line, _WIDE) or [""]]
    with PdfPages(path, metadata={"CreationDate": None}) as pdf:
        pdf.savefig(figure)
        for at in range(0, len(wrapped), _DEEP):
            page = Figure(figsize=_PAPER)
            text = "\n".join(wrapped[at : at + _DEEP])
            page.text(0.08, 0.95, text, va="top", family="monospace", fontsize=7.5)
            pdf.savefig(page)


def _panel(panel: Any, trend: MetalTrend, labs: Sequence[str], found: dict[date, str]) -> None:
    hourly = trend.rate_limits is not None or all(s.hours for s in trend.samples)
    metal = metals()[trend.metal]
    top = _bars(panel, trend, hourly)
    drawn = [(s, _height(s, trend.metal, hourly)) for s in trend.labs if s.hours or not hourly]
    line = [(s.taken, y) for s, y in drawn if s in trend.samples]
    panel.plot([day for day, _ in line], [y for _, y in line], color="black", linewidth=1, zorder=2)
    for sample, height in drawn:
        main = sample in trend.samples
        panel.plot(
            [sample.taken],
            [height],
            _MARKS[labs.index(sample.lab) % len(_MARKS)],
            color="black",
            markerfacecolor="black" if main else "white",
            markersize=4.5,
            zorder=3,
        )
        panel.annotate(
            sample.levels[trend.metal].text,
            (sample.taken, height),
            xytext=(4, -9 if main else 3),
            textcoords="offset points",
            fontsize=7,
            zorder=4,
        )
    _found(panel, [s.taken for s in trend.samples], found)
    panel.set_title(f"{metal.name} ({trend.metal})", loc="left", fontsize=9)
    panel.set_ylabel("ppm per hour on the oil" if hourly else "ppm", fontsize=8)
    panel.set_ylim(0, max(1.3 * max(height for _, height in drawn), 1.1 * top) or 1)
    panel.margins(x=0.08)
    panel.tick_params(labelsize=8)
    _dates(panel)
    for side in ("top", "right"):
        panel.spines[side].set_visible(False)


def _height(sample: Sample, metal: str, hourly: bool) -> float:
    return float(sample.levels[metal].ppm / (sample.hours if hourly and sample.hours else 1))


def _bars(panel: Any, trend: MetalTrend, hourly: bool) -> float:
    """Draw the limits that stood when each sample came; give the height of the newest."""
    top = 0.0
    for at in range(rules()["robust"]["earlier_min"], len(trend.samples)):
        then = follow(trend.samples[: at + 1], trend.metal)
        made = then and (then.rate_limits if hourly else then.limits)
        if at == len(trend.samples) - 1:
            made = trend.rate_limits if hourly else trend.limits
        if not made:
            continue
        day, top = trend.samples[at].taken, float(made.high)
        panel.plot(
            [day, day],
            [float(made.low), top],
            color="0.85",
            linewidth=9,
            solid_capstyle="butt",
            zorder=0,
        )
        panel.plot([day], [float(made.middle)], "_", color="0.3", markersize=9, zorder=1)
    return top


def _found(panel: Any, days: Sequence[date], found: dict[date, str]) -> None:
    for day in days:
        if found.get(day, "none") != "none":
            panel.annotate(
                f"filter: {found[day]}",
                (day, 0.98),
                xycoords=("data", "axes fraction"),
                xytext=(-5, 0),
                textcoords="offset points",
                rotation=90,
                fontsize=7,
                ha="right",
                va="top",
            )


def _dates(panel: Any) -> None:
    from matplotlib.dates import AutoDateLocator, DateFormatter

    locator: Any = AutoDateLocator
    formatter: Any = DateFormatter  # neither says its types
    panel.xaxis.set_major_locator(locator(minticks=3, maxticks=5))
    panel.xaxis.set_major_formatter(formatter("%b %Y"))


def _legend(labs: Sequence[str], width: int = 200) -> list[Any]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    made: list[Any] = [
        Line2D([], [], marker=_MARKS[at % len(_MARKS)], color="black", linewidth=1, label=lab)
        for at, lab in enumerate(labs)
    ]
    split = Line2D([], [], marker="s", color="black", markerfacecolor="white", linewidth=0)
    split.set_label("a report that is not in the line (a split sample)")
    band = Patch(
        color="0.85", label="limits from the samples before it (at least 19 in 20), their median"
    )
    for handle in (*made, split, band):
        handle.set_label("\n".join(textwrap.wrap(str(handle.get_label()), width)))
    return [*made, split, band]
