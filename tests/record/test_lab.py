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
