"""The oil page and the sums beside a service, as a browser asks for them."""

from __future__ import annotations

import shutil
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from desk import years
from desk.opening import Opened
from desk.settings import load
from desk.web.serve import make_desk
from extract.values.catalogue import load as load_catalogue
from record.store import Store
from tests.desk.page.conftest import PORT, client_of

FOLDER = Path(__file__).parents[3] / "demo_media" / "two_years"


@pytest.fixture
def two_years(tmp_path):
    """A client on the two invented years."""
    home = tmp_path / "years"
    home.mkdir()
    shutil.copy(FOLDER / "aircraft.toml", home)
    settings = load(home, {"COWLNOTE_MODELS": str(home / "none")})
    here = Opened(settings, load_catalogue(), Store.open(home))
    years.fill(here)
    desk = make_desk(here, port=PORT)
    made = client_of(desk)
    made.get(f"/open/{desk.doors.invite('desk')}")
    yield made
    here.store.close()


def test_the_oil_page_tells_what_changed_and_whom_to_ask(two_years):
    page = two_years.get("/oil").text
    assert "Rising over 5 samples per hour" in page
    assert "5 ppm apart" in page
    assert "Ask the laboratory and a mechanic" in page
    assert "South Lab" in page
    assert 'src="/oil/trend.svg"' in page


def test_the_drawing_is_whole(two_years):
    answer = two_years.get("/oil/trend.svg")
    assert answer.headers["content-type"].startswith("image/svg+xml")
    assert "iron (Fe)" in "".join(ET.fromstring(answer.content).itertext())


def test_the_record_says_when_the_next_change_is_due(two_years):
    assert "2331.7 h" in two_years.get("/record").text


def test_a_service_shows_oil_used_with_its_interval(two_years):
    assert "2.00 qt (1.75 to 2.25)" in two_years.get("/record/9").text


def test_without_a_report_the_page_says_how_to_enter_one(client):
    assert "cowlnote lab add" in client.get("/oil").text
    assert client.get("/oil/trend.svg").status_code == 404
