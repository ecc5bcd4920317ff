"""A printed oil report is read off a photo by the real reader."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image, ImageDraw, ImageFont

PRINTED = {
    "Iron (Fe)": "25",
    "Copper (Cu)": "6",
    "Chromium (Cr)": "3",
    "Aluminium (Al)": "5",
    "Silicon (Si)": "7",
    "Lead (Pb)": "1780",
    "Tin (Sn)": "<1",
    "Nickel (Ni)": "2",
}


@pytest.fixture
def report(tmp_path):
    """A photo of an invented printed report, a little askew, on a brown table."""
    import matplotlib

    font = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"
    large = ImageFont.truetype(font, 34)
    page = Image.new("RGB", (1500, 1100), (246, 244, 238))
    draw = ImageDraw.Draw(page)
    draw.text((80, 60), "NORTH LAB (invented)", font=large, fill=20)
    for place, (name, figure) in enumerate(PRINTED.items()):
        draw.text((80, 200 + 70 * place), name, font=large, fill=20)
        draw.text((700, 200 + 70 * place), figure, font=large, fill=20)
    path = tmp_path / "report.jpg"
    page.rotate(1.2, fillcolor=(120, 110, 100), resample=Image.Resampling.BICUBIC).save(path)
    return path


@pytest.mark.slow
def test_a_printed_report_is_read_off_a_photo(cowlnote, report):
    ran = cowlnote("lab", "show", report)
    assert "Fe=25 Cu=6 Cr=3 Al=5 Si=7 Pb=1780 Sn=<1 Ni=2" in ran.out
    assert "not taken: NORTH LAB (invented)" in ran.out
