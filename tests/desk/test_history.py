"""History, due, checklist, sums, torque and slip as a person meets them on the command line."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from record import jobs, queue
from record.store import Store

FOLDER = Path(__file__).parents[2] / "demo_media" / "two_years"


@pytest.fixture(scope="session")
def filled(tmp_path_factory):
    """The two invented years as a home, made once."""
    from desk import opening, years

    home = tmp_path_factory.mktemp("years")
    shutil.copy(FOLDER / "aircraft.toml", home)
    with opening.record(home) as here:
        years.fill(here)
    return home


@pytest.fixture
def two_years(filled, tmp_path):
    """A copy of the two invented years, to do with as a test likes."""
    return Path(shutil.copytree(filled, tmp_path / "years"))


def test_history_is_one_line_a_service(cowlnote, two_years):
    ran = cowlnote("history", at=two_years)
    lines = ran.out.splitlines()
    assert lines[0].startswith("date")
    assert len([line for line in lines if line[:2] == "20"]) == 11
    assert (
        "2025-11-08 9 2281.7 oil and filter service 42.2 7.5 qt 0.047 (0.041 to 0.054)" in ran.words
    )
    assert "North Lab: Fe 26 Cu 7; South Lab: Fe 31 Cu 9" in ran.words


def test_history_as_json_holds_the_intervals(cowlnote, two_years):
    last = cowlnote("history", "--json", at=two_years).data[-1]
    assert last["used_qt"] == [1.75, 2, 2.25]
    assert last["hours_on_oil"] == [42.1, 42.2, 42.3]
    assert last["metal_found"] == "fine"
    assert last["missing"] == []


def test_due_says_which_comes_first_and_how_far_past(cowlnote, two_years):
    ran = cowlnote("due", "--on", "2026-04-01", "--tach", "2340.0", at=two_years)
    assert "PAST DUE" in ran.out
    assert "2331.7 h, 8.3 h past" in ran.out
    assert "2026-03-08, 24 days past" in ran.out
    assert "maker's current instructions come first" in ran.out


def test_due_ahead_tells_the_day_at_the_use_so_far(cowlnote, two_years):
    due = cowlnote("due", "--on", "2025-12-01", "--json", at=two_years).data
    assert (due["tach"], due["day"], due["past"]) == (2331.7, "2026-03-08", False)
    assert due["first"] == "calendar"


def test_a_reading_below_nothing_is_one_clear_line(cowlnote, two_years):
    ran = cowlnote("due", "--tach", "-4", at=two_years)
    assert (ran.code, ran.err.count("\n")) == (3, 1)


def test_history_marks_metal_that_was_found(cowlnote, two_years):
    rows = cowlnote("history", at=two_years).out.splitlines()
    assert "▲ fine" in next(row for row in rows if row.startswith("2025-11-08"))
    assert "▲" not in next(row for row in rows if row.startswith("2024-05-11"))


def test_checklist_marks_what_is_missing(cowlnote, two_years):
    ran = cowlnote("checklist", "--job", "2", at=two_years)
    assert "oil added" in ran.out
    assert "(6)" in ran.out
    assert "MISSING" not in ran.out


def test_sums_show_their_spans_and_sources(cowlnote, two_years):
    ran = cowlnote("sums", "--job", "9", at=two_years)
    assert "oil used (burnt, leaked or blown out): 2.00 qt (1.75 to 2.25)" in ran.out
    assert "12 fl oz by the profile's ratio" in ran.out
    assert "17 ft-lb = 204 in-lb = 23.05 N·m" in ran.out
    assert "NASM33540" in ran.out


def test_torque_with_an_adapter(cowlnote):
    """AC 43.13-1B figure 7-2 example 1, from memory; the same figures are in an airframe manual."""
    ran = cowlnote("torque", "30", "--length", "12", "--adapter", "3")
    assert "30 ft-lb = 360 in-lb = 40.67 N·m" in ran.out
    assert "wrench set to 24 ft-lb" in ran.out


@pytest.mark.parametrize(
    "wrong",
    [
        ("thirty",),
        ("30", "--unit", "quarts"),
        ("30", "--length", "12"),
        ("30", "--length", "3", "--adapter", "3", "--way", "back"),
        ("30", "--length", "3", "--adapter", "3", "--way", "up"),
    ],
)
def test_a_torque_that_cannot_be_is_one_clear_line(cowlnote, wrong):
    ran = cowlnote("torque", *wrong)
    assert (ran.code, ran.err.count("\n")) == (3, 1)


def test_slip_leaves_blank_what_the_record_does_not_know(cowlnote, two_years):
    ran = cowlnote("slip", at=two_years)
    assert "Hours on the oil 42.2 h" in ran.words
    assert "Hours since overhaul 971.7 h" in ran.words
    assert "Sample volume ________________________ (not noted)" in ran.words


def test_slip_says_first_that_no_sample_was_confirmed(cowlnote, queued, draft):
    ids = queued([draft("oil_added", "7", "qt"), draft("sample_taken", value=True)])
    cowlnote("confirm", ids[0], "--by", "Ines Invented")
    ran = cowlnote("slip")
    assert ran.out.splitlines()[1].startswith("NO SAMPLE WAS CONFIRMED")
    cowlnote("confirm", ids[1], "--by", "Ines Invented")
    assert "CONFIRMED" not in cowlnote("slip").out


def test_a_job_that_is_not_there_is_refused(cowlnote, two_years):
    assert cowlnote("sums", "--job", "99", at=two_years).code == 7


def test_a_service_with_nothing_confirmed_says_so_and_fails_nowhere(cowlnote, home, queued, draft):
    queued([draft("filter_torque", "17", "ft-lb")])
    assert "not confirmed" in cowlnote("history").out
    assert cowlnote("sums").code == 0
    assert "not known" in cowlnote("sums").out
    assert "MISSING" in cowlnote("checklist").out
    assert cowlnote("slip").code == 7


def test_a_confirmed_value_outside_its_limit_names_who_accepted_it(cowlnote, queued, draft):
    (id,) = queued([draft("filter_torque", "21", "ft-lb", doubts=("outside 16 to 18",))])
    cowlnote("confirm", id, "--by", "Ines Invented")
    ran = cowlnote("checklist")
    assert "outside: the profile has 16 to 18 ft-lb" in ran.out
    assert "entered by Ines Invented" in ran.out


def test_due_before_the_first_service_comes_from_the_profile(cowlnote, home):
    ran = cowlnote("due", "--on", "2026-01-10", "--tach", "2310.0")
    assert "2348.1 h, 38.1 h to go" in ran.out
    assert "2026-03-02, in 51 days" in ran.out
    assert not (home / "record.db").exists()


def test_due_of_an_aircraft_of_which_nothing_is_known_says_so(cowlnote, tmp_path):
    (tmp_path / "bare").mkdir()
    assert "not known" in cowlnote("due", at=tmp_path / "bare").out


def test_due_without_a_tach_time_of_the_last_change_says_so(cowlnote, queued, draft):
    drafts = [draft("oil_added", "7", "qt"), draft("service_date", date(2026, 3, 14))]
    cowlnote("confirm", *queued(drafts), "--by", "Ines Invented")
    ran = cowlnote("due", "--on", "2026-04-01")
    assert "by tach: not known" in ran.out
    assert "by calendar: 2026-07-14" in ran.out


def test_a_job_without_a_date_is_named(cowlnote, home):
    store = Store.open(home)
    with store.session() as session:
        job = jobs.job_for(session, None, new=True, kind="free", aircraft="N0417Q")
        queue.add(session, job, "oil_added", "1", "Ines Invented")
    store.close()
    assert "job 1: no date is confirmed" in cowlnote("history").out


def test_a_top_up_typed_in_is_a_small_job_that_consumption_uses(cowlnote, two_years):
    """By hand: job 9 used 7.25 + 1 - 6.25 = 2 qt; with half a quart more topped up, 2.5."""
    told = ("--on", "2025-09-20", "--by", "Ines Invented", "--although", "written down late")
    assert cowlnote("add", "oil_added", "0.5", *told, at=two_years).code == 0
    ran = cowlnote("sums", "--job", "9", at=two_years)
    assert "2.50 qt (2.25 to 2.75), with 1.5 qt topped up in between" in ran.out
    assert "2331.7 h" in cowlnote("due", "--on", "2025-12-01", at=two_years).out
