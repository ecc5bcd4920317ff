"""Everything that recurs: by hours, by date, by both; what is confirmed comes first."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from record import jobs, queue
from record.recurring import all_due, end_of_month
from record.service import service
from record.terms import Recurring, Terms
from tests.record.conftest import WHO

D = Decimal
MARCH = {"service_date": "2026-03-01", "tach_time": "2300.0", "hour_meter_time": "2980.0"}


@pytest.fixture
def did(store, catalogue):
    """Enter values as a job of its own, some of them of a thing that recurs; give the service."""

    def made(values, kind="free", **of):
        with store.session() as session:
            job = jobs.job_for(session, None, new=True, kind=kind)
            for name, text in values.items():
                queue.add(session, job, name, text, WHO, catalogue=catalogue)
            for name, (what, text) in of.items():
                queue.add(session, job, name, text, WHO, what, catalogue)
            return service(session, job, catalogue)

    return made


def only(services, one, today=date(2026, 4, 1), **told):
    (found,) = all_due(services, today, [one], **told)
    return found


def test_a_day_given_outright():
    found = only([], Recurring("ELT battery", until_day=date(2029, 6, 30)))
    assert (found.day, found.days_left, found.first) == (date(2029, 6, 30), 1186, "calendar")
    assert (date(2029, 6, 30) - date(2026, 4, 1)).days == 1186


def test_calendar_months_run_to_the_end_of_the_month():
    """14 CFR 91.411 and 91.413 count calendar months: 24 from 10 March 2024 end 31 March 2026."""
    check = Recurring("transponder check", months=24, end_of_month=True, last_day=date(2024, 3, 10))
    assert only([], check, date(2026, 3, 31)).days_left == 0
    assert not only([], check, date(2026, 3, 31)).past
    assert only([], check, date(2026, 4, 1)).past


@given(st.dates(date(1990, 1, 1), date(2090, 1, 1)), st.integers(1, 60))
def test_the_end_of_a_calendar_month_is_that_of_dateutil(day, months):
    """Outside source: dateutil, day 31 of a month is its last."""
    found = only([], Recurring("annual", months=months, end_of_month=True, last_day=day), day)
    assert found.day == day + relativedelta(months=months, day=31)
    assert end_of_month(day) == day + relativedelta(day=31)


def test_hours_of_the_meter_that_the_thing_is_kept_by(did):
    """By hand: 1890 + 500 = 2390 by tach, 90 h after 2300; 2900 + 100 = 3000 by the hour meter."""
    one = did(MARCH)
    mags = only([one], Recurring("magnetos", hours=D(500), last_hours=D(1890)))
    assert (mags.reading, mags.hours_left, mags.first) == (D(2390), D(90), "tach")
    hundred = Recurring("hundred hours", hours=D(100), last_hours=D(2900), meter="hour_meter_time")
    found = only([one], hundred)
    assert (found.meter.name, found.reading, found.hours_left) == ("hour meter", D(3000), D(20))
    told = only([one], hundred, readings={"hour_meter_time": D(2991), "tach_time": D(2310)})
    assert told.hours_left == 9


def test_hours_or_months_whichever_comes_first(did):
    """By hand: 10 h in 31 days up to 1 April; 20 h more take 62 days, and the calendar 30."""
    services = [did(MARCH), did({"service_date": "2026-04-01", "tach_time": "2310.0"})]
    both = {"hours": D(100), "last_hours": D(2230), "months": 12, "last_day": date(2025, 5, 1)}
    found = only(services, Recurring("propeller grease", **both))
    assert (found.hours_left, found.days_left) == (20, 30)
    assert (found.by_use, found.first) == (date(2026, 6, 2), "calendar")


def test_what_is_confirmed_takes_the_place_of_what_the_profile_says(did):
    battery = Recurring("ELT battery", months=24, last_day=date(2020, 1, 1))
    assert only([], battery).past
    done = did(MARCH, recurring_done=("elt battery", "yes"))
    assert only([done], battery).day == date(2028, 3, 1)
    given_ = did(
        MARCH, recurring_done=("ELT battery", "yes"), next_due_date=("ELT battery", "2029-06-30")
    )
    assert only([given_], battery).day == date(2029, 6, 30)
    later = did({"service_date": "2026-03-20"}, recurring_done=("ELT battery", "yes"))
    assert only([given_, later], battery).day == date(2028, 3, 20)  # what was good until is past


def test_not_done_counts_for_nothing(did):
    battery = Recurring("ELT battery", months=24, last_day=date(2024, 6, 1))
    not_done = did(MARCH, recurring_done=("ELT battery", "no"))
    assert only([not_done], battery).day == date(2026, 6, 1)


def test_what_only_a_confirmed_value_names_is_listed_too(did):
    said = did(MARCH, next_due_hours=("magnetos", "2700"))
    (found,) = all_due([said], date(2026, 4, 1), [])
    assert (found.what, found.reading, found.hours_left) == ("magnetos", D(2700), D(400))


def test_hours_carry_on_past_a_changed_tach(did, store, catalogue):
    """By hand: due 500 h after 1890, at 2390; changed at 2350 to 0, so at 40 on the new tach."""
    from record.meters import state_change
    from record.terms import METERS

    march = did(MARCH)
    with store.session() as session:
        told = (METERS["tach_time"], D(2350), D(0), date(2026, 3, 10), WHO, "it stuck", None)
        changed = service(session, state_change(session, *told, catalogue), catalogue)
    mags = Recurring("magnetos", hours=D(500), last_hours=D(1890), last_day=date(2019, 5, 1))
    found = only([march, changed], mags)
    assert (found.reading, found.hours_left) == (D(40), D(40))


def test_what_is_not_known_is_said_and_never_made_up():
    nothing = only([], Recurring("hoses"))
    assert (nothing.day, nothing.reading, nothing.first) == (None, None, "unknown")
    assert "neither an interval" in nothing.why[0]
    no_last = only([], Recurring("hoses", months=60))
    assert no_last.why == ("no date of the last one is known",)
    no_read = only([], Recurring("magnetos", hours=D(500), last_hours=D(1890)))
    assert (no_read.hours_left, no_read.why) == (None, ("no tach reading to set against it",))


def test_the_oil_filter_counts_from_the_job_in_which_a_new_one_went_on(did):
    fitted = did({**MARCH, "oil_added": "7", "filter_torque": "17"}, kind="oil-and-filter")
    found = only([fitted], Recurring("oil filter", hours=D(50)))
    assert found.reading == D(2350)


def test_what_comes_first_stands_at_the_top_and_what_is_not_known_last():
    known = [
        Recurring("hoses"),
        Recurring("annual", until_day=date(2026, 9, 30)),
        Recurring("ELT check", until_day=date(2026, 3, 31)),
        Recurring("torque wrench", until_day=date(2026, 5, 1)),
    ]
    found = all_due([], date(2026, 4, 1), known, terms=Terms(warn_days=31))
    assert [one.what for one in found] == ["ELT check", "torque wrench", "annual", "hoses"]
    assert [one.past for one in found] == [True, False, False, False]
    assert [one.soon for one in found] == [False, True, False, False]
