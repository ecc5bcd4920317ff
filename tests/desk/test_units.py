"""An owner's own units and meter, as they are met on the command line, in papers and sums."""

from __future__ import annotations

import re

import pytest

WHO = ("--by", "Ines Invented")
METRIC = """
registration = "N0417Q"
zone = "America/Chicago"
units = ["L", "Nm", "bar", "C"]
sump_capacity = 7.5
filter_torque = [22, 25]
oil_use_limit = 0.3
additive_ratio = "50 ml to 1 l"
hours_by = "hour meter"
interval_hours = 50
interval_months = 4
overhaul_hour_meter_time = 702.3
"""


@pytest.fixture
def metric(tmp_path):
    """A home whose owner uses litres, newton metres, bar and degrees Celsius, and an hour meter."""
    made = tmp_path / "metric"
    made.mkdir()
    (made / "aircraft.toml").write_text(METRIC)
    return made


@pytest.fixture
def changes(metric, cowlnote):
    """Two oil changes of the metric owner, 40 h apart by the hour meter, typed in litres."""
    from desk import opening
    from record import jobs, queue

    first = {"service_date": "2025-03-01", "hour_meter_time": "1800.0", "oil_level": "7"}
    second = {
        "service_date": "2025-06-01",
        "hour_meter_time": "1840.0",
        "oil_level_before": "6",
        "sample_taken": "yes",
        "oil_pressure": "4.5",
        "oil_temperature": "82",
    }
    both = {"oil_added": "7", "filter_torque": "23", "oil_grade": "SAE 50"}
    with opening.record(metric) as here:
        for values in (first, second):
            with here.store.session() as session:
                job = jobs.job_for(session, None, new=True, aircraft="N0417Q")
                for name, text in {**values, **both}.items():
                    queue.add(session, job, name, text, WHO[1], catalogue=here.catalogue)
    return metric


def test_what_is_typed_is_in_the_owners_units_and_shown_in_them(cowlnote, changes):
    ran = cowlnote("add", "additive_added", "350", *WHO, "--job", "2", at=changes)
    assert "additive added: 350 mL" in ran.out
    told = cowlnote("entry", "--job", "2", at=changes).words
    for said in ("23 N·m", "7 L", "4.5 bar", "82 °C"):
        assert said in told.replace("\u00a0", " ")
    assert "qt" not in told
    assert "ft-lb" not in told


def test_a_value_in_another_unit_is_converted_and_both_are_shown(cowlnote, changes):
    """17 ft-lb are 23.05 N·m (NIST SP 811: 1.355 817 948 each)."""
    where = ("--position", "top", "--job", "2", "--although", "an old wrench")
    told = cowlnote("add", "plug_torque", "17 ft-lb", *WHO, *where, at=changes)
    assert "23.05 N·m (said: 17 ft-lb)" in told.out


def test_sums_of_a_metric_owner_are_in_litres(cowlnote, changes):
    """By hand: 7 - 6 = 1 L in 40 h is 0.025 L/h; a quarter of a quart is 0.237 L either way, so
    0.76 to 1.24 L, and at most 1.2366 / 39.9 = 0.031 L/h, above no limit of 0.3."""
    told = cowlnote("sums", "--job", "2", at=changes).out
    assert "oil used (burnt, leaked or blown out): 1.00 L (0.76 to 1.24)" in told
    assert "0.025 L/h (0.019 to 0.031)" in told
    assert "hour meter to a tenth" in told
    assert "additive for 7 L: 350 mL by the profile's ratio" in told
    assert " qt" not in told


def test_an_aircraft_logged_by_the_hour_meter_is_served_whole(cowlnote, changes):
    """By hand: 1840 + 50 = 1890 h; 1840 - 1800 = 40 h on the oil; 1840 - 702.3 since overhaul."""
    due = cowlnote("due", "--on", "2025-07-01", "--json", at=changes).data
    assert (due["meter"], due["reading"], due["hours_left"]) == ("hour meter", 1890, 50)
    slip = cowlnote("slip", at=changes).words
    assert "Hour meter time 1840 h" in slip
    assert "Hours on the oil 40 h" in slip
    assert "Hours since overhaul 1137.7 h" in slip
    history = cowlnote("history", at=changes)
    assert "hour meter" in history.out.splitlines()[0]
    assert (
        "2025-06-01 2 1840.0 oil and filter service 40 7 L 0.025 (0.019 to 0.031)" in history.words
    )
    missing = cowlnote("checklist", "--job", "2", at=changes).words
    assert "MISSING tach time" not in missing


def test_limits_of_the_profile_hold_in_the_owners_units(cowlnote, changes):
    """21 N·m is under the profile's 22 to 25."""
    asked = cowlnote("add", "filter_torque", "21", *WHO, "--job", "1", at=changes)
    (old,) = re.findall(r"--replaces (e\d+)", asked.err)
    told = ("--replaces", old, "--because", "read again")
    asked = cowlnote("add", "filter_torque", "21", *WHO, "--job", "1", *told, at=changes)
    assert asked.code == 7
    assert "outside the limits of" in asked.err
    told = (*told, "--although", "the wrench clicked at it")
    assert cowlnote("add", "filter_torque", "21", *WHO, "--job", "1", *told, at=changes).code == 0
    told = cowlnote("checklist", "--job", "1", at=changes)
    assert "21 N·m" in told.out
    assert "the profile has 22 to 25 N·m" in told.out


def test_papers_of_an_hour_meter_log_give_its_hours(cowlnote, changes):
    told = cowlnote("entry", "--job", "2", at=changes).words.replace("\u00a0", " ")
    assert "Hour meter time 1840.0 h" in told
    assert "Tach time" not in told
    note = cowlnote("entry", "--job", "2", "--filter-note", at=changes).words
    assert "HOUR METER 1840.0 h" in note


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('units = ["furlong"]', "no unit that can be chosen"),
        ('units = ["L", "qt"]', "for the same"),
        ('hours_by = "sundial"', "the meter that the log is kept by"),
        ("warn_days = 1.5", "whole number of days"),
    ],
)
def test_a_profile_that_cannot_be_is_one_clear_line(cowlnote, tmp_path, line, said):
    (tmp_path / "aircraft.toml").write_text(line)
    ran = cowlnote("due", at=tmp_path)
    assert (ran.code, ran.err.count("\n")) == (3, 1)
    assert said in ran.err


def test_a_meters_change_is_stated_on_the_command_line(cowlnote, changes):
    """By hand: 1840 + 50 = 1890 carried on; 1850 on the old and 5 on the new, so 45 on the new."""
    told = ("--old", "1850", "--new", "5", "--on", "2025-06-20", "--hour-meter")
    ran = cowlnote("meter", *told, *WHO, "--because", "it stuck", at=changes)
    assert ran.code == 0
    due = cowlnote("due", "--on", "2025-07-01", "--json", at=changes).data
    assert (due["reading"], due["hours_left"]) == (45, 40)
    assert "1850 → 5" in cowlnote("history", at=changes).out
    assert cowlnote("meter", *told, *WHO, "--because", " ", at=changes).code == 7
