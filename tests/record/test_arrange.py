from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import text

from capture.observed import Instant
from extract.values.draft import Evidence
from record import arrange, chain, correct, entries, jobs, media, queue
from record.errors import RefusedError
from tests.record.conftest import BEGAN, WHO, draft, kept

WHY = "another afternoon"


def filled(session, *names: str, after_days: int = 0) -> tuple[int, list[int], list[int]]:
    """Make a job of memos, with a draft of each; give its number, the media's, the drafts'."""
    at = BEGAN + timedelta(days=after_days)
    job = jobs.job_for(session, at, new=True, aircraft="N0417Q")
    numbers = []
    for name in names:
        digit = f"{len(media.media(session)):x}"
        row = media.note(session, kept(name, digit), Instant(at, "container"))
        media.join(session, row.id, job)
        numbers.append(row.id)
    made = [draft(media=name, position=place) for place, name in enumerate(names, 1)]
    return job, numbers, queue.put(session, job, made)


def told(session) -> list[tuple[str, str, str]]:
    return [(a.action, a.was, a.becomes) for a in arrange.arrangements(session)]


def test_a_memo_goes_to_another_job_with_what_waits_of_it(any_store):
    with any_store.session() as session:
        one, (first, _), ids = filled(session, "a.wav", "b.wav")
        two, _, _ = filled(session, "c.wav", after_days=7)
        done = arrange.move(session, [first], two, WHO, WHY)
        assert (done.jobs, done.taken_back) == ((one, two), 0)
        assert media.get(session, first).job == two
        assert {q.job for q in queue.waiting(session) if q.id == ids[0]} == {two}
        (act,) = arrange.arrangements(session, two)
        assert (act.action, act.was, act.becomes) == ("move", str(one), str(two))
        assert (act.by, act.because, act.media) == (WHO, WHY, first)
        assert chain.prove(session) is None


def test_what_was_decided_is_taken_back_by_who_moves_it_and_waits_where_it_went(store):
    with store.session() as session:
        one, (first, second), ids = filled(session, "a.wav", "b.wav")
        queue.confirm(session, ids, WHO)
        done = arrange.move(session, [first], None, "Otto Other", WHY)
        new = media.get(session, first).job
        assert done.taken_back == 1
        assert [e.media for e in entries.entries(session, one)] == ["b.wav"]
        assert [(q.id, q.state) for q in queue.drafts(session, new)] == [(ids[0], "waiting")]
        last = entries.decisions(session, one)[-1]
        assert (last.action, last.by) == ("undo", "Otto Other")
        assert media.get(session, second).job == one
        assert chain.prove(session) is None


def test_a_value_that_was_corrected_since_is_taken_back_as_well(store):
    with store.session() as session:
        one, (first, _), ids = filled(session, "a.wav", "b.wav")
        (entry, _) = queue.confirm(session, ids, WHO)
        correct.correct(session, entry.id, "16.5", WHO, "read it again")
        arrange.move(session, [first], None, WHO, WHY)
        assert [e.media for e in entries.entries(session, one)] == ["b.wav"]
        assert chain.prove(session) is None


def test_a_job_is_split_and_joined_again_and_the_empty_one_does_not_count(store):
    with store.session() as session:
        one, (first, second), _ = filled(session, "a.wav", "b.wav")
        two = arrange.split(session, one, [second], WHO).jobs[-1]
        assert jobs.get(session, two).aircraft == "N0417Q"
        queue.add(session, two, "oil_added", "7", WHO)
        done = arrange.join(session, two, one, WHO)
        assert done.taken_back == 1  # a typed value has no recording; it waits in the other job
        assert [m.job for m in (media.get(session, n) for n in (first, second))] == [one, one]
        assert [j.id for j in jobs.jobs(session)] == [one]
        assert [j.id for j in jobs.jobs(session, every=True)] == [one, two]
        assert {q.job for q in queue.drafts(session)} == {one}
        assert len(queue.waiting(session, one)) == 3
        arrange.back(session, two, WHO)
        assert jobs.get(session, two).aside is False
        assert chain.prove(session) is None


def test_two_memos_of_one_name_are_told_apart_in_one_job(store):
    with store.session() as session:
        one, _, _ = filled(session, "a.wav")
        two, (second,), ids = filled(session, "a.wav", after_days=30)
        arrange.join(session, two, one, WHO)
        moved = media.get(session, second)
        assert moved.name != moved.original == "a.wav"
        assert queue.get(session, ids[0]).draft.media == moved.name


def test_a_memo_set_aside_is_kept_and_not_counted_and_comes_back(store):
    with store.session() as session:
        one, (first, _), ids = filled(session, "a.wav", "b.wav")
        queue.confirm(session, ids[:1], WHO)
        assert arrange.aside(session, one, WHO, "a test", first).taken_back == 1
        assert [m.name for m in media.media(session, one, every=False)] == ["b.wav"]
        assert len(media.media(session, one)) == 2
        assert [q.id for q in queue.drafts(session, one)] == ids[1:]
        assert entries.entries(session, one) == []
        assert chain.prove(session) is None
        with pytest.raises(RefusedError, match="aside already"):
            arrange.aside(session, one, WHO, "again", first)
        arrange.back(session, one, WHO, number=first)
        assert {q.id for q in queue.waiting(session, one)} == set(ids)
        assert [a.action for a in arrange.arrangements(session)] == ["aside", "back"]
        assert chain.prove(session) is None


def test_a_memo_set_aside_can_be_moved_and_comes_back_where_it_went(store):
    with store.session() as session:
        one, (first, _), ids = filled(session, "a.wav", "b.wav")
        arrange.aside(session, one, WHO, "a trial", first)
        two = arrange.move(session, [first], None, WHO).jobs[-1]
        assert queue.drafts(session, two) == []
        arrange.back(session, two, WHO, number=first)
        assert [q.id for q in queue.waiting(session, two)] == ids[:1]
        assert chain.prove(session) is None


def test_a_job_set_aside_is_kept_and_not_counted(store):
    with store.session() as session:
        one, _, ids = filled(session, "a.wav")
        queue.confirm(session, ids, WHO)
        arrange.aside(session, one, WHO, "only a trial")
        assert jobs.jobs(session) == []
        assert jobs.get(session, one).aside
        assert jobs.job_for(session, BEGAN, aircraft="N0417Q") != one
        with pytest.raises(RefusedError, match="set aside"):
            arrange.move(session, [1], one, WHO)
        assert chain.prove(session) is None


def test_kind_aircraft_and_clock_are_said_by_a_person(store):
    with store.session() as session:
        one, (first,), _ = filled(session, "a.wav")
        arrange.set_kind(session, one, "tire", WHO)
        arrange.set_aircraft(session, one, "N0655X", WHO)
        arrange.shift_clock(session, [first], timedelta(hours=1), WHO, "summer time")
        job, memo = jobs.get(session, one), media.get(session, first)
        assert (job.kind, job.aircraft) == ("tire", "N0655X")
        assert memo.began.at == BEGAN + timedelta(hours=1)
        assert memo.began.source == "person"
        assert [t[0] for t in told(session)] == ["kind", "aircraft", "clock"]
        assert chain.prove(session) is None


def test_an_offered_kind_gives_way_to_a_person_and_never_the_other_way(store):
    with store.session() as session:
        one = jobs.job_for(session, BEGAN, kind=None)
        assert jobs.get(session, one).kind == "free"
        jobs.offer(session, one, "battery", "battery voltage was said")
        assert jobs.get(session, one).offered == "battery voltage was said"
        arrange.set_kind(session, one, "tire", WHO)
        jobs.offer(session, one, "battery", "battery voltage was said")
        assert (jobs.get(session, one).kind, jobs.get(session, one).offered) == ("tire", "")


@pytest.mark.parametrize(
    "act",
    [
        lambda s, j, m: arrange.move(s, [m], None, WHO),
        lambda s, j, m: arrange.aside(s, j, WHO, "why", m),
        lambda s, j, m: arrange.aside(s, j, WHO, "why"),
        lambda s, j, m: arrange.set_kind(s, j, "tire", WHO),
        lambda s, j, m: arrange.shift_clock(s, [m], timedelta(hours=1), WHO),
        lambda s, j, m: arrange.join(s, j, jobs.job_for(s, None, new=True), WHO),
    ],
)
def test_nothing_is_arranged_in_a_closed_job(store, act):
    with store.session() as session:
        one, (first,), ids = filled(session, "a.wav")
        queue.confirm(session, ids, WHO)
        jobs.close(session, one, WHO)
    with pytest.raises(RefusedError), store.session() as session:
        act(session, one, first)


@pytest.mark.parametrize(
    "act",
    [
        lambda s, j, m: arrange.move(s, [m], None, " "),
        lambda s, j, m: arrange.aside(s, j, WHO, "", m),
        lambda s, j, m: arrange.aside(s, j, "", "why"),
        lambda s, j, m: arrange.split(s, j, [m], WHO),
        lambda s, j, m: arrange.join(s, j, j, WHO),
        lambda s, j, m: arrange.join(s, j, 99, WHO),
        lambda s, j, m: arrange.move(s, [99], None, WHO),
        lambda s, j, m: arrange.back(s, j, WHO),
    ],
)
def test_what_has_no_name_no_reason_or_no_sense_is_refused_whole(store, act):
    with store.session() as session:
        one, (first,), _ = filled(session, "a.wav")
    with pytest.raises(RefusedError), store.session() as session:
        act(session, one, first)
    with store.session() as session:
        assert told(session) == []
        assert media.get(session, first).job == one


@pytest.mark.parametrize("change", ["UPDATE arrangement SET by = 'x'", "DELETE FROM arrangement"])
def test_what_was_arranged_is_only_ever_added_to(any_store, change):
    with any_store.session() as session:
        one, _, _ = filled(session, "a.wav")
        arrange.set_kind(session, one, "tire", WHO)
    with pytest.raises(RefusedError, match="only ever added to"), any_store.session() as session:
        session.connection().execute(text(change))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("UPDATE job SET kind = 'free'", "job 1: is not as Ines Invented said"),
        ("UPDATE job SET aside = false", "job 1: is not as Ines Invented said"),
        ("UPDATE media SET job_id = 1 WHERE id = 2", "media 2: is not as Ines Invented said"),
    ],
)
def test_a_move_behind_the_records_back_is_found(store, change, said):
    with store.session() as session:
        one, (_, second), _ = filled(session, "a.wav", "b.wav")
        arrange.split(session, one, [second], WHO)
        arrange.set_kind(session, one, "tire", WHO)
        arrange.aside(session, one, WHO, "a trial")
        session.connection().execute(text(change))
        session.expire_all()
        assert str(chain.prove(session)).startswith(said)


def test_a_weak_time_never_widens_a_job(store):
    with store.session() as session:
        one, _, _ = filled(session, "a.wav")
        weak = Instant(BEGAN + timedelta(days=60), "file", 3600.0, "only the file's own time")
        scan = media.note(session, kept("scan.jpg", "e", "photo"), weak)
        media.join(session, scan.id, one)
        assert jobs.get(session, one).last == BEGAN
        for days in (30, 60):
            when = BEGAN + timedelta(days=days)
            assert jobs.job_for(session, when, aircraft="N0417Q") != one


def test_a_time_that_two_clocks_contradict_by_months_does_not_tell_the_day(store):
    with store.session() as session:
        one, _, _ = filled(session, "a.wav")
        months = Instant(BEGAN + timedelta(days=60), "container", 60 * 86400.0, "its name says")
        row = media.note(session, kept("b.wav", "e"), months)
        media.join(session, row.id, one)
        assert jobs.get(session, one).last == BEGAN


def test_weak_times_alone_make_no_range_either(store):
    with store.session() as session:
        job = jobs.job_for(session, BEGAN)
        for digit, days in (("a", 0), ("b", 60)):
            at = Instant(BEGAN + timedelta(days=days), "file", 3600.0, "weak")
            row = media.note(session, kept(f"{digit}.jpg", digit, "photo"), at)
            media.join(session, row.id, job)
        assert jobs.job_for(session, BEGAN + timedelta(days=60, hours=2)) == job
        assert jobs.job_for(session, BEGAN + timedelta(days=30)) != job


def test_media_moved_away_leave_no_draft_that_only_they_told(store):
    with store.session() as session:
        one, _, ids = filled(session, "a.wav", "b.wav")
        arrange.put_away(session, one, ids, lambda d: False)
        assert len(queue.waiting(session, one)) == 2
        arrange.put_away(session, one, ids[1:], lambda d: d.media == "a.wav")
        assert [q.id for q in queue.waiting(session, one)] == ids[1:]


def test_a_draft_that_was_read_anew_within_another_does_not_wait_beside_it(store):
    with store.session() as session:
        one, _, _ = filled(session, "a.wav", "b.wav")
        apart = queue.put(
            session,
            one,
            [draft("oil_added", "7", unit="qt", media=m) for m in ("a.wav", "b.wav")],
        )
        assert len(set(apart)) == 2
        told = Evidence("b.wav", "seven and a quarter")
        (whole,) = queue.put(
            session, one, [draft("oil_added", "7.5", unit="qt", media="a.wav", also=(told,))]
        )
        arrange.put_away(session, one, [whole], lambda d: False)
        waiting = [q for q in queue.waiting(session, one) if q.draft.name == "oil_added"]
        assert [q.id for q in waiting] == [whole]
