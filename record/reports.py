"""Laboratory reports on oil samples, as typed or as a CSV file.

Nothing is filled in: a figure is kept as it was printed, and what cannot be read is named.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from pathlib import Path

from capture.errors import InputError
from record.rules import metals
from record.trend import Level, Sample

# Column headings as laboratories print them, in lower case, beside the metals' names and symbols.
_HEADINGS = {
    "lab": "lab",
    "laboratory": "lab",
    "report": "number",
    "report no": "number",
    "lab no": "number",
    "number": "number",
    "taken": "taken",
    "date": "taken",
    "date sampled": "taken",
    "sample date": "taken",
    "sampled": "taken",
    "tach": "tach",
    "tach time": "tach",
    "hours on oil": "hours",
    "oil hours": "hours",
    "hours": "hours",
    "note": "note",
    "remarks": "note",
}
# ppm beyond which a figure is more likely misread than true; asked about, not refused. Common
# practice with no source. Lead from leaded fuel runs to thousands.
_MANY, _MUCH_LEAD = 1000, 20_000
_LONG_ON_OIL = 200  # h; several times any interval in use
_FIGURE = re.compile(
    r"(?P<below><)?\s*(?P<number>\d{1,9}(?:\.\d{1,9})?)\s*(?:ppm|mg/kg)?", re.IGNORECASE | re.ASCII
)


@dataclass(frozen=True, slots=True)
class LabReport:
    """One laboratory's report on one sample.

    `taken` is the day of the sample, `tach` and `hours` (on the oil) are in h and None where the
    report does not say; `levels` are by symbol, in ppm (mg/kg); `number` is the laboratory's own;
    `note` is what it wrote; `source` is the file it came from, or empty when typed; `doubts` are
    reasons to look twice.
    """

    lab: str
    taken: date
    levels: Mapping[str, Level]
    tach: Decimal | None = None
    hours: Decimal | None = None
    number: str = ""
    note: str = ""
    source: str = ""
    doubts: tuple[str, ...] = field(default=())

    def sample(self) -> Sample:
        """Give the report as the trend wants it."""
        return Sample(self.lab, self.taken, self.tach, self.hours, dict(self.levels))


def level(text: str, *, where: Path | str | None = None) -> Level:
    """Read a figure as a laboratory prints it: `22`, `9.6`, `<1`, `22 ppm`. No digit is added.

    Raises `InputError` for anything else, a decimal comma among it: a comma could be a thousand.
    """
    match = _FIGURE.fullmatch(text.strip())
    if match is None:
        raise InputError(
            f"'{text.strip()}' is no figure in ppm", where, "write it like 22, 9.6 or <1"
        )
    printed = f"{match['below'] or ''}{match['number']}"
    return Level(printed, Decimal(match["number"]), bool(match["below"]))


def metal_of(text: str) -> str | None:
    """Give the symbol for `Fe`, `iron`, `Iron (Fe)`, `Fe ppm`; None for anything else."""
    name = re.sub(r"\b(ppm|mg/kg)\b", "", text.strip(), flags=re.IGNORECASE).strip(" ,:;.[]")
    marked = re.fullmatch(r"(?P<name>[A-Za-z]+)?\s*\(?\s*(?P<symbol>[A-Z][a-zI]?)?\s*\)?", name)
    if marked is None:
        return None
    named = _named(marked["name"] or "")
    symbol = (marked["symbol"] or "").replace("I", "l")  # readers of print take Al for AI
    symbol = symbol if symbol in metals() else ""
    if named and symbol and named != symbol:
        return None
    return named or symbol or None


def _named(word: str) -> str | None:
    for symbol, metal in metals().items():
        if word == symbol or word.lower() in (metal.name, *_ALSO.get(symbol, ())):
            return symbol
    return None


_ALSO = {"Al": ("aluminum",), "Cr": ("chrome",)}


def make(
    lab: str,
    taken: date,
    figures: Mapping[str, str],
    *,
    tach: Decimal | None = None,
    hours: Decimal | None = None,
    number: str = "",
    note: str = "",
    source: str = "",
) -> LabReport:
    """Make a report from figures by metal, as text. Raises `InputError`, naming what is wrong."""
    if not lab.strip():
        raise InputError(
            "the laboratory has no name", source or None, "say which laboratory it was"
        )
    levels: dict[str, Level] = {}
    for name, text in figures.items():
        symbol = metal_of(name)
        if symbol is None:
            raise InputError(
                f"'{name}' is no metal that is followed here",
                source or None,
                f"use one of {', '.join(metals())}",
            )
        if symbol in levels:
            raise InputError(f"{symbol} is given twice", source or None, "give each metal once")
        levels[symbol] = level(text, where=source or None)
    if not levels:
        raise InputError(
            "the report holds no figure", source or None, "give at least one, like Fe=22"
        )
    return LabReport(
        lab.strip(), taken, levels, tach, hours, number, note, source, _doubts(levels, hours, tach)
    )


def _doubts(
    levels: Mapping[str, Level], hours: Decimal | None, tach: Decimal | None
) -> tuple[str, ...]:
    found = [
        f"{s} {v.text} ppm is very high; was it misread?"
        for s, v in levels.items()
        if v.ppm > (_MUCH_LEAD if s == "Pb" else _MANY)
    ]
    if hours is None:
        found.append("hours on the oil are not given, so no figure an hour can be made")
    elif hours <= 0:
        found.append("hours on the oil are not above nothing")
    elif hours > _LONG_ON_OIL:
        found.append(f"{hours} hours on one fill of oil are hardly possible; was it misread?")
    if tach is not None and hours is not None and hours > tach:
        found.append(f"{hours} h on the oil are more than the tach has counted at all ({tach} h)")
    return tuple(found)


def read_csv(text: str, *, source: str = "", lab: str = "") -> tuple[LabReport, ...]:
    """Read reports from CSV: a heading line, then one line a report; or one line a metal, turned.

    Cells stand between commas, semicolons or tabs, whichever the first line has most of.
    Headings are the metals (name or symbol) and lab, date, tach, hours on oil, number, note; dates
    are ISO 8601. Other columns are left and named in a doubt. `lab` serves where the file names
    none. Raises `InputError` with the line for what cannot be read; then nothing is taken.
    """
    text = text.lstrip("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    mark = max(",;\t", key=text.partition("\n")[0].count)
    cells = csv.reader(io.StringIO(text), delimiter=mark)
    try:
        rows = [row for line in cells if any(row := [cell.strip() for cell in line])]
    except csv.Error as error:
        raise InputError(
            f"is no CSV that can be read ({error})", source or None, "save it as CSV once more"
        ) from None
    if len(rows) < 2:
        raise InputError(
            "no report in this file", source or None, "it needs a heading line and one more"
        )
    if sum(metal_of(row[0]) is not None for row in rows) > sum(
        metal_of(c) is not None for c in rows[0]
    ):
        rows = [list(column) for column in zip(*_even(rows), strict=True)]
    columns, left = _columns(rows[0], source)
    return tuple(
        _row(row, columns, left, source, lab, n) for n, row in enumerate(rows[1:], start=2)
    )


def _even(rows: Sequence[list[str]]) -> list[list[str]]:
    width = max(map(len, rows))
    return [row + [""] * (width - len(row)) for row in rows]


def _columns(heading: Sequence[str], source: str) -> tuple[dict[int, str], list[str]]:
    columns: dict[int, str] = {}
    for at, cell in enumerate(heading):
        name = _HEADINGS.get(cell.lower().strip(" .:")) or metal_of(cell)
        if name is None:
            continue
        if name in columns.values():
            raise InputError(f"two columns say {name}", source or None, "keep one of them")
        columns[at] = name
    if "taken" not in columns.values():
        raise InputError("no column for the date of the sample", source or None, "head it 'date'")
    return columns, [cell for at, cell in enumerate(heading) if at not in columns and cell]


def _row(
    row: Sequence[str],
    columns: Mapping[int, str],
    left: Sequence[str],
    source: str,
    lab: str,
    line: int,
) -> LabReport:
    where = f"{source or 'CSV'}, report {line - 1}"
    cells = {name: row[at] for at, name in columns.items() if at < len(row) and row[at]}
    report = make(
        cells.pop("lab", lab),
        day(cells.pop("taken", ""), where),
        {k: v for k, v in cells.items() if k in metals()},
        tach=hours_of(cells.get("tach"), where),
        hours=hours_of(cells.get("hours"), where),
        number=cells.get("number", ""),
        note=cells.get("note", ""),
        source=where,
    )
    more = (f"not taken from the file: {', '.join(left)}",) if left else ()
    return LabReport(
        report.lab,
        report.taken,
        report.levels,
        report.tach,
        report.hours,
        report.number,
        report.note,
        source,
        report.doubts + more,
    )


def day(text: str, where: Path | str | None = None) -> date:
    """Read an ISO 8601 day. Another order of figures is refused: 03/04 is two days."""
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise InputError(
            f"'{text.strip()}' is no date", where, "write the day like 2026-03-14"
        ) from None


def hours_of(text: str | None, where: str | None = None) -> Decimal | None:
    """Read a number of hours as typed; None for nothing. Raises `InputError` for anything else."""
    if not text:
        return None
    if not re.fullmatch(r"\d{1,9}(\.\d{1,9})?( ?h)?", text, re.ASCII):
        raise InputError(f"'{text}' is no number of hours", where, "write it like 45.2")
    return Decimal(text.removesuffix("h").strip())
