"""From an empty home to the first confirmed value of one's own memo, by mouse: counted."""

from __future__ import annotations

from desk.opening import Opened
from desk.settings import load
from extract.values.catalogue import load as load_catalogue
from record import entries
from record.store import Store
from tests.conftest import transcript
from tests.desk.page.conftest import IN_A_BROWSER, WHO, sound

pytestmark = IN_A_BROWSER
MEMO = "memo_2026-03-14_10-01.wav"


class Told:
    """An ear that hears what was said."""

    def hear(self, samples, media, progress=None):
        return transcript("torqued the filter to seventeen foot pounds", media=media)


def test_a_new_owner_confirms_a_first_value_in_five_clicks(tmp_path, serve, page):
    home = tmp_path / "home"
    settings = load(home, {"COWLNOTE_MODELS": str(tmp_path / "none")})
    served = serve(Opened(settings, load_catalogue(), Store.open(home)), ear=Told())
    clicks = 0

    def click(place):
        nonlocal clicks
        clicks += 1
        place.click()

    page.goto(served.link())  # as `cowlnote` opens it
    assert page.url.endswith("/begin")
    page.locator("input[name=registration]").fill("N0417Q")
    click(page.get_by_role("button", name="Make the profile"))
    page.wait_for_selector("#drop")
    page.locator("#who").fill(WHO)
    page.locator("#who").press("Enter")
    memo = sound(tmp_path / MEMO, 4.0)
    page.on("filechooser", lambda chooser: chooser.set_files([memo]))
    click(page.locator("#drop input").first)
    click(page.get_by_role("link", name="Review job 1"))
    page.wait_for_selector(".draft.current")
    click(page.locator("#choices button").first)
    page.wait_for_selector(".draft.confirmed")
    with served.desk.store.session(write=False) as session:
        (entry,) = entries.entries(session, 1)
    assert entry.value is not None
    assert entry.by == WHO
    assert clicks <= 5
    served.desk.store.close()
