"""The draft logbook entry on paper: an A5 page, or the width of a sticker for the logbook."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fpdf import FPDF

# width, height and margin in mm, size of the letters in points; a sticker is as long as its text
SIZES = {"A5": (148.0, 210.0, 12.0, 7.4), "sticker": (100.0, 0.0, 4.0, 5.6)}
PLAIN = str.maketrans({"—": "-", "–": "-", "“": '"', "”": '"', "’": "'", "…": "..."})


def entry_pdf(text: str, size: str = "A5") -> bytes:
    """Give a PDF of the entry's plain text, line for line; `size` is `A5` or `sticker`."""
    from fpdf import FPDF

    width, height, margin, points = SIZES[size]
    step = points * 0.48  # mm from line to line
    height = height or 2 * margin + step * (len(text.splitlines()) + 1)
    paper = FPDF(unit="mm", format=(width, height))
    paper.set_margins(margin, margin)
    paper.set_auto_page_break(auto=True, margin=margin)
    paper.set_title("Draft logbook entry")
    paper.add_page()
    for line in _lettered(paper, text, points).splitlines():
        paper.cell(0, step, line, new_x="LMARGIN", new_y="NEXT")
    return bytes(paper.output())


def _lettered(paper: FPDF, text: str, points: float) -> str:
    """Choose letters that have every sign of the text; give the text as it is to be set."""
    plain = text.translate(PLAIN)
    try:
        plain.encode("latin-1")
    except UnicodeEncodeError:  # a name, say, that the built-in letters cannot write
        plots = find_spec("matplotlib")
        if plots is None or plots.origin is None:
            raise
        fonts = Path(plots.origin).parent / "mpl-data" / "fonts" / "ttf"
        paper.add_font("DejaVu", fname=fonts / "DejaVuSansMono.ttf")
        paper.set_font("DejaVu", size=points)
        return text
    paper.set_font("Courier", size=points)
    return plain
