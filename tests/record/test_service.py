from __future__ import annotations

from datetime import date
from decimal import Decimal

from extract.values.known import NOTHING, Known
from record import correct, jobs, media, queue
from record.before import history, known
from record.service import service
from tests.record.conftest import BEGAN, WHO, began, draft, kept


def job_with(session, *drafts, seconds=0, digit="a", aircraft=None):
    job = jobs.job_for(session, began(seconds).at, new=True, aircraft=aircraft)
    media.join(session, media.note(session, kept(f"{digit}.wav", digit), began(seconds)).id, job)
    queue.confirm(session, queue.put(session, job, drafts), WHO)
    return job


def test_a_service_shows_what_is_entered_and_what_is_missing(store):
    with store.session() as session:
        job = job_with(session, draft(), draft("tach_time", "2345.6", unit="h", start=1.0))
        found = service(session, job)
    assert [e.value for e in found.entries.values()] == [Decimal("2345.6"), Decimal(17)]
    assert "leak_check" in found.missing
    assert "filter_torque" not in found.missing
    assert found.entry("filter_torque").value == 17
    assert found.decision(found.entry("filter_torque")).by == WHO
    assert [m.name for m in found.media] == ["a.wav"]
    assert found.on == BEGAN.date()


def test_the_day_that_was_entered_comes_before_that_of_the_recording(store):
    day = draft("service_date", date(2026, 3, 13), unit=None)
    with store.session() as session:
        assert service(session, job_with(session, day)).on == date(2026, 3, 13)


def test_a_value_that_only_waits_is_not_in_the_service(store):
    with store.session() as session:
        job = jobs.job_for(session, BEGAN)
        queue.put(session, job, [draft()])
        found = service(session, job)
    assert not found.entries
    assert "filter_torque" in found.missing


def test_a_correction_shows_who_when_and_why_beside_what_it_replaced(store):
    """Corrections visible with who and when: the manner of electronic records (AC 120-78B)."""
    with store.session() as session:
        job = job_with(session, draft(value="70"))
        jobs.close(session, job, WHO)
        old = service(session, job).entry("filter_torque")
        correct.correct(session, old.id, "17", "Bo Invented", "the dial was misread")
        found = service(session, job)
    new = found.entry("filter_torque")
    assert (new.value, new.by, new.supersedes) == (17, "Bo Invented", old.id)
    assert found.decision(new).because == "the dial was misread"
    assert [(e.value, e.by, e.superseded_by) for e in found.replaced] == [(70, WHO, new.id)]


def test_known_is_the_profile_until_the_record_knows_better(store):
    profile = Known(last_tach=Decimal("2300.0"), last_date=date(2026, 1, 2), oil_grade="SAE 50")
    with store.session() as session:
        assert known(session, profile, date(2026, 3, 14)).last_tach == Decimal("2300.0")
        first = job_with(session, draft("tach_time", "2345.6", unit="h"))
        second = job_with(
            session, draft("tach_time", "2390.1", unit="h"), seconds=60 * 86400, digit="b"
        )
        found = known(session, profile, date(2026, 8, 1))
        assert (found.last_tach, found.last_date) == (Decimal("2390.1"), date(2026, 5, 13))
        assert (found.oil_grade, found.on) == ("SAE 50", date(2026, 8, 1))
        assert known(session, profile, date(2026, 8, 1), job=second).last_tach == Decimal("2345.6")
        assert known(session, profile, date(2026, 3, 20), job=first).last_tach == Decimal("2300.0")


def test_aircraft_do_not_know_each_others_meters(store):
    with store.session() as session:
        job_with(session, draft("tach_time", "2345.6", unit="h"), aircraft="N0417Q")
        assert known(session, NOTHING, None, aircraft="N0418Q").last_tach is None
        assert known(session, NOTHING, None, aircraft="N0417Q").last_tach == Decimal("2345.6")
        assert [e.value for e in history(session, "tach_time", "N0417Q")] == [Decimal("2345.6")]
