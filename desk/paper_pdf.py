"""The draft logbook entry on paper: an A5 page, or the width of a sticker for the logbook.

Set in DejaVu Sans, which matplotlib carries with its licence (free, Bitstream Vera terms). No text
is smaller than 7 points, and no line ends between a figure and its unit.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from importlib.util import find_spec
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from capture.errors import InputError
from desk.logbook import GLUE, HEAD, NOTICE, UNSIGNED, LogbookEntry

if TYPE_CHECKING:
    from fpdf import FPDF

# width, height and margin in mm, the text and the small print in points; a sticker is as long as
# its text
SIZES = {
    "A4": (210.0, 297.0, 15.0, 9.0, 7.0),
    "A5": (148.0, 210.0, 10.0, 9.0, 7.0),
    "sticker": (100.0, 0.0, 4.0, 7.5, 7.0),
}
TALL = 3000.0  # mm; a sticker is drawn on this first, to see how long it is
MM = 25.4 / 72  # a point
FACE = "DejaVu"
MONO = "DejaVuMono"
FILES = {
    (FACE, ""): "DejaVuSans.ttf",
    (FACE, "B"): "DejaVuSans-Bold.ttf",
    (MONO, ""): "DejaVuSansMono.ttf",
}
THIN, THICK = 0.2, 0.7  # mm
Fact = tuple[str, str, str]


def entry_pdf(
    entry: LogbookEntry,
    size: str = "A5",
    record: str = "",
    photos: Sequence[tuple[bytes, str]] = (),
) -> bytes:
    """Give a PDF of a draft entry; `size` is `A5` or `sticker`, `record` plain text to follow it.

    `photos` are JPEGs, each with its caption, on pages of their own at the end; one without bytes
    leaves its place empty above the caption that says why.

    Raises InputError for another size, or where the typeface was taken out of its package.
    """
    if size not in SIZES:
        raise InputError(f"there is no paper {size}", todo=f"use one of {', '.join(SIZES)}")
    width, height, margin, *_ = SIZES[size]
    if not height:
        height = Page(size, (width, TALL)).draw(entry) + margin
    page = Page(size, (width, height))
    page.draw(entry)
    if record:
        page.record(record)
    page.photos(photos)
    return bytes(page.paper.output())


class Page:
    """One entry being drawn, from the top down; lengths in mm."""

    def __init__(self, size: str, form: tuple[float, float]) -> None:
        from fpdf import FPDF

        self.width, _, self.margin, self.points, self.small = SIZES[size]
        self.bottom = form[1] - self.margin
        self.inner = self.width - 2 * self.margin
        self.paper: FPDF = FPDF(unit="mm", format=form)
        self.paper.set_margin(0)
        self.paper.c_margin = 0
        self.paper.set_auto_page_break(auto=False)
        self.paper.set_title("Draft logbook entry")
        for (family, style), name in FILES.items():
            self.paper.add_font(family, style, _face(name))
        self.paper.add_page()
        self.y = self.margin

    def draw(self, entry: LogbookEntry) -> float:
        """Draw the entry; give where it ends."""
        self.text("DRAFT LOGBOOK ENTRY", self.points + 2.5, "B")
        self.rule(THICK)
        self.facts(entry)
        self.y += 1.5
        self.text(f"{entry.title}:", self.points + 1, "B")
        self.text(" ".join(entry.work), self.points)
        for told in entry.found:
            self.y += 1.2
            self.text(told, self.points)
        for word, told in (
            *(("HEED", line) for line in entry.heed),
            ("NOT LISTED", entry.unlisted),
            ("NOT CONFIRMED", entry.missing),
            ("NOT DECIDED", entry.undecided),
        ):
            if told:
                self.y += 1.2
                self.marked(f"{word}: {told}", THIN)
        self.y += 2.5
        for told in entry.open:
            self.marked(f"OPEN: {told}", 1.6)
            self.y += 1.0
        if entry.open:
            self.text(UNSIGNED, self.points, "B")
        else:
            self.to_sign(entry.to_sign)
        self.y += 2
        self.text(NOTICE, self.small)
        if entry.head:
            self.text(f"{HEAD}: {entry.head}", self.small)
        return self.y

    def lines(self, text: str, points: float, style: str, width: float) -> Iterator[str]:
        """Break a text into lines of a width, only between words that are not glued together."""
        self.paper.set_font(FACE, style, points)
        line = ""
        for word in text.split(" "):
            longer = f"{line} {word}" if line else word
            if line and self.paper.get_string_width(longer.replace(GLUE, " ")) > width:
                yield line.replace(GLUE, " ")
                longer = word
            line = longer
        yield line.replace(GLUE, " ")

    def text(self, text: str, points: float, style: str = "", indent: float = 0) -> None:
        """Set a paragraph, on the next page where this one is full."""
        step = points * MM * 1.3
        for line in list(self.lines(text, points, style, self.inner - indent)):
            self.room(step)
            self.paper.set_font(FACE, style, points)
            self.paper.set_xy(self.margin + indent, self.y)
            self.paper.cell(self.inner - indent, step, line)
            self.y += step

    def room(self, height: float) -> None:
        """Begin another page where so much does not fit on this one."""
        if self.y + height > self.bottom + 0.01:
            self.paper.add_page()
            self.y = self.margin

    def rule(self, thick: float) -> None:
        """Draw a line across."""
        self.y += 0.6
        self.paper.set_line_width(thick)
        self.paper.line(self.margin, self.y, self.margin + self.inner, self.y)
        self.y += 1.2

    def marked(self, text: str, thick: float) -> None:
        """Set a paragraph with a bar beside it."""
        top = self.y
        self.text(text, self.points, "B" if thick > THICK else "", indent=3)
        if self.y > top:  # on one page; a bar across two would mark what is between
            self.paper.rect(self.margin, top + 0.4, thick, self.y - top - 0.8, style="F")

    def facts(self, entry: LogbookEntry) -> None:
        """Draw a grid of what the entry is about: a label over each value, or room to write it."""
        for row in self.rows(entry.facts):
            wide = self.inner / len(row)
            cells = [
                (
                    name,
                    list(self.lines(value, self.points + 1, "B", wide - 3)),
                    list(self.lines(unknown, self.small, "", wide - 3)) if not value else [],
                )
                for name, value, unknown in row
            ]
            more = max(len(value) for _, value, _ in cells) - 1
            small = max(len(note) for _, _, note in cells)
            high = 9.5 + (more * (self.points + 1) + small * self.small) * MM * 1.3
            self.room(high)
            for place, (name, value, note) in enumerate(cells):
                self.cell(self.margin + place * wide, wide, high, name, value, note)
            self.y += high

    def rows(self, facts: tuple[Fact, ...]) -> list[tuple[Fact, ...]]:
        """Set facts two by two, and behind them those that are too long for half the width."""
        self.paper.set_font(FACE, "B", self.points + 1)
        half = self.inner / 2 - 3
        long = [f for f in facts if self.paper.get_string_width(f[1]) > half]
        short = [f for f in facts if f not in long]
        return [tuple(short[at : at + 2]) for at in range(0, len(short), 2)] + [(f,) for f in long]

    def cell(
        self, x: float, wide: float, high: float, name: str, value: list[str], note: list[str]
    ) -> None:
        """Draw one cell of a grid."""
        self.paper.set_line_width(THIN)
        self.paper.rect(x, self.y, wide, high)
        self.paper.set_font(FACE, "", self.small)
        self.paper.text(x + 1.5, self.y + 3.2, name)
        for number, line in enumerate(reversed(note)):
            self.paper.text(x + 1.5, self.y + high - 1.5 - number * self.small * MM * 1.3, line)
        self.paper.set_font(FACE, "B", self.points + 1)
        for number, line in enumerate(value):
            self.paper.text(x + 1.5, self.y + 8.0 + number * (self.points + 1) * MM * 1.3, line)

    def to_sign(self, labels: tuple[str, ...]) -> None:
        """Draw the grid to sign in: the first across, the others two by two; empty, all of it."""
        rows = [labels[:1], *(labels[at : at + 2] for at in range(1, len(labels), 2))]
        high = 11.0
        self.room(high * len(rows))
        for row in rows:
            for place, name in enumerate(row):
                wide = self.inner / len(row)
                self.cell(self.margin + place * wide, wide, high, name, [], [])
            self.y += high

    def record(self, text: str) -> None:
        """Set the service record behind the entry, line for line."""
        self.paper.add_page()
        self.y = self.margin
        step = self.small * MM * 1.3
        for line in text.splitlines():
            self.room(step)
            self.paper.set_font(MONO, "", self.small)
            self.paper.set_xy(self.margin, self.y)
            self.paper.cell(self.inner, step, line)
            self.y += step

    def photos(self, photos: Sequence[tuple[bytes, str]]) -> None:
        """Set photos two on a page, each as large as fits, with its caption below."""
        step = self.small * MM * 1.3
        high = (self.bottom - self.margin) / 2 - step - 3
        for at, (jpeg, caption) in enumerate(photos):
            if at % 2 == 0:
                self.paper.add_page()
                self.y = self.margin
            box = {"w": self.inner, "h": high, "keep_aspect_ratio": True}
            if jpeg:
                self.paper.image(BytesIO(jpeg), self.margin, self.y, **box)  # type: ignore[arg-type]
            self.y += high + 1
            self.text(caption, self.small)
            self.y += 2


def _face(name: str) -> Path:
    carries = find_spec("matplotlib")  # found, not imported: it is slow to load
    path = (
        Path(carries.origin).parent / "mpl-data" / "fonts" / "ttf" / name
        if carries is not None and carries.origin is not None
        else Path(name)
    )
    if not path.is_file():
        raise InputError("the typeface is not there", path, "install cowlnote again")
    return path
