"""The entry on paper, read back by poppler, which did not write it."""

from __future__ import annotations

import re
import shutil
import subprocess

import pytest

from desk.logbook import GLUE, TO_SIGN, LogbookEntry
from desk.paper_pdf import entry_pdf

pytestmark = pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="no poppler-utils to read a PDF with"
)


def entry(**other) -> LogbookEntry:
    given = {
        "facts": (
            ("Aircraft", "N0417Q", ""),
            ("Date completed", "", "not confirmed; the memos and photos are of 2026-03-14"),
            ("Tach time", f"2345.6{GLUE}h", "not confirmed"),
        ),
        "title": "Oil and filter service",
        "work": tuple(f"{'Torqued the filter again ' * n}to 17{GLUE}ft-lb." for n in range(12)),
        "open": (),
        "heed": (),
        "undecided": "",
        "missing": "",
    }
    return LogbookEntry(**{**given, **other})


def words_of(pdf: bytes, tmp_path, tool: str = "pdftotext", *options: str) -> str:
    path = tmp_path / "entry.pdf"
    path.write_bytes(pdf)
    to = ["-"] if tool == "pdftotext" else []
    ran = subprocess.run([tool, *options, path, *to], capture_output=True, text=True, check=True)
    return ran.stdout


@pytest.mark.parametrize("size", ["A5", "sticker"])
def test_no_line_ends_between_a_figure_and_its_unit_nor_inside_one(tmp_path, size):
    text = words_of(entry_pdf(entry(), size), tmp_path, "pdftotext", "-layout")
    assert text.count("17 ft-lb") == 12
    assert "2345.6 h" in text


@pytest.mark.parametrize("size", ["A5", "sticker"])
def test_nothing_is_smaller_than_seven_points(tmp_path, size):
    """Poppler gives each word's box; the letters' size is read from the font size of the page."""
    text = words_of(entry_pdf(entry(), size), tmp_path, "pdftohtml", "-xml", "-stdout", "-i")
    zoom = 1.5  # pdftohtml's own default
    sizes = {int(s) / zoom for s in re.findall(r'<fontspec [^>]*size="(\d+)"', text)}
    assert sizes
    assert min(sizes) >= 6.6  # it gives whole pixels


def test_the_face_is_carried_in_the_paper(tmp_path):
    fonts = words_of(entry_pdf(entry()), tmp_path, "pdffonts")
    assert "DejaVuSans" in fonts
    assert not re.search(r"\bno +\w+ +\w+ +\d+ +0$", fonts, re.MULTILINE)  # every one embedded


def test_there_is_nowhere_to_sign_while_something_is_open(tmp_path):
    text = words_of(entry_pdf(entry(open=("a leak was found (leak check: fail).",))), tmp_path)
    assert "OPEN: a leak was found" in " ".join(text.split())
    for label in TO_SIGN[2:]:
        assert label not in text
    whole = words_of(entry_pdf(entry()), tmp_path)
    for label in TO_SIGN:
        assert label in whole


def test_a_name_in_other_letters_is_set_as_it_is(tmp_path):
    work = ("Cowling refitted by Łukasz Wymyślony.",)
    assert "Łukasz Wymyślony" in words_of(entry_pdf(entry(work=work)), tmp_path)


def test_a_long_entry_goes_over_to_the_next_page(tmp_path):
    open_ = tuple(f"finding {n}, of which there is a good deal to say here." for n in range(60))
    text = words_of(entry_pdf(entry(open=open_)), tmp_path)
    assert text.count("\f") > 1
    assert all(f"finding {n}," in " ".join(text.split()) for n in range(60))


def test_a_sticker_is_as_long_as_its_text(tmp_path):
    info = words_of(entry_pdf(entry(), "sticker"), tmp_path, "pdfinfo")
    wide, high = map(float, re.search(r"Page size: +([\d.]+) x ([\d.]+)", info).groups())
    assert wide == pytest.approx(100 / 25.4 * 72, abs=0.1)
    assert 200 < high < 800
    assert "Pages:           1" in info
