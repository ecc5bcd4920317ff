"""Laboratory reports in the record: named, chained, corrected and never changed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from sqlalchemy import text

from record import jobs, lab, queue
from record.errors import RefusedError
from record.reports import make
from tests.record.conftest import WHO


def report(number="", **levels):
    figures = levels or {"Fe": "22", "Sn": "<1"}
    return make("North Lab", date(2025, 3, 1), figures, hours=Decimal("40.0"), number=number)


def test_a_report_comes_back_as_it_was_printed(store):
    with store.session() as session:
        lab.add(session, report(), WHO, aircraft="N0417Q")
    with store.session(write=False) as session:
        (kept,) = lab.reports(session, "N0417Q")
        assert {s: v.text for s, v in kept.report.levels.items()} == {"Fe": "22", "Sn": "<1"}
        assert (kept.report.hours, kept.by) == (Decimal("40.0"), WHO)
        assert lab.reports(session, "another") == []


def test_a_report_joins_the_job_of_its_day(store, catalogue):
    with store.session() as session:
        job = jobs.job_for(session, None, new=True)
        queue.add(session, job, "service_date", "2025-03-01", WHO, catalogue=catalogue)
        assert lab.add(session, report(), WHO).job == job


def test_a_report_without_a_name_is_refused(store):
    with store.session() as session, pytest.raises(RefusedError):
        lab.add(session, report(), " ")


def test_the_same_report_twice_is_refused_and_a_split_sample_is_not(store):
    with store.session() as session:
        lab.add(session, report("1"), WHO)
        with pytest.raises(RefusedError, match="there already"):
            lab.add(session, report("1"), WHO)
        other = make("South Lab", date(2025, 3, 1), {"Fe": "27"})
        assert lab.add(session, other, WHO).id == 2


def test_a_correction_needs_a_reason_and_leaves_the_old_one(store):
    with store.session() as session:
        first = lab.add(session, report(), WHO)
        with pytest.raises(RefusedError, match="reason"):
            lab.add(session, report(Fe="23"), WHO, supersedes=first.id)
        lab.add(session, report(Fe="23"), WHO, supersedes=first.id, because="misread")
        (now,) = lab.reports(session)
        assert (now.report.levels["Fe"].text, now.because) == ("23", "misread")
        assert len(lab.reports(session, every=True)) == 2
        with pytest.raises(RefusedError, match="no report 1 that counts"):
            lab.add(session, report(Fe="24"), WHO, supersedes=first.id, because="again")


@pytest.mark.parametrize(
    "statement", ["UPDATE lab_report SET hours = '1'", "DELETE FROM lab_report"]
)
def test_a_report_cannot_be_changed_or_deleted(store, statement):
    with store.session() as session:
        lab.add(session, report(), WHO)
    with pytest.raises(RefusedError, match="only ever added to"), store.session() as session:
        session.connection().execute(text(statement))


def test_the_chain_names_the_first_report_that_is_not_what_was_written(store):
    with store.session() as session:
        for number in "123":
            lab.add(session, report(number), WHO)
        assert lab.prove(session) is None
    with store.session() as session:
        session.connection().execute(text("DROP TRIGGER lab_report_no_update"))
        session.connection().execute(
            text("""UPDATE lab_report SET levels = '{"Fe":"12"}' WHERE id = 2""")
        )
    with store.session(write=False) as session:
        assert str(lab.prove(session)) == "lab_report 2: is not what was written"


def filled(session, catalogue, day, tach, **more):
    job = jobs.job_for(session, None, new=True)
    values = {"service_date": day, "tach_time": tach, "oil_added": "7", "filter_torque": "17"}
    for name, text_ in {**values, **more}.items():
        queue.add(session, job, name, text_, WHO, catalogue=catalogue)
    return job


@pytest.fixture
def changes(store, catalogue):
    """Two oil changes 35 h apart, the later one at 2035.0 h: the job that a sample is of."""
    with store.session() as session:
        filled(session, catalogue, "2025-03-01", "2000.0")
        yield session, filled(session, catalogue, "2025-06-01", "2035.0")


def doubts(session, job=None, *, day=date(2025, 6, 1), today=date(2025, 6, 20), **told):
    hours, tach = (Decimal(told[n]) if n in told else None for n in ("hours", "tach"))
    made = make("North Lab", day, {"Fe": "22"}, hours=hours, tach=tach)
    return lab.add(session, made, WHO, job=job, today=today).report.doubts


def test_hours_and_tach_that_are_not_the_jobs_are_doubted(changes):
    """By hand: 2035.0 - 2000.0 = 35 h on the oil, and not 4.5; the tach read 2035.0, not 1200."""
    session, job = changes
    assert doubts(session, hours="4.5", tach="1200") == (
        f"the report has the tach at 1200 h, and job {job} at 2035.0 h",
        f"the report has 4.5 h on the oil, and job {job} 35.0 h",
    )


def test_a_report_that_fits_its_job_is_not_doubted(changes):
    session, _ = changes
    assert doubts(session, hours="35", tach="2035.0") == ()


def test_a_sample_of_a_day_that_has_not_come_is_doubted(changes):
    session, job = changes
    found = doubts(session, job, day=date(2028, 6, 1), hours="35")
    assert found[0] == "the sample is of 2028-06-01, later than today (2025-06-20)"
    assert f"and job {job} of 2025-06-01" in found[1]


def test_hours_that_make_no_sense_are_doubted_without_any_job(store):
    with store.session() as session:
        assert "hardly possible" in doubts(session, hours="450", tach="2035")[0]
    with store.session() as session:
        found = doubts(session, day=date(2025, 6, 2), hours="45", tach="30")
        assert "more than the tach has counted" in found[0]
