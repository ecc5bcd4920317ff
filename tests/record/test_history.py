"""Services in order, the checklist and the slip, from entries that a named person made."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from extract.values.known import Known
from record import jobs, queue
from record.checklist import ENTERED, UNSAID, WAITING, checklist
from record.correct import correct
from record.due import due
from record.errors import RefusedError
from record.history import is_oil_change, lines
from record.service import service
from record.slip import slip
from record.terms import Overhaul, Start, Terms
from tests.record.conftest import BEGAN, WHO, draft

D = Decimal
CHANGE = {
    "service_date": "2025-03-01",
    "tach_time": "2100.0",
    "drain_closed": "yes",
    "filter_torque": "17",
    "oil_added": "7",
    "oil_grade": "SAE 50",
    "additive_added": "11.2",
    "oil_level": "7",
}
NEXT = {
    **CHANGE,
    "service_date": "2025-06-01",
    "tach_time": "2140.0",
    "oil_level_before": "6.5",
    "sample_taken": "yes",
    "metal_found": "fine",
}


@pytest.fixture
def enter(store, catalogue):
    """Enter values as a job of its own; give the service."""

    def made(values, kind="oil-and-filter", **corrections):
        with store.session() as session:
            job = jobs.job_for(session, None, new=True, kind=kind)
            by_name = {
                name: queue.add(
                    session, job, name, text, WHO, catalogue=catalogue, although="as read"
                )
                for name, text in values.items()
            }
            for name, (text, because) in corrections.items():
                correct(session, by_name[name].id, text, WHO, because, catalogue)
            return service(session, job, catalogue)

    return made


def test_hours_oil_and_filter_since_the_last_change(enter):
    first, top_up = enter(CHANGE), {"service_date": "2025-04-10", "tach_time": "2120.0"}
    added = enter({**top_up, "oil_added": "1"}, kind="free")
    got = lines([enter(NEXT), first, added])
    assert [line.service.job.id for line in got] == [1, 2, 3]
    assert got[2].hours.value == got[2].filter_hours.value == 40
    assert got[2].topped_up == 1
    assert got[2].oil.used.value == D("1.5")
    assert got[2].before.job.id == 1
    assert got[0].oil is None
    assert "not in the record" in got[0].oil_why


def test_oil_put_in_without_a_drain_is_a_top_up_and_no_change(enter):
    assert not is_oil_change(enter({"oil_added": "1", "tach_time": "2120.0"}, kind="free"))
    assert is_oil_change(enter(CHANGE))


def test_the_filter_is_counted_apart_from_the_oil(enter):
    plain = {k: v for k, v in NEXT.items() if k != "filter_torque"}
    enter_ = [enter(CHANGE), enter(plain, kind="oil-only")]
    last = enter({**NEXT, "service_date": "2025-09-01", "tach_time": "2170.0"})
    got = lines([*enter_, last])[-1]
    assert (got.hours.value, got.filter_hours.value) == (30, 70)


def test_what_is_missing_keeps_a_sum_from_being_made_and_says_so(enter):
    bare = {k: v for k, v in NEXT.items() if k not in ("oil_level_before", "tach_time")}
    got = lines([enter(CHANGE), enter(bare)])[-1]
    assert got.hours is None
    assert "no tach time" in got.why
    assert "before this drain" in got.oil_why


def test_the_last_service_before_the_record_began_counts_for_the_first(enter):
    got = lines([enter(CHANGE)], Terms(start=Start(D("2060.0"), date(2024, 11, 1))))
    assert got[0].hours.value == 40


def test_a_meter_that_went_backwards_is_said_and_nothing_fails(enter):
    got = lines([enter(CHANGE), enter({**NEXT, "tach_time": "2000.0"})])[-1]
    assert got.hours is None
    assert "amend the one that is wrong" in got.why


def test_due_comes_from_the_last_change_in_the_record(enter):
    found = due([enter(CHANGE), enter(NEXT)], date(2025, 7, 1))
    assert (found.reading, found.day) == (D("2190.0"), date(2025, 10, 1))
    assert found.hours_left == 50


def test_due_after_a_change_without_a_filter_is_sooner(enter):
    """Common practice: 25 h with a screen only."""
    plain = {k: v for k, v in CHANGE.items() if k != "filter_torque"}
    assert due([enter(plain, kind="oil-only")], date(2025, 7, 1)).reading == D("2125.0")


def test_a_corrected_value_is_the_one_that_counts(enter):
    got = lines([enter(CHANGE, tach_time=("2101.0", "misread"))])
    assert got[0].tach == D("2101.0")


def test_checklist_tells_what_is_entered_drafted_and_waiting_and_never_said(store, catalogue):
    with store.session() as session:
        job = jobs.job_for(session, BEGAN, kind="oil-and-filter")
        queue.add(session, job, "filter_torque", "17", WHO, catalogue=catalogue)
        queue.put(session, job, [draft("leak_check", "pass", unit=None)])
        checks = {c.name: c for c in checklist(service(session, job, catalogue), catalogue)}
    assert (checks["filter_torque"].state, checks["filter_torque"].called_for) == (ENTERED, True)
    assert (checks["leak_check"].state, checks["leak_check"].called_for) == (WAITING, True)
    assert [q.draft.value for q in checks["leak_check"].waits] == ["pass"]
    assert (checks["oil_added"].state, checks["oil_added"].called_for) == (UNSAID, True)
    assert (checks["oil_pressure"].state, checks["oil_pressure"].called_for) == (UNSAID, False)


def test_checklist_shows_a_draft_that_waits_beside_an_entered_value(store, catalogue):
    with store.session() as session:
        job = jobs.job_for(session, BEGAN, kind="oil-and-filter")
        queue.add(session, job, "filter_torque", "17", WHO, catalogue=catalogue)
        (other,) = queue.put(session, job, [draft("filter_torque", "18")])
        checks = {c.name: c for c in checklist(service(session, job, catalogue), catalogue)}
    assert checks["filter_torque"].entry.value == 17
    assert [q.id for q in checks["filter_torque"].waits] == [other]


def test_checklist_names_the_line_of_the_preventive_list(enter, catalogue):
    """14 CFR 43 Appendix A(c): 6 lubrication, 23 filter elements, and the new filter's wire."""
    numbers = {c.name: c.items for c in checklist(enter(CHANGE), catalogue)}
    assert numbers["filter_torque"] == (23,)
    assert numbers["oil_added"] == (6,)
    assert numbers["lockwire_twist"] == (23,)


def test_checklist_says_what_was_outside_its_limit_and_who_accepted_that_and_why(enter, catalogue):
    known = Known(filter_torque=(D(16), D(18)), sump_capacity=D(6))
    found = enter(CHANGE, filter_torque=("19", "maker's new letter says 18 to 20"))
    checks = {c.name: c for c in checklist(found, catalogue, known)}
    assert checks["filter_torque"].outside == ("the profile has 16 to 18 ft-lb",)
    assert WHO in checks["filter_torque"].accepted
    assert "maker's new letter" in checks["filter_torque"].accepted
    assert "sump holds 6 qt" in checks["oil_level"].outside[0]


def test_slip_is_filled_from_the_record_alone(enter):
    enter_ = [enter(CHANGE), enter(NEXT)]
    made = {
        one.label: one
        for one in slip(
            lines(enter_)[-1],
            registration="N0417Q",
            overhaul=Overhaul(tach=D("1310.0")),
            additive="invented",
        )
    }
    assert made["Hours on the oil"].value == "40 h"
    assert made["Hours since overhaul"].value == "830 h"
    assert made["Oil in the sample"].value == "SAE 50"
    assert made["Additive in the sample"].value == "11.2 fl oz invented"
    assert made["Metal in the filter"].value == "fine"
    assert made["When in the drain"].value == ""
    assert made["Sample volume"].why == "not noted"


def test_the_usual_oil_of_the_profile_is_marked_as_that(enter):
    (line,) = lines([enter(NEXT)])
    made = {one.label: one.value for one in slip(line, registration="", usual_oil="20W-50")}
    assert made["Oil in the sample"] == "20W-50 (the usual oil of the profile)"
    assert made["Aircraft"] == ""


def test_a_slip_says_that_no_sample_was_confirmed(enter):
    (line,) = lines([enter({k: v for k, v in NEXT.items() if k != "sample_taken"})])
    made = {one.label: one for one in slip(line, registration="N0417Q")}
    for label in ("Sample taken", "Sample taken on"):
        assert (made[label].value, made[label].why) == ("", "no sample was confirmed")


def test_no_slip_where_no_sample_was_taken(enter):
    (line,) = lines([enter({**NEXT, "sample_taken": "no"})])
    with pytest.raises(RefusedError, match="no oil sample was taken"):
        slip(line, registration="N0417Q")


def test_slip_gives_the_words_that_were_said_about_the_sample(store, catalogue):
    words = "pulled the oil sample midway through the drain"
    with store.session() as session:
        job = jobs.job_for(session, BEGAN)
        said = draft("sample_taken", value=True, unit=None, heard=words)
        queue.confirm(session, queue.put(session, job, [said]), WHO)
        (line,) = lines([service(session, job, catalogue)])
    made = {one.label: one.value for one in slip(line, registration="N0417Q")}
    assert made["When in the drain"] == f"“{words}”"
    assert made["At"] == "2026-03-14 09:12+01:00"
