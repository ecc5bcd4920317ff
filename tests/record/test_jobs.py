from __future__ import annotations

from datetime import timedelta

import pytest

from record import entries, jobs, media
from record.errors import RefusedError
from tests.record.conftest import BEGAN, WHO, began, kept


def joined(session, job, seconds=0, digit="a"):
    media.join(session, media.note(session, kept(f"{digit}.wav", digit), began(seconds)).id, job)


@pytest.mark.parametrize(
    ("hours", "same"), [(0, True), (23.9, True), (-23.9, True), (24.1, False), (-24.1, False)]
)
def test_media_of_one_day_are_of_one_job(store, hours, same):
    with store.session() as session:
        job = jobs.job_for(session, BEGAN)
        joined(session, job)
        assert (jobs.job_for(session, BEGAN + timedelta(hours=hours)) == job) is same


def test_the_day_grows_with_the_media(store):
    with store.session() as session:
        job = jobs.job_for(session, BEGAN)
        joined(session, job)
        joined(session, job, 20 * 3600, "b")
        assert jobs.job_for(session, BEGAN + timedelta(hours=40)) == job
        found = jobs.get(session, job)
    assert (found.first, found.last) == (BEGAN, BEGAN + timedelta(hours=20))
    assert found.first.utcoffset() == BEGAN.utcoffset()


def test_a_new_job_can_be_asked_for_and_an_open_one_named(store):
    with store.session() as session:
        first = jobs.job_for(session, BEGAN)
        second = jobs.job_for(session, BEGAN, new=True)
        assert first != second
        assert jobs.job_for(session, BEGAN + timedelta(days=300), job=first) == first


def test_aircraft_and_kinds_have_jobs_of_their_own(store):
    with store.session() as session:
        one = jobs.job_for(session, BEGAN, aircraft="N0417Q")
        assert jobs.job_for(session, BEGAN, aircraft="N0418Q") != one
        assert jobs.job_for(session, BEGAN, aircraft="N0417Q", kind="tire") != one
        assert jobs.job_for(session, BEGAN, aircraft="N0417Q") == one
        assert [j.id for j in jobs.jobs(session, "N0417Q")] == [one, one + 2]


def test_a_closed_job_is_not_joined_any_more(store):
    with store.session() as session:
        job = jobs.job_for(session, BEGAN)
        joined(session, job)
        jobs.close(session, job, WHO)
        assert jobs.job_for(session, BEGAN) != job
        found = jobs.get(session, job)
        assert (found.is_open, found.closed_by) == (False, WHO)
        assert [d.action for d in entries.decisions(session, job)] == ["close"]


def test_closed_and_missing_jobs_are_refused_in_one_line(store):
    with store.session() as session:
        job = jobs.job_for(session, BEGAN)
        jobs.close(session, job, WHO)
    for number in (job, 99):
        with pytest.raises(RefusedError), store.session() as session:
            jobs.job_for(session, BEGAN, job=number)
    with pytest.raises(RefusedError, match="was closed by Ines"), store.session() as session:
        jobs.close(session, job, WHO)


def test_a_kind_that_had_another_name_is_read_by_the_one_of_now(store):
    with store.session() as session:
        job = jobs.job_for(session, None, new=True, kind="tyre")
        assert jobs.get(session, job).kind == "tire"
