"""A defect from the add form to its end, with keys and mouse, in a real browser."""

from __future__ import annotations

from tests.desk.page.conftest import IN_A_BROWSER, WHO, come_in

pytestmark = IN_A_BROWSER


def test_a_defect_is_added_by_hand_and_cleared_on_the_page(filled, serve, page):
    served = serve(filled.desk)
    come_in(page, served, f"/job/{filled.job}")
    page.locator("summary", has_text="Mind while you work").click()
    assert page.get_by_text("Treat every propeller as live").is_visible()
    page.keyboard.press("a")
    page.select_option("#add select[name=name]", "defect")
    page.fill("#add input[name=value]", "cracked exhaust stud")
    page.click("#add button")
    page.get_by_text("open: cracked exhaust stud").first.wait_for()
    page.goto(served.url(f"/record/{filled.job}"))
    form = page.locator("#became")
    form.locator("select[name=state]").select_option("deferred")
    form.locator("input[name=until]").fill("the annual")
    form.locator("input[name=because]").fill("not at this place")
    form.locator("button").click()
    page.get_by_text("deferred until the annual: cracked exhaust stud").first.wait_for()
    form.locator("input[name=because]").fill("fitted a new stud")
    form.locator("button").click()
    page.get_by_text("cleared: cracked exhaust stud").first.wait_for()
    assert page.locator("#became").count() == 0
    paper = page.locator("pre.paper").inner_text()
    assert "Defect 1, cleared: cracked exhaust stud. Fitted a new stud." in paper
    assert page.locator("s", has_text="open: cracked exhaust stud").count() == 1
    assert WHO in page.content()
