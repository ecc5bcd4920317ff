"""The book as a PDF on A4, in the typeface of the other papers."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from io import BytesIO

from desk import book_plots
from desk.book import NOTICE, Book
from desk.logbook import HEAD
from desk.paper_pdf import MM, MONO, THICK, Page

_COLUMNS = 118  # characters of the narrow face across the page at its smallest size
_ACROSS, _DOWN = 2, 3  # photos on a page
NONE = {
    "used": "No oil use can be reckoned in this time.",
    "held": "No compressions are confirmed in this time.",
    "found": "No defect is on record in this time.",
}


def book_pdf(book: Book, photos: Sequence[tuple[bytes, str]] = ()) -> bytes:
    """Give the PDF; `photos` are JPEGs, each with its caption, at the end."""
    page = Page("A4", (210.0, 297.0))
    page.paper.set_title(f"Service book of {book.title}")
    page.text(f"SERVICE BOOK: {book.title}", page.points + 4, "B")
    page.rule(THICK)
    page.text(NOTICE, page.small)
    _head(page, "Totals")
    for label, value in book.totals:
        page.text(f"{label}: {value}", page.points)
    _head(page, "Services")
    _mono(page, [*book.services, *book.left_out])
    _head(page, f"Oil used, {book.unit} an hour")
    _picture(page, book_plots.used(book.used, book.unit) if book.used else None, NONE["used"])
    _head(page, "Compressions by cylinder, as reported")
    _picture(page, book_plots.held(book.held) if book.held else None, NONE["held"])
    _head(page, "Defects and how they ended")
    _mono(page, book.found or [NONE["found"]])
    _head(page, "What was done")
    for heading, told in book.jobs:
        page.room(3 * page.points * MM * 1.3)
        page.text(heading, page.points, "B")
        page.text(told, page.points, indent=3)
        page.y += 1.5
    page.y += 2
    page.text(f"{HEAD}: {book.seal}", page.small)
    _photos(page, photos)
    return bytes(page.paper.output())


def _head(page: Page, text: str) -> None:
    page.y += 4
    page.room(20)
    page.text(text, page.points + 2, "B")
    page.y += 1


def _mono(page: Page, lines: Sequence[str]) -> None:
    step = page.small * MM * 1.3
    for line in lines:
        for part in textwrap.wrap(line, _COLUMNS, subsequent_indent=" " * 12) or [""]:
            page.room(step)
            page.paper.set_font(MONO, "", page.small)
            page.paper.set_xy(page.margin, page.y)
            page.paper.cell(page.inner, step, part)
            page.y += step


def _picture(page: Page, png: bytes | None, otherwise: str) -> None:
    if png is None:
        page.text(otherwise, page.points)
        return
    high = page.inner * 2.9 / 7.1
    page.room(high)
    page.paper.image(BytesIO(png), page.margin, page.y, w=page.inner)
    page.y += high


def _photos(page: Page, photos: Sequence[tuple[bytes, str]]) -> None:
    """Set six photos on a page, each as large as its place allows, with its caption below."""
    step = page.small * MM * 1.3
    wide = page.inner / _ACROSS - 2
    deep = (page.bottom - page.margin) / _DOWN - step - 5
    for at, (jpeg, caption) in enumerate(photos):
        place = at % (_ACROSS * _DOWN)
        if place == 0:
            page.paper.add_page()
        x = page.margin + (place % _ACROSS) * (wide + 4)
        y = page.margin + (place // _ACROSS) * (deep + step + 5)
        if jpeg:
            page.paper.image(BytesIO(jpeg), x, y, w=wide, h=deep, keep_aspect_ratio=True)
        page.y = y + deep + 1
        page.paper.set_font("DejaVu", "", page.small)
        page.paper.text(x, page.y + step * 0.7, _fitted(page, caption, wide))


def _fitted(page: Page, text: str, wide: float) -> str:
    while len(text) > 1 and page.paper.get_string_width(text) > wide:
        text = f"{text[:-2]}…"
    return text
