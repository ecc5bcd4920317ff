"""The oil page and the sums beside a service, as a browser asks for them."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from datetime import date
from pathlib import Path

import pytest
import vobject

from desk import years
from desk.opening import Opened
from desk.settings import load
from desk.web.serve import make_desk
from extract.values.catalogue import load as load_catalogue
from record.store import Store
from tests.desk.page.conftest import PORT, client_of

FOLDER = Path(__file__).parents[3] / "demo_media" / "two_years"


KEPT = """
[[reference]]
text = "Invented bulletin 12-3"
"""


@pytest.fixture
def two_years(tmp_path):
    """A client on the two invented years."""
    home = tmp_path / "years"
    home.mkdir()
    profile = (FOLDER / "aircraft.toml").read_text("utf-8")
    (home / "aircraft.toml").write_text(profile.replace("[last]", f"{KEPT}\n[last]"), "utf-8")
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


def test_the_record_lists_all_that_recurs_and_offers_it_as_a_calendar(two_years):
    """By hand: 1890 + 500 = 2390 h, 108.3 after the 2281.7 of the last service."""
    page = two_years.get("/record").text
    assert "by tach: 2390.0 h, 108.3 h to go" in page
    assert "Invented bulletin 12-3" in page
    assert 'href="/due.ics"' in page
    answer = two_years.get("/due.ics")
    assert answer.headers["content-type"].startswith("text/calendar")
    made = vobject.readOne(answer.text)
    days = {event.summary.value: event.dtstart.value for event in made.vevent_list}
    assert days["N0417Q: ELT battery due"] == date(2027, 6, 30)


def test_a_service_shows_oil_used_with_its_interval(two_years):
    assert "2.00 qt (1.75 to 2.25)" in two_years.get("/record/9").text


def test_without_a_report_the_page_says_how_to_enter_one(client):
    page = client.get("/oil").text
    assert "No oil report is in the record" in page
    assert 'data-send="/oil/add"' in page
    assert client.get("/oil/trend.svg").status_code == 404


def test_the_book_is_offered_on_the_record_page(two_years):
    assert 'href="/record/book.pdf"' in two_years.get("/record").text
    answer = two_years.get("/record/book.pdf?from=2025-01-01&to=2025-12-31")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")
    assert two_years.get("/record/book.pdf?from=x").status_code == 400
    assert two_years.get("/record/book.pdf?from=2030-01-01").status_code == 400
