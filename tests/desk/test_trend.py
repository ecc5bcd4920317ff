"""Laboratory reports and their trends on the command line, and the plots."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from datetime import timedelta
from pathlib import Path

import pytest
from PIL import Image

from capture.observed import Instant, Kept
from desk.trends import seen_in
from record import jobs, media, queue
from record.service import service
from tests.desk.conftest import MORNING
from tests.desk.test_history import filled, two_years  # noqa: F401 (fixtures)

CSV = "lab,date,hours on oil,Fe,Cu,Viscosity\nNorth Lab,2026-03-14,44.0,30,7,95\n"
DAY = ("--date", "2026-03-14", "--by", "Ines Invented")


def test_trend_tells_the_real_rise_and_leaves_the_noise_alone(cowlnote, two_years):  # noqa: F811
    ran = cowlnote("trend", at=two_years)
    assert "Rising over 5 samples per hour" in ran.out
    assert ran.out.count("Rising over") == 1
    assert "Copper" not in ran.out
    assert "5 ppm apart" in ran.out
    assert "fine" in ran.out
    assert "mechanic" in ran.out


def test_trend_of_one_metal_says_that_noise_has_no_direction(cowlnote, two_years):  # noqa: F811
    assert "No direction over 5 samples" in cowlnote("trend", "copper", at=two_years).out


def test_trend_as_json(cowlnote, two_years):  # noqa: F811
    (iron,) = cowlnote("trend", "Fe", "--json", at=two_years).data
    assert iron["state"] == "within limits, rising"
    assert [s["ppm"] for s in iron["samples"]] == ["19", "21", "20", "26", "31", "25"]


def test_two_reports_are_not_a_trend(cowlnote):
    cowlnote("lab", "add", "Fe=22", "--lab", "North Lab", "--hours", "40", *DAY)
    again = ("--date", "2026-07-14", "--by", "Ines Invented", "--hours", "44")
    cowlnote("lab", "add", "Fe=60", "--lab", "North Lab", *again)
    assert "Two reports are not a trend: iron 22, then 60." in cowlnote("trend").out


def test_reports_from_csv(cowlnote, tmp_path):
    path = tmp_path / "lab.csv"
    path.write_text(CSV, "utf-8")
    assert "not taken from the file: Viscosity" in cowlnote("lab", "show", path).out
    assert cowlnote("lab", "import", path, "--by", "Ines Invented").code == 0
    (report,) = cowlnote("lab", "list", "--json").data
    assert report["ppm"] == {"Fe": "30", "Cu": "7"}
    assert cowlnote("lab", "import", path, "--by", "Ines Invented").code == 7
    assert len(cowlnote("lab", "list", "--json").data) == 1


@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00", b"lab,date,Fe\nN,2026-03-14,many\n"])
def test_a_csv_that_cannot_be_read_is_one_clear_line_and_leaves_nothing(
    cowlnote, tmp_path, content
):
    path = tmp_path / "lab.csv"
    path.write_bytes(content)
    ran = cowlnote("lab", "import", path, "--by", "Ines Invented")
    assert (ran.code, ran.err.count("\n")) == (3, 1)
    assert "lab.csv" in ran.err


@pytest.mark.parametrize(
    "wrong", [("Fe",), ("Fe=22", "Fe=3"), ("Zn=2",), ("Fe=2,000",), ("Fe=22", "--hours", "x")]
)
def test_a_figure_that_cannot_be_is_one_clear_line(cowlnote, wrong):
    ran = cowlnote("lab", "add", *wrong, "--lab", "North Lab", *DAY)
    assert (ran.code, ran.err.count("\n")) == (3, 1)


def test_a_wrong_report_is_corrected_and_stays(cowlnote):
    cowlnote("lab", "add", "Fe=22", "--lab", "North Lab", *DAY)
    because = ("--because", "misread", "--lab", "North Lab", *DAY)
    assert cowlnote("lab", "correct", "1", "Fe=32", *because).code == 0
    (report,) = cowlnote("lab", "list", "--json").data
    assert (report["id"], report["ppm"]) == (2, {"Fe": "32"})


def test_a_photo_of_a_report_is_shown_and_not_entered(cowlnote, engines, photo, tmp_path):
    path = photo(tmp_path / "report.jpg")
    engines.eye.shows = {"report.jpg": ("other", "text", "Iron (Fe) 22")}
    assert "report.jpg: Fe=22" in cowlnote("lab", "show", path).out
    assert cowlnote("lab", "list").code == 5  # nothing was recorded, so there is no record yet


@pytest.mark.parametrize(
    ("answers", "figure"), [("\n", "22"), ("27\n", "27"), ("two\n27\n", "27"), ("-\n", None)]
)
def test_each_figure_of_a_photo_is_decided_by_a_person(
    cowlnote, engines, photo, tmp_path, home, answers, figure
):
    path = photo(tmp_path / "report.jpg")
    engines.eye.shows = {"report.jpg": ("other", "text", "Iron (Fe) 22")}
    ran = cowlnote("lab", "read", path, "--lab", "North Lab", *DAY, input=answers)
    assert ran.code == (0 if figure else 3)
    if figure:
        (report,) = cowlnote("lab", "list", "--json").data
        assert report["ppm"] == {"Fe": figure}
        assert any(p.name.endswith("json") for p in (home / "vault").rglob("*"))


def test_a_photo_that_nobody_looks_at_enters_nothing(cowlnote, engines, photo, tmp_path):
    path = photo(tmp_path / "report.jpg")
    engines.eye.shows = {"report.jpg": ("other", "text", "Iron (Fe) 22")}
    ran = cowlnote("lab", "read", path, "--lab", "North Lab", *DAY, input="")
    assert ran.code != 0
    assert cowlnote("lab", "list").code == 5


def test_the_demo_of_two_years_tells_its_story(cowlnote):
    ran = cowlnote("demo", "--years")
    assert ran.code == 0
    assert "Everything here is invented" in ran.out
    assert "PAST DUE" in ran.out
    assert "Rising over 5 samples" in ran.out


@pytest.mark.parametrize("ending", ["svg", "png", "pdf"])
def test_plots_are_whole_files_of_their_kind(cowlnote, two_years, tmp_path, ending):  # noqa: F811
    path = tmp_path / f"trend.{ending}"
    assert cowlnote("trend", "--plot", path, at=two_years).code == 0
    if ending == "svg":
        words = "".join(ET.parse(path).getroot().itertext())
        assert "iron (Fe)" in words
        assert "filter: fine" in words
        assert "South Lab" in words
    elif ending == "png":
        with Image.open(path) as image:
            image.load()
            assert image.width > 1000
    else:
        assert path.read_bytes().startswith(b"%PDF-")
    assert [p.name for p in tmp_path.iterdir() if "part" in p.name] == []


def test_the_same_plot_twice_is_the_same_file(cowlnote, two_years, tmp_path):  # noqa: F811
    made = []
    for name in ("a.svg", "b.svg"):
        cowlnote("trend", "--plot", tmp_path / name, at=two_years)
        made.append((tmp_path / name).read_bytes())
    assert made[0] == made[1]


def test_a_plot_of_one_report_draws_no_limits_and_does_not_fail(cowlnote, tmp_path):
    cowlnote("lab", "add", "Fe=0", "--lab", "North Lab", *DAY)
    assert cowlnote("trend", "--plot", tmp_path / "one.png").code == 0


@pytest.mark.parametrize("name", ["x.bmp", "nowhere/x.png"])
def test_a_plot_that_cannot_be_drawn_is_one_clear_line(cowlnote, two_years, tmp_path, name):  # noqa: F811
    ran = cowlnote("trend", "--plot", tmp_path / name, at=two_years)
    assert (ran.code, Path(name).name in ran.err or "folder" in ran.err) == (3, True)


def test_what_the_filter_held_names_the_photo_taken_near_the_words(store, catalogue, draft):
    with store.session() as session:
        job = jobs.job_for(session, MORNING)
        for name, after in (("near.jpg", 2), ("far.jpg", 40)):
            kept = Kept(name[:1] * 64, name, 10, "photo", MORNING)
            row = media.note(session, kept, Instant(MORNING + timedelta(minutes=after), "exif"))
            media.join(session, row.id, job)
        told = draft("metal_found", "fine", media="memo.wav")
        queue.confirm(session, queue.put(session, job, [told]), "Ines Invented")
        assert seen_in(service(session, job, catalogue)) == ["memo.wav", "near.jpg"]
