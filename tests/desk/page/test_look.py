"""Every page beside its reference picture: a page that looks otherwise than it was looked at fails.

Pictures are compared small and grey, in blocks, so that another machine's letters do not matter and
a card that is gone does. `COWLNOTE_RENEW=1 pytest tests/desk/page/test_look.py` makes them anew;
then look at them before they are committed.
"""

from __future__ import annotations

import io
import os
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from desk import years
from tests.desk.page.conftest import IN_A_BROWSER, come_in, fill

pytestmark = IN_A_BROWSER
PICTURES = Path(__file__).parent / "pictures"
PAGES = {
    "front": "/",
    "begin": "/begin",
    "aircraft": "/aircraft",
    "record": "/record",
    "service": "/record/3",
    "review": "/job/1",
    "checklist": "/job/1/checklist",
    "oil": "/oil",
    "find": "/search?q=oil",
    "people": "/people",
    "words": "/words",
    "keep": "/keep",
    "help": "/help",
    "torque": "/torque?wanted=17",
}
WIDE, SMALL, BLOCK = (1280, 800), (160, 100), 10
# The mean difference of a block of the small picture that is still the same page, of 255. Chosen on
# this project's own pages: the same page a day later stays under 12, one card gone is over 40.
SAME = 28.0


def seen(page) -> np.ndarray:
    """What the window shows, small and grey."""
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(300)  # what is drawn after it came
    whole = Image.open(io.BytesIO(page.screenshot())).convert("L")
    return np.asarray(whole.resize(SMALL, Image.Resampling.BOX), dtype=np.float64)


def apart(one: np.ndarray, other: np.ndarray) -> float:
    """How far apart two pictures are: the mean difference of the block that differs most."""
    off = np.abs(one - other)
    high, wide = off.shape
    blocks = off.reshape(high // BLOCK, BLOCK, wide // BLOCK, BLOCK).mean(axis=(1, 3))
    return float(blocks.max())


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    """Two invented years and a job that waits."""
    where = tmp_path_factory.mktemp("look") / "home"
    filled = fill(where)
    (where / "aircraft.toml").write_bytes((years.FOLDER / "aircraft.toml").read_bytes())
    years.fill(filled.desk)
    filled.desk.reload()
    yield filled
    filled.desk.store.close()


@pytest.mark.parametrize("name", list(PAGES))
def test_a_page_looks_as_it_was_looked_at(home, serve, page, name):
    page.set_viewport_size({"width": WIDE[0], "height": WIDE[1]})
    served = serve(home.desk)
    come_in(page, served, PAGES[name])
    if name == "review":
        page.wait_for_selector(".wave:not([hidden]) *", state="attached")
    now = seen(page)
    kept = PICTURES / f"{name}.png"
    if os.environ.get("COWLNOTE_RENEW"):
        PICTURES.mkdir(exist_ok=True)
        Image.fromarray(now.astype(np.uint8)).save(kept, optimize=True)
    before = np.asarray(Image.open(kept), dtype=np.float64)
    assert apart(now, before) < SAME, f"{name} looks otherwise; look at it, then renew {kept.name}"


def test_a_card_that_is_gone_is_seen(home, serve, page):
    page.set_viewport_size({"width": WIDE[0], "height": WIDE[1]})
    come_in(page, serve(home.desk), "/")
    before = seen(page)
    page.evaluate("document.querySelector('.glance .due').remove()")
    assert apart(seen(page), before) > SAME


@pytest.mark.parametrize("light", ["dark", "bright"])
def test_another_light_changes_every_colour_by_its_name(home, serve, page, light):
    come_in(page, serve(home.desk), "/")
    before = page.evaluate("getComputedStyle(document.body).backgroundColor")
    page.locator("#light").select_option(light)
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") != before
    page.reload()
    assert page.evaluate("document.documentElement.dataset.light") == light
