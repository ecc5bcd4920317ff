"""“All said”, seen from three metres: a whole service is spoken to the page of the phone.

A real Chromium, its microphone a sound file, the desk's own pipeline behind stand-in engines.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from desk.web.certificate import FOLDER, provide
from tests.conftest import RecordedEye
from tests.desk.page.conftest import CHROMIUM, IN_A_BROWSER, open_home
from tests.desk.page.phones import Phone, flags, talk
from tests.desk.page.test_told import PhraseEar, find

pytestmark = IN_A_BROWSER

SCREENS = {"android": (412, 915), "ios": (390, 844)}
MM = 160 / 25.4  # CSS pixels of a phone in a millimetre: 160 to the inch (W3C CSS Values, 6.2)
# Letters are read without effort from 20 minutes of arc on (ISO 9241-303, from memory); capitals
# are some 0.7 of the size of their type. At three metres that is 17 mm.
LEAST_MM, CAPITAL = 15.0, 0.7
LAST = "cowl is back on."
SERVICE = [
    "tach reads two three four six decimal two.",
    "the drain plug is back in and wired.",
    "I cut the old filter open and there is no metal in the pleats.",
    "old gasket came off with it.",
    "new filter is alpha bravo dash three one eight.",
    "torqued the filter to seventeen foot pounds.",
    "filter is safety wired.",
    "put in seven and a quarter quarts of oil.",
    "oil is single grade fifty.",
    "oil cap is on and tight.",
    "leak check done, it is dry, no leaks at the filter.",
    "dipstick now shows six and three quarters.",
    "tools and rags all accounted for.",
    LAST,
]
SAYS = {200 + 100 * n: text for n, text in enumerate(SERVICE)}


@pytest.fixture(scope="module")
def phones(tmp_path_factory, play):
    """A Chromium whose microphone hears the whole service, the last phrase after a longer pause."""
    folder = tmp_path_factory.mktemp("service")
    authority = provide(folder, ["127.0.0.1", "desk.test"]).authority
    parts = [(0, 6.0)]  # a busy machine takes its time to open the microphone
    for pitch, text in SAYS.items():
        parts += [(0, 6.0)] if text == LAST else []
        parts += [(pitch, 0.5), (0, 1.0)]
    heard = talk(folder / "talk.wav", *parts, (0, 300.0))
    browser = play.chromium.launch(executable_path=CHROMIUM, args=flags(heard, authority))
    yield browser, folder / FOLDER
    browser.close()


@pytest.mark.parametrize("kind", SCREENS)
def test_all_said_is_seen_from_three_metres(phones, tmp_path, serve, kind):
    browser, authority = phones
    home = open_home(tmp_path / "home")
    shutil.copytree(authority, home.settings.home / FOLDER)
    served = serve(home, tls=True, ear=PhraseEar(SAYS), eye=RecordedEye())
    served.desk.live.find = find
    width, height = SCREENS[kind]
    phone = Phone(browser, served, viewport={"width": width, "height": height})
    phone.page.get_by_role("button", name="Sound is on").tap()
    phone.listen()
    # all but one: the list names it, and nothing says that all was said
    phone.see("6.75", timeout=60_000)
    phone.page.wait_for_function("() => document.querySelectorAll('#still li').length === 1")
    assert "Cowling" in phone.page.inner_text("#still")
    assert not phone.page.locator("#allsaid").is_visible()
    phone.page.wait_for_selector("#allsaid:visible", timeout=60_000)
    assert not phone.page.locator("#still").is_visible()
    box = phone.page.locator("#allsaid").bounding_box()
    assert box["width"] >= 0.9 * width
    assert box["y"] >= 0
    assert box["y"] + box["height"] <= height - phone.page.locator(".dock").bounding_box()["height"]
    size = float(phone.page.evaluate("parseFloat(getComputedStyle(allsaid).fontSize)"))
    assert size * CAPITAL / MM >= LEAST_MM
    # no word is cut: what is drawn is no wider than its box
    assert phone.page.evaluate("allsaid.scrollWidth <= allsaid.clientWidth")
    if folder := os.environ.get("COWLNOTE_PICTURES"):
        phone.page.screenshot(path=Path(folder) / f"all-said-{kind}.png")
        phone.page.locator("#light").select_option("bright")
        phone.page.evaluate("scrollTo(0, 0)")
        phone.page.screenshot(path=Path(folder) / f"all-said-{kind}-bright.png")
    phone.stop()
    phone.safe()
    phone.close()
    home.store.close()


def test_the_light_of_the_hangar_is_chosen_on_the_phone_and_kept(phones, tmp_path, serve):
    browser, authority = phones
    home = open_home(tmp_path / "home")
    shutil.copytree(authority, home.settings.home / FOLDER)
    served = serve(home, tls=True, ear=PhraseEar({}), eye=RecordedEye())
    phone = Phone(browser, served, color_scheme="dark")
    paper = "getComputedStyle(document.body).backgroundColor"
    assert phone.page.evaluate(paper) == "rgb(20, 25, 27)"
    phone.page.locator("#light").select_option("bright")
    assert phone.page.evaluate(paper) == "rgb(255, 255, 255)"
    url = phone.page.url
    phone.page.close()
    phone.open(url)
    assert phone.page.evaluate(paper) == "rgb(255, 255, 255)"
    assert phone.page.locator("#light").input_value() == "bright"
    assert phone.page.locator("#light").bounding_box()["height"] >= 64
    phone.close()
    home.store.close()
