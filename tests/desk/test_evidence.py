"""What a value came from lies beside it in the export; the paper carries the photos; the page as
signed comes back to its job. Sound is read with `wave`, pictures with Pillow, PDFs with poppler.
"""

from __future__ import annotations

import shutil
import subprocess
import wave

import pytest
from PIL import Image

from capture.observed import Instant
from capture.vault import Vault
from record import jobs, media, queue
from record.store import Store
from tests.desk.conftest import MORNING

WHO = "Ines Invented"
QUAD = ((40.0, 40.0), (120.0, 40.0), (120.0, 80.0), (40.0, 80.0))


@pytest.fixture
def filled(cowlnote, home, heard, sound, photo, tmp_path, draft):
    """One job: a torque said in a memo of three seconds, a tach time read off a photo."""
    memo = sound(tmp_path / "memo.wav", 220, 3.0)
    picture = photo(tmp_path / "tach.jpg")
    vault, store = Vault(home / "vault"), Store.open(home)
    with store.session() as session:
        job = jobs.job_for(session, MORNING, aircraft="N0417Q", kind="oil-and-filter")
        for path in (memo, picture):
            row = media.note(session, vault.keep(path), Instant(MORNING, "name"))
            media.join(session, row.id, job)
            if path is memo:
                media.keep_transcript(session, row.id, heard("torqued the filter to seventeen"))
        given = [
            draft("filter_torque", "17", "ft-lb", media="memo.wav", start=1.0, end=2.0),
            draft("tach_time", "2345.6", "h", media="tach.jpg", start=None, end=None, quad=QUAD),
        ]
        queue.confirm(session, queue.put(session, job, given), WHO)
    store.close()
    return job


def test_the_export_has_sound_and_picture_next_to_each_value(filled, cowlnote, tmp_path):
    assert cowlnote("export", tmp_path / "out").code == 0
    folder = tmp_path / "out" / "data" / "entries" / "job-0001"
    with wave.open(str(folder / "filter_torque.wav")) as cut:
        seconds = cut.getnframes() / cut.getframerate()
    assert seconds == pytest.approx(2.0, abs=0.05)  # one second said, and half a one on each side
    with Image.open(folder / "tach_time.jpg") as crop:
        assert not crop.getexif()
        assert crop.width > crop.height
    index = (folder / "index.html").read_text("utf-8")
    assert index.index("17 ft-lb") < index.index("filter_torque.wav")
    assert "2345.6 h" in index


def test_the_pdf_carries_the_photos_where_they_are_asked_for(filled, cowlnote, tmp_path):
    for name, more, expected in (("bare.pdf", (), 0), ("full.pdf", ("--photos",), 1)):
        assert cowlnote("entry", "--pdf", tmp_path / name, *more).code == 0
        assert images(tmp_path / name) == expected
    assert cowlnote("entry", "--photos").code == 3
    assert cowlnote("entry", "--pdf", tmp_path / "none" / "x.pdf").code == 3
    assert cowlnote("entry", "--pdf", tmp_path / "x.txt").code == 3


def images(path) -> int:
    if shutil.which("pdfimages") is None:
        pytest.skip("no poppler on this machine: the PDF's pictures are NOT counted")
    told = subprocess.run(["pdfimages", "-list", path], check=True, capture_output=True, text=True)
    return len(told.stdout.splitlines()) - 2


def test_the_signed_page_comes_back_to_a_closed_job(filled, cowlnote, photo, tmp_path):
    cowlnote("close", "1", "--by", WHO, "--because", "trial")
    page = photo(tmp_path / "page.jpg", "2026:03:14 18:00:00")
    assert cowlnote("signed", page, "--job", "1", "--by", WHO).code == 0
    assert "signed page 1 page.jpg" in cowlnote("entry", "1").words
    assert cowlnote("check").code == 0
    assert "page.jpg" not in cowlnote("entry", "1").out.partition("DRAFT LOGBOOK ENTRY")[2]
    cowlnote("export", tmp_path / "out")
    assert (tmp_path / "out" / "data" / "entries" / "job-0001" / "signed_page-1.jpg").is_file()
    again = cowlnote("signed", page, "--job", "1", "--by", WHO)
    assert (again.code, again.err.count("\n")) == (7, 1)


@pytest.mark.parametrize(
    ("what", "by", "code"), [("memo.wav", WHO, 3), ("none.jpg", WHO, 3), ("tach.jpg", " ", 7)]
)
def test_what_is_no_signed_page_is_one_clear_line(filled, cowlnote, tmp_path, what, by, code):
    ran = cowlnote("signed", tmp_path / what, "--job", "1", "--by", by)
    assert (ran.code, ran.err.count("\n")) == (code, 1)


def test_a_signed_page_is_never_read_for_values(filled, cowlnote, home, photo, tmp_path):
    cowlnote("signed", photo(tmp_path / "page.jpg"), "--job", "1", "--by", WHO)
    store = Store.open(home)
    with store.session(write=False) as session:
        assert "page.jpg" not in [m.name for m in media.unheard(session)]
    store.close()
