"""Arranging a job in a real Chromium: the key for its kind, files moved by mouse, axe's rules."""

from __future__ import annotations

import pytest

from record import jobs, media
from tests.desk.page.conftest import IN_A_BROWSER, come_in, open_home, sound
from tests.desk.page.test_browser import violations

pytestmark = IN_A_BROWSER


def kind_of(served, job: int) -> str:
    with served.desk.store.session(write=False) as session:
        return jobs.get(session, job).kind


def test_the_kind_of_a_job_is_one_key_to_change(filled, serve, page):
    served = serve(filled.desk)
    come_in(page, served, f"/job/{filled.job}")
    page.keyboard.press("c")
    assert page.evaluate("document.activeElement.name") == "kind"
    page.keyboard.type("compr")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert "compression test" in page.inner_text("h1")
    assert kind_of(served, filled.job) == "compression"


def test_files_are_moved_and_set_aside_by_mouse(filled, serve, page):
    served = serve(filled.desk)
    come_in(page, served, f"/job/{filled.job}/arrange")
    page.click("text=Move them")
    assert "Choose files first" in page.inner_text("#say")
    page.check("li:has-text('memo_01.wav') input")
    with page.expect_navigation():
        page.click("text=Move them")
    assert "See also job 2" in page.inner_text("#say")
    page.check("li:has-text('photo_00.jpg') input")
    page.click("text=Set them aside")
    assert "needs a reason" in page.inner_text("#say")
    page.fill("[name=because]", "blurred")
    with page.expect_navigation():
        page.click("text=Set them aside")
    assert "set aside by Ines Invented" in page.inner_text("main")
    with served.desk.store.session(write=False) as session:
        found = {m.name: (m.job, m.aside) for m in media.media(session)}
    assert found["memo_01.wav"] == (2, False)
    assert found["photo_00.jpg"] == (filled.job, True)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_the_page_that_arranges(filled, serve, page, scheme):
    served = serve(filled.desk)
    page.emulate_media(color_scheme=scheme)
    come_in(page, served, f"/job/{filled.job}/arrange")
    assert violations(page) == ""


def test_two_jobs_dropped_together_are_each_linked_and_every_file_is_named(
    serve, page, tmp_path, ear, eye
):
    said = {
        "20260314_091205.wav": "tach reads two three four five point six",
        "20260314_092000.wav": "",
        "20260321_080000.wav": "nose tire twenty four psi",
    }
    ear.says = said
    come_in(page, serve(open_home(tmp_path / "home"), ear=ear, eye=eye), "/")
    files = [sound(tmp_path / name, 1.0, 300.0 + 50 * n) for n, name in enumerate(said)]
    page.locator("#drop input").first.set_input_files(files)
    page.wait_for_function("() => document.querySelectorAll('#run a').length === 2")
    told = page.inner_text("#run")
    assert "3 files in 2 jobs" in told
    for name in said:
        assert name in told
    # the memo in which nothing was understood is named, with its sound to play, in both places
    for where in ("#files", "#state"):
        lost = page.locator(f"{where} li", has_text="20260314_092000.wav")
        assert "no voice was made out" in lost.inner_text()
        assert lost.locator("audio").count() == 1
    assert page.locator("#state tbody tr").count() == 2
