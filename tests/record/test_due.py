"""When the oil is due: which job counts, which reading counts, and what is not known."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from record import jobs, queue
from record.due import due
from record.errors import RefusedError
from record.history import is_filter_change, is_oil_change, lines
from record.meters import Change, Count, state_change
from record.service import service
from record.slip import slip
from record.terms import METERS, Overhaul, Start, Terms
from tests.record.conftest import WHO
from tests.record.test_history import CHANGE, NEXT, enter  # noqa: F401 (fixture)

D = Decimal
OWNER = Terms(hours=D(50), months=4)
NOVEMBER = {**CHANGE, "service_date": "2025-11-08", "tach_time": "2281.7"}
PLUGS = {
    "service_date": "2026-02-20",
    "tach_time": "2325.0",
    "drain_closed": "yes",
    "plug_gap": "0.016",
}


def without(values, *names):
    return {name: value for name, value in values.items() if name not in names}


@pytest.fixture
def plugs(store, catalogue):
    """Enter the spark plug job in which the quick drain was looked at."""
    with store.session() as session:
        job = jobs.job_for(session, None, new=True, kind="spark-plugs")
        for name, text in PLUGS.items():
            place = "top" if name == "plug_gap" else None
            queue.add(session, job, name, text, WHO, place, catalogue)
        return service(session, job, catalogue)


def test_a_drain_looked_at_in_another_job_is_no_oil_change(enter, plugs):  # noqa: F811
    """By hand: 2281.7 + 50 = 2331.7 h, and at 2340 that is 8.3 h past; 8 November and four months
    is 8 March, and 20 March is 12 days past."""
    found = due([enter(NOVEMBER), plugs], date(2026, 3, 20), terms=OWNER, reading=D(2340))
    assert not is_oil_change(plugs)
    assert (found.reading, found.day) == (D("2331.7"), date(2026, 3, 8))
    assert (found.hours_left, found.days_left, found.past) == (D("-8.3"), -12, True)


def test_an_oil_job_without_oil_drained_or_put_in_counts_as_none_and_says_so(enter):  # noqa: F811
    later = enter({**without(NOVEMBER, "oil_added"), "service_date": "2026-01-10"})
    found = due([enter(NOVEMBER), later], date(2026, 2, 1), terms=OWNER)
    assert not is_oil_change(later)
    assert found.day == date(2026, 3, 8)
    assert "no oil change is counted" in found.doubts[0]


@pytest.mark.parametrize(
    ("quarts", "more", "change"),
    [
        ("1", {}, False),  # nothing tells of a drain: a top-up
        ("2", {}, False),
        ("6", {}, True),  # nobody tops up six quarts
        ("1", {"oil_drained": "1"}, True),
        ("1", {"filter_torque": "17"}, True),
        ("1", {"filter_opened": "yes"}, True),
    ],
)
def test_a_little_oil_in_an_oil_job_without_a_drain_is_a_top_up(enter, quarts, more, change):  # noqa: F811
    """The project's own rule, on the safe side: a change taken for none only comes sooner."""
    assert (
        is_oil_change(enter({"service_date": "2026-01-10", "oil_added": quarts, **more})) == change
    )


def test_without_a_new_reading_the_day_of_the_limit_stands_still(enter):  # noqa: F811
    """By hand: from 1 March to 1 June 2025 40 h in 92 days; 50 h more at that rate are 115 days
    after 1 June, whatever day it is looked at: 24 September."""
    two = [enter(CHANGE), enter(NEXT)]
    days = {due(two, date(2025, 7, n), terms=OWNER).by_use for n in (1, 8, 29)}
    assert days == {date(2025, 6, 1) + relativedelta(days=115)} == {date(2025, 9, 24)}
    found = due(two, date(2025, 7, 29), terms=OWNER)
    assert (found.first, found.day) == ("tach", date(2025, 10, 1))


def test_when_the_use_so_far_has_reached_the_limit_a_reading_is_asked_for(enter):  # noqa: F811
    found = due([enter(CHANGE), enter(NEXT)], date(2025, 9, 30), terms=OWNER)
    assert not found.past
    assert "got there about 2025-09-24: read it now" in found.doubts[0]


TACH = METERS["tach_time"]


@pytest.fixture
def changed_tach(store, catalogue):
    def made(old, new, on):
        with store.session() as session:
            told = (session, TACH, D(old), D(new), on, WHO, "the old one stuck")
            return service(session, state_change(*told, None, catalogue), catalogue)

    return made


def at(tach, day, **more):
    return {**without(NOVEMBER, "oil_level_before"), "tach_time": tach, "service_date": day, **more}


def test_after_a_changed_tach_hours_carry_on(enter, changed_tach):  # noqa: F811
    """By hand: change at 2980.0, old tach 2995.0 when taken off, the new one 12.0 when fitted.

    Since the change 2995 - 2980 = 15 h by the old; at 20.0 on the new 15 + 8 = 23 h, and 27 h to
    go: at 12 + (50 - 15) = 47.0 on the new. Since an overhaul at 1310: 2995 - 1310 + 8 = 1693 h.
    """
    told = [enter(at("2980.0", "2026-01-10")), changed_tach("2995.0", "12.0", date(2026, 2, 1))]
    found = due(told, date(2026, 3, 1), terms=OWNER, reading=D("20.0"))
    assert (found.reading, found.hours_left, found.doubts) == (D("47.0"), D(27), ())
    next_ = enter(at("20.0", "2026-03-01", oil_level_before="6.5", sample_taken="yes"))
    line = lines([*told, next_], OWNER)[-1]
    assert line.hours.value == line.filter_hours.value == 23
    overhaul = Overhaul(tach=D(1310), on=date(2012, 5, 4))
    made = {one.label: one for one in slip(line, registration="", overhaul=overhaul)}
    assert made["Hours since overhaul"].value == "1693 h"
    assert made["Tach time"].value == "20 h"
    unsure = {o.label: o for o in slip(line, registration="", overhaul=Overhaul(tach=D(1310)))}
    assert unsure["Hours since overhaul"].value == ""
    assert "overhaul_date" in unsure["Hours since overhaul"].why


def test_a_lower_reading_without_a_stated_change_is_a_doubt_and_no_figure(enter):  # noqa: F811
    """The newest reading counts: 12.0 after 2995.0 is no reading of 2933 h past."""
    told = [
        enter(at("2012.0", "2025-11-08")),
        enter({"service_date": "2026-01-10", "tach_time": "2995.0"}, kind="free"),
        enter({"service_date": "2026-02-10", "tach_time": "12.0"}, kind="free"),
    ]
    found = due(told, date(2026, 2, 20), terms=OWNER)
    assert (found.hours_left, found.first) == (None, "unknown")
    assert "the tach reads 12.0 h and read 2995.0 h on 2026-01-10" in found.why[0]
    assert not found.past
    line = lines([*told, enter(at("13.0", "2026-02-20", sample_taken="yes"))], OWNER)[-1]
    made = {o.label: o for o in slip(line, registration="", overhaul=Overhaul(tach=D(1310)))}
    assert made["Hours since overhaul"].value == ""
    assert "was it changed?" in made["Hours since overhaul"].why


def test_a_meters_change_needs_a_name_and_a_reason_and_is_kept_with_them(store, changed_tach):
    kept = changed_tach("2995.0", "12.0", date(2026, 2, 1))
    assert kept.decision(kept.entry("tach_fitted")).because == "the old one stuck"
    assert kept.job.closed_by == WHO
    with store.session() as session, pytest.raises(RefusedError, match="reason"):
        state_change(session, TACH, D(1), D(0), date(2026, 2, 1), WHO, " ", None)


@given(st.integers(0, 9999), st.integers(0, 50), st.integers(0, 50), st.integers(0, 50))
def test_hours_run_on_through_any_change_of_a_meter(old, new, before, after):
    """Law: what was run before the change and what after it add up, whatever the meters read."""
    count = Count(TACH, (Change(date(2026, 2, 1), D(old), D(new), 1, ""),))
    then = count.carried(D(old - before), date(2026, 1, 1))
    now = count.carried(D(new + after), date(2026, 3, 1))
    assert now - then == before + after
    assert count.shown(now) == new + after


def test_a_filter_not_safetied_and_not_otherwise_named_is_no_new_filter(enter):  # noqa: F811
    """25 h without a new filter (common practice), though the owner's interval is 50."""
    values = {**without(NOVEMBER, "filter_torque"), "filter_safetied": "no"}
    one = enter(values)
    assert not is_filter_change(one)
    found = due([one], date(2025, 12, 1), terms=OWNER)
    assert found.reading == D("2306.7")  # 2281.7 + 25
    assert "no new filter is confirmed" in found.why[0]
    said = Terms(hours=D(50), hours_no_filter=D(40))
    assert due([one], date(2025, 12, 1), terms=said).reading == D("2321.7")


def test_an_old_filter_torqued_again_is_no_new_one_and_a_new_one_fitted_later_is(enter):  # noqa: F811
    bare = enter(without(NOVEMBER, "filter_torque"), kind="oil-only")
    again = {"service_date": "2025-11-10", "tach_time": "2282.0", "filter_torque": "17"}
    told = [bare, enter(again, kind="free")]
    assert due(told, date(2025, 12, 1), terms=OWNER).reading == D("2306.7")
    new = enter({**again, "filter_part_number": "QF-318B"}, kind="free")
    assert due([bare, new], date(2025, 12, 1), terms=OWNER).reading == D("2331.7")


def test_a_last_change_without_a_tach_leaves_what_comes_first_unknown_and_says_why(enter):  # noqa: F811
    found = due([enter(without(NOVEMBER, "tach_time"))], date(2025, 12, 1), terms=OWNER)
    assert (found.first, found.reading, found.day) == ("unknown", None, date(2026, 3, 8))
    assert found.why == ("no tach time is confirmed for the last oil change",)
    late = due([enter(without(NOVEMBER, "tach_time"))], date(2026, 4, 1), terms=OWNER)
    assert (late.first, late.past) == ("unknown", True)


def test_a_reading_lower_than_one_before_is_doubted(enter):  # noqa: F811
    found = due([enter(NOVEMBER)], date(2025, 12, 1), terms=OWNER, reading=D(2200))
    assert found.hours_left is None
    assert "reads 2200 h and read 2281.7 h on 2025-11-08" in found.why[0]


def test_a_reading_higher_than_can_be_is_doubted(enter):  # noqa: F811
    """By hand: 23 days and one for the hours of both are 24 * 24 * 1.125 = 648 h at most."""
    one = [enter(NOVEMBER)]
    most = due(one, date(2025, 12, 1), terms=OWNER, reading=D("2929.7"))
    assert most.doubts == ()
    over = due(one, date(2025, 12, 1), terms=OWNER, reading=D("2929.8"))
    assert "more than the tach can count" in over.doubts[0]


def test_the_owners_margin_before_due(enter):  # noqa: F811
    """By hand: 2331.7 - 2327 = 4.7 h left; 8 March less 1 March is 7 days."""
    one, early = [enter(NOVEMBER)], date(2026, 1, 1)
    hours = Terms(hours=D(50), months=4, warn_hours=D(5))
    assert due(one, early, terms=hours, reading=D(2327)).soon
    assert not due(one, early, terms=hours, reading=D(2326)).soon
    days = Terms(hours=D(50), months=4, warn_days=7)
    assert due(one, date(2026, 3, 1), terms=days).soon
    assert not due(one, date(2026, 2, 28), terms=days).soon
    assert not due(one, date(2026, 3, 9), terms=days).soon  # past, which is more


def test_a_job_dated_later_than_today_is_left_out_and_named(enter):  # noqa: F811
    wrong = enter({**NOVEMBER, "service_date": "2028-11-08"})
    found = due([enter(NOVEMBER), wrong], date(2026, 2, 1), terms=OWNER)
    assert found.day == date(2026, 3, 8)
    assert "dated 2028-11-08" in found.doubts[0]


def test_due_after_fifty_hours_or_four_months_where_the_owner_says_nothing(enter):  # noqa: F811
    """Example of common practice as trade articles restate it: 50 h with a filter, 4 months."""
    one = [enter({**NOVEMBER, "tach_time": "2345.6", "service_date": "2026-03-14"})]
    found = due(one, date(2026, 4, 1), reading=D("2360.0"))
    assert (found.reading, found.day) == (D("2395.6"), date(2026, 7, 14))
    assert (found.hours_left, found.days_left, found.past) == (D("35.6"), 104, False)


def test_due_of_which_nothing_is_known_stays_unknown():
    found = due([], date(2026, 5, 1))
    assert (found.reading, found.day, found.first, found.past) == (None, None, "unknown", False)


def test_a_change_that_only_the_profile_knows_says_what_is_taken_for_granted():
    terms = Terms(start=Start(D("2298.1"), date(2025, 11, 2)))
    found = due([], date(2026, 1, 10), terms=terms, reading=D("2310.0"))
    assert found.hours_left == D("38.1")
    assert "taken to have had a new filter" in found.why[0]


def test_the_meter_is_the_owners_or_the_only_one_that_is_read(enter):  # noqa: F811
    """An hour meter alone serves as a tach does: 1802.3 + 50 = 1852.3."""
    hours = {**without(NOVEMBER, "tach_time"), "hour_meter_time": "1802.3"}
    found = due([enter(hours)], date(2025, 12, 1))
    assert (found.meter.name, found.reading) == ("hour meter", D("1852.3"))
    both = enter({**NOVEMBER, "hour_meter_time": "1802.3"})
    assert due([both], date(2025, 12, 1)).meter.name == "tach"
    kept_by = Terms(meter="hour_meter_time")
    assert due([both], date(2025, 12, 1), terms=kept_by).reading == D("1852.3")


def test_an_hour_meter_cannot_outrun_the_clock(enter):  # noqa: F811
    """By hand: two days and one more are 72 h by the clock; a tach could count 81."""
    hours = {**without(NOVEMBER, "tach_time"), "hour_meter_time": "1802.3"}
    one = [enter(hours)]
    assert due(one, date(2025, 11, 10), reading=D("1874.3")).doubts == ()
    assert "more than the hour meter" in due(one, date(2025, 11, 10), reading=D("1874.4")).doubts[0]


def test_a_level_read_before_the_run_up_is_said_to_be_that(store, catalogue):
    """The level that counts is the one after the run-up, when the new filter has filled."""
    from datetime import timedelta

    from record.history import level_too_soon
    from tests.record.conftest import BEGAN, draft

    def told(level_after):
        said = [
            draft("oil_level", "7", unit="qt", said_at=BEGAN + timedelta(minutes=level_after)),
            draft("runup_rpm", "1000", unit="rpm", said_at=BEGAN + timedelta(minutes=20)),
            draft("oil_added", "7", unit="qt", said_at=BEGAN),
            draft("filter_torque", "17", said_at=BEGAN),
        ]
        with store.session() as session:
            job = jobs.job_for(session, BEGAN, new=True, kind="oil-and-filter")
            queue.confirm(session, queue.put(session, job, said), WHO)
            return service(session, job, catalogue)

    soon, late = told(10), told(30)
    assert level_too_soon(soon)
    assert not level_too_soon(late)
    assert "the one that counts is after it" in lines([soon])[0].asides[0]
    assert lines([late])[0].asides == ()
