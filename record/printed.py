"""A printed laboratory report, from the lines read off a photo of it. Nothing is confirmed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from capture.observed import Reading
from record.reports import metal_of


def rows_of(readings: Sequence[Reading]) -> list[str]:
    """Give the lines of a table from what was read off a photo of it, top to bottom.

    Readings whose middles lie within half the height of each other stand in one row, put together
    from left to right: a reader gives each cell by itself. Upright photos only.
    """
    rows: list[list[Reading]] = []
    for reading in sorted(readings, key=lambda r: _middle(r)[1]):
        height = max(y for _, y in reading.quad) - min(y for _, y in reading.quad)
        if rows and abs(_middle(rows[-1][0])[1] - _middle(reading)[1]) < height / 2:
            rows[-1].append(reading)
        else:
            rows.append([reading])
    return [" ".join(r.text for r in sorted(row, key=lambda r: _middle(r)[0])) for row in rows]


def _middle(reading: Reading) -> tuple[float, float]:
    xs, ys = zip(*reading.quad, strict=True)
    return sum(xs) / len(xs), sum(ys) / len(ys)


def read_lines(lines: Iterable[str]) -> tuple[dict[str, str], tuple[str, ...]]:
    """Take figures by symbol from lines read off a printed table; give also the lines not taken.

    A line is taken only where it holds one metal and one figure, and no second line holds the same
    metal: a table of several samples is left for a person to type. Nothing here is confirmed.
    """
    found: dict[str, list[str]] = {}
    left: list[str] = []
    for line in lines:
        match = re.fullmatch(
            r"\s*(?P<name>[A-Za-z() ]+?)[\s:|.]+(?P<figure><?\s*\d+(?:\.\d+)?)\s*(?:ppm)?\s*", line
        )
        symbol = metal_of(match["name"]) if match else None
        if match is None or symbol is None:
            left.append(line)
        else:
            found.setdefault(symbol, []).append(match["figure"].replace(" ", ""))
    single = {symbol: figures[0] for symbol, figures in found.items() if len(figures) == 1}
    left += [
        f"{symbol}: {' or '.join(figures)}" for symbol, figures in found.items() if len(figures) > 1
    ]
    return single, tuple(left)
