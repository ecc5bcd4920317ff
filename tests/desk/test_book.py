"""The book over the years, its text read back by poppler; the totals worked by hand beside them."""

from __future__ import annotations

import re
import shutil
import subprocess
from datetime import date
from decimal import Decimal

import pytest

from desk import book_plots
from record.compute import Interval

WHO = "Robin Vale (invented)"
LATE = ("--although", "typed from the old sheet")


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    """The two invented years, with compressions, a defect and its end, and a signed page."""
    from desk import opening, years
    from tests.desk.test_history import FOLDER

    home = tmp_path_factory.mktemp("book")
    shutil.copy(FOLDER / "aircraft.toml", home)
    with opening.record(home) as here:
        years.fill(here)
    return home


@pytest.fixture
def book(filled, cowlnote, tmp_path, photo):
    home = shutil.copytree(filled, tmp_path / "years")
    typed = ("--by", WHO, *LATE)
    for cylinder in (1, 2):
        psi = 70 + cylinder
        more = ("--position", cylinder, "--on", "2025-06-14")
        cowlnote("add", "cylinder_compression", psi, *more, *typed, at=home)
    cowlnote("add", "defect", "cracked exhaust stud", "--on", "2025-06-15", *typed, at=home)
    (ref,) = [d["ref"] for d in cowlnote("defects", "--json", at=home).data]
    done = ("--by", "Udo Unreal", "--because", "fitted a new stud")
    assert cowlnote("defect", ref, "cleared", *done, at=home).code == 0
    page = photo(tmp_path / "page.jpg")
    assert cowlnote("signed", page, "--job", "9", "--by", WHO, at=home).code == 0

    def made(*more):
        out = tmp_path / "book.pdf"
        ran = cowlnote("book", "--out", out, *more, at=home)
        return ran, out

    return made


def text(path) -> str:
    if shutil.which("pdftotext") is None:
        pytest.skip("no poppler on this machine: the book is NOT read back")
    ran = subprocess.run(["pdftotext", "-layout", path, "-"], check=True, capture_output=True)
    return " ".join(ran.stdout.decode().split())


def test_the_book_tells_totals_services_defects_and_work(book):
    """Five changes of 7.5 qt and four quarts in between: 41.5; 2281.7 - 2101.3 = 180.4 h."""
    ran, out = book()
    assert ran.code == 0
    told = text(out)
    assert "SERVICE BOOK: N0417Q, 2024-05-11 to 2025-11-08" in told
    assert "Oil changes: 5" in told
    assert "Hours by tach: 180.4 h" in told
    assert "Oil put in: 41.5 qt" in told
    assert "cleared: cracked exhaust stud" in told
    assert "Udo Unreal: cleared: cracked exhaust stud (fitted a new stud)" in told
    assert "Cylinder 2: compression 72/80. Compressions as reported by" in told
    assert "Signed page: page.jpg" in told
    caption = told.rpartition("End of the record")[2]  # of the photo, by what is in it
    assert re.search(r"page\.jpg #[0-9a-f]{12}, \d{4}-", caption)
    assert "It is no logbook and approves nothing" in told


def test_the_book_has_two_pictures_and_the_photos(book):
    def pictures(path):
        ran = subprocess.run(["pdfimages", "-list", path], check=True, capture_output=True)
        return sum(b" image " in line for line in ran.stdout.splitlines())

    if shutil.which("pdfimages") is None:
        pytest.skip("no poppler on this machine: the pictures are NOT counted")
    assert pictures(book()[1]) == 3
    assert pictures(book("--no-photos")[1]) == 2


def test_the_days_bound_the_book_both_included(book):
    """Of 2025 with its last day: 18 and 19 January, 6 April, 14 June, 9 August, 8 November."""
    ran, out = book("--from", "2025-01-18", "--to", "2025-11-08")
    assert ran.code == 0
    told = text(out)
    assert "2025-01-18 to 2025-11-08" in told
    assert "Oil changes: 3" in told
    assert "2024-09-07" not in told


@pytest.mark.parametrize(
    "more",
    [
        ("--from", "2026-01-01"),
        ("--from", "2025-01-01", "--to", "2024-01-01"),
        ("--out", "nowhere/book.pdf"),
        ("--out", "book.txt"),
    ],
)
def test_what_makes_no_book_is_one_clear_line(book, more):
    ran, out = book(*more)
    assert (ran.code, ran.err.count("\n")) == (3, 1)
    assert not out.exists()


def test_the_pictures_are_pngs_at_paper_width():
    """PNG: ISO/IEC 15948, the signature; 7.1 in at 200 dots is 1420."""
    span = Interval(Decimal("0.026"), Decimal("0.032"), Decimal("0.037"))
    for png in (
        book_plots.used([(date(2025, 1, 18), span)], "qt"),
        book_plots.held({1: [(date(2025, 1, 18), Decimal(74))], 2: []}),
    ):
        assert png.startswith(b"\x89PNG\r\n\x1a\n")
        assert int.from_bytes(png[16:20], "big") == 1420
