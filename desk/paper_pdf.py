"""The draft logbook entry on paper: an A5 page, or the width of a sticker for the logbook."""

from __future__ import annotations

# width, height and margin in mm, size of the letters in points; a sticker is as long as its text
SIZES = {"A5": (148.0, 210.0, 12.0, 7.4), "sticker": (100.0, 0.0, 4.0, 5.6)}


def entry_pdf(text: str, size: str = "A5") -> bytes:
    """Give a PDF of the entry's plain text, line for line; `size` is `A5` or `sticker`."""
    from fpdf import FPDF

    width, height, margin, points = SIZES[size]
    lines = text.splitlines()
    step = points * 0.48  # mm from line to line
    height = height or 2 * margin + step * (len(lines) + 1)
    paper = FPDF(unit="mm", format=(width, height))
    paper.set_margins(margin, margin)
    paper.set_auto_page_break(auto=True, margin=margin)
    paper.set_title("Draft logbook entry")
    paper.add_page()
    # the built-in letters know Latin-1 only
    paper.set_font("Courier", size=points)
    for line in lines:
        plain = line.replace("—", "-").replace("–", "-").replace("“", '"').replace("”", '"')
        paper.cell(
            0,
            step,
            plain.encode("latin-1", "replace").decode("latin-1"),
            new_x="LMARGIN",
            new_y="NEXT",
        )
    return bytes(paper.output())
