from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from extract.values.known import NOTHING, Known
from record import jobs, queue
from record.checks import add_doubts
from tests.record.conftest import BEGAN, WHO, draft

LAST = Known(
    last_tach=Decimal("2345.6"),
    last_hour_meter=Decimal("3100.0"),
    last_date=date(2026, 3, 4),
    sump_capacity=Decimal(8),
    filter_torque=(Decimal(16), Decimal(18)),
    plug_torque=(Decimal(30), Decimal(35)),
    filter_part_number="ZZ72180-227A",
    oil_grade="SAE 50",
    on=date(2026, 3, 14),
)


def doubts(store, given, known=LAST, **more):
    with store.session() as session:
        (made,) = add_doubts(session, [given], known, **more)
    assert replace(made, doubts=given.doubts) == given  # a check changes no value
    return " / ".join(made.doubts)


def entered(store, name, *values, unit="qt"):
    with store.session() as session:
        for value in values:
            job = jobs.job_for(session, BEGAN, new=True)
            given = [draft(name, value, unit=unit)]
            queue.confirm(session, queue.put(session, job, given), WHO)


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("tach_time", "2345.6", ""),
        ("tach_time", "2390.1", ""),
        ("tach_time", "2345.5", "lower than the last known 2345.6 h of 2026-03-04"),
        # eleven days, counted whole, at 24 h and 1.125: 297 h
        ("tach_time", "2642.6", ""),
        (
            "tach_time",
            "2642.7",
            "297.1 h more than the last known 2345.6 h of 2026-03-04: not poss",
        ),
        # a clock runs 24 h a day at most: 264 h
        ("hour_meter_time", "3364.0", ""),
        ("hour_meter_time", "3364.1", "not possible yet"),
        ("hour_meter_time", "310.0", "lower than"),
    ],
)
def test_a_meter_runs_forward_and_no_faster_than_time(store, name, value, said):
    """A tach with its reference at 2400 rpm counts 2700/2400 = 1.125 at 2700 (arithmetic)."""
    found = doubts(store, draft(name, value, unit="h"))
    assert (said in found) if said else found == ""


def test_both_meters_are_doubted_where_the_tach_outran_the_clock(store):
    given = [draft("tach_time", "2395.6", unit="h"), draft("hour_meter_time", "3140.0", unit="h")]
    with store.session() as session:
        made = add_doubts(session, given, LAST)
    assert all("tach ran 50.0 h, the hour meter only 40.0 h" in d.doubts[0] for d in made)


def test_a_meter_that_jumps_further_than_ever_is_doubted(store):
    entered(store, "tach_time", "2200.1", "2250.3", "2300.2", "2345.6", unit="h")
    known = replace(LAST, last_date=date(2025, 9, 1))
    assert doubts(store, draft("tach_time", "2393.9", unit="h"), known) == ""
    assert "never more than 50.2" in doubts(store, draft("tach_time", "2845.6", unit="h"), known)


@pytest.mark.parametrize(
    ("name", "value", "unit", "said"),
    [
        ("filter_torque", "17", "ft-lb", ""),
        ("filter_torque", "16", "ft-lb", ""),
        ("filter_torque", "18.5", "ft-lb", "outside the limits of 16 to 18 ft-lb"),
        ("filter_torque", "204", "ft-lb", "204 inch-pounds would be 17 ft-lb"),
        ("filter_torque", "23.05", "ft-lb", "newton metres would be 17 ft-lb"),  # NIST SP 811 B.9
        ("plug_torque", "36", "ft-lb", "outside the limits of 30 to 35 ft-lb"),
        ("oil_added", "8", "qt", ""),
        ("oil_added", "7.25", "qt", ""),
        ("oil_added", "8.5", "qt", "more than the sump takes (8 qt)"),
        (
            "oil_added",
            "7.57",
            "qt",
            "7.57 litres would be 8 qt",
        ),  # 8 qt = 7.571 L, Handbook 44 App. C
        ("oil_level", "12", "qt", "more than the sump takes"),
    ],
)
def test_a_number_outside_its_limit_or_in_another_unit_is_doubted(store, name, value, unit, said):
    found = doubts(store, draft(name, value, unit=unit))
    assert (said in found) if said else found == ""


def test_what_is_usual_needs_three_earlier_services(store):
    entered(store, "oil_drained", "5", "5.25")
    assert doubts(store, draft("oil_drained", "7.75", unit="qt")) == ""
    entered(store, "oil_drained", "5")
    assert "far from the usual 5 qt" in doubts(store, draft("oil_drained", "7.75", unit="qt"))
    assert doubts(store, draft("oil_drained", "5.25", unit="qt")) == ""


def test_a_job_is_not_its_own_history(store):
    entered(store, "oil_drained", "5", "5.25", "5")
    given = draft("oil_drained", "7.75", unit="qt")
    assert doubts(store, given, job=3) == ""


def test_positions_have_histories_of_their_own(store):
    entered(store, "cylinder_compression", "74", "75", "74", unit="psi")
    given = draft("cylinder_compression", "50", unit="psi", position=3)
    assert doubts(store, given, NOTHING) == ""


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("ZZ72180-227A", ""),
        ("zz72180227a", ""),
        ("-227A", ""),  # the end of the number, as people say it
        ("ZZ7218O-227A", "easily mixed up"),
        ("ZZ721B0-227A", "easily mixed up"),
        ("ZZ72I80-227A", "easily mixed up"),
        ("-2Z7A", "easily mixed up"),
        ("-237A", "one letter or figure away from the expected ZZ72180-227A"),
        ("-272A", "one letter or figure away"),
        ("ZZ72189-227A", "one letter or figure away"),
        ("ZZ7218-227A", "one letter or figure away"),
        ("-110B", "not the expected ZZ72180-227A"),
        ("QQ1", "not the expected"),
    ],
)
def test_a_part_number_is_compared_with_the_expected_one_and_never_changed(store, value, said):
    found = doubts(store, draft("filter_part_number", value, unit=None))
    assert (said in found) if said else found == ""


def test_another_oil_than_the_usual_is_doubted(store):
    assert doubts(store, draft("oil_grade", "SAE 50", unit=None)) == ""
    assert "usual grade is SAE 50" in doubts(store, draft("oil_grade", "20W-50", unit=None))


@pytest.mark.parametrize(
    ("days", "said"),
    [(0, ""), (-1, ""), (1, "later than the recording"), (-3, "3 days before the recording"),
     (-30, "before the last known service")],
)  # fmt: skip
def test_a_date_is_compared_with_the_recording_and_the_last_service(store, days, said):
    found = doubts(store, draft("service_date", BEGAN.date() + timedelta(days=days), unit=None))
    assert (said in found) if said else found == ""


def test_a_value_that_is_hardly_possible_is_doubted_without_any_profile(store):
    assert "hardly possible for filter torque" in doubts(store, draft(value="1700"), NOTHING)


def test_truths_and_unknown_fields_pass_unchanged(store):
    assert doubts(store, draft("filter_safetied", True, unit=None)) == ""
    assert doubts(store, draft("a_field_of_the_owner", "12", unit=None), NOTHING) == ""
