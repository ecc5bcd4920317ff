from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from capture.observed import Instant
from record import arrange, correct, jobs, media, queue
from record.search import find
from tests.record.conftest import BEGAN, WHO, began, draft, kept, spoken


@pytest.fixture
def told(any_store):
    """A record of three memos, ninety days apart, on each engine."""
    said = (
        "a little weeping at the filter base",
        "torqued the filter to seventeen, no leaks",
        "number 3 reads 74 over 80, dash 227A fitted, naïve crew",
    )
    with any_store.session() as session:
        for place, (line, digit) in enumerate(zip(said, "abc", strict=True)):
            at = began(place * 90 * 86400)
            row = media.note(session, kept(f"memo_{digit}.wav", digit), at)
            media.join(session, row.id, jobs.job_for(session, at.at))
            media.keep_transcript(session, row.id, spoken(line, row.name))
    return any_store


def names(store, *asked, **more):
    with store.session(write=False) as session:
        return [h.media for h in find(session, *asked, **more)]


A, B, C = "memo_a.wav", "memo_b.wav", "memo_c.wav"


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("weeping", [A]),
        ("weep", [A]),  # the beginning of a word
        ("FILTER", [A, B]),
        ("filter base", [A]),  # all words, in any order
        ("base filter", [A]),
        ("eeping", []),
        ("227a", [C]),
        ("-227A", [C]),
        ("74", [C]),
        ("7", []),  # a figure whole
        ("", [A, B, C]),
        ("nothing-of-this", []),
    ],
)
def test_words_are_found(told, words, found):
    assert names(told, words) == found


SIGNS = ('"', "weep*", "NEAR(", "a AND", "OR", "NOT leaks", "text:weep", "^weep", "weep & !a | (")
SIGNS += (
    "'; DROP TABLE draft; --",
    "\\",
    "%",
    "()",
    "-",
    "∑",
    "\x00",
    "weep\x00",
    "{a b}",
    "a:*",
    "\t",
)


@pytest.mark.parametrize("words", SIGNS)
def test_signs_that_mean_something_to_the_engine_mean_nothing_here(told, words):
    names(told, words)
    assert names(told, "weeping") == [A]


def test_days_are_those_where_it_was_said(any_store):
    """23:30 in a zone two hours ahead of UTC is the same evening there, whatever UTC has."""
    late = datetime.fromisoformat("2026-03-14T00:30:00+02:00")
    with any_store.session() as session:
        row = media.note(session, kept(), Instant(late, "exif"))
        media.keep_transcript(session, row.id, spoken("no leaks"))
    for since, until, found in (
        (date(2026, 3, 14), date(2026, 3, 14), 1),
        (date(2026, 3, 13), date(2026, 3, 13), 0),
        (date(2026, 3, 14), None, 1),
        (None, date(2026, 3, 13), 0),
        (late, late + timedelta(seconds=5), 1),
        (late + timedelta(seconds=5), None, 0),
        (datetime(2026, 3, 13, 22, 0, tzinfo=UTC), datetime(2026, 3, 13, 23, 0, tzinfo=UTC), 1),
    ):
        assert len(names(any_store, "leaks", since=since, until=until)) == found, (since, until)


def test_a_range_and_words_both_hold(told):
    assert names(told, "filter", since=date(2026, 5, 1)) == [B]
    assert names(told, "", until=date(2026, 3, 14)) == [A]
    assert names(told, "filter", since=date(2027, 1, 1)) == []


def test_a_hit_names_the_file_the_second_and_the_moment(told):
    with told.session() as session:
        (hit,) = find(session, "weeping")
    assert (hit.media, hit.sha256, hit.second) == (A, "a" * 64, 1.0)
    assert hit.said_at == BEGAN + timedelta(seconds=1)
    assert hit.said_at.utcoffset() == BEGAN.utcoffset()
    assert hit.text == "a little weeping at the filter base"
    assert hit.entry is None


def test_entries_are_found_by_field_and_value_with_what_was_corrected(told):
    with told.session() as session:
        job = jobs.jobs(session)[0].id
        given = [
            draft(value="17.0", media=A),
            draft("filter_part_number", "ZZ-227A", unit=None, media=A, heard="zulu zulu"),
        ]
        torque, _ = queue.confirm(session, queue.put(session, job, given), WHO)
        correct.correct(session, torque.id, "18", "Bo Invented", "the wrench was off")
        every = find(session, field="filter_torque")
        assert [(h.value, h.replaced, h.by) for h in every] == [
            ("17.0", True, WHO),
            ("18", False, "Bo Invented"),
        ]
        assert every[0].sha256 == "a" * 64
        assert [h.value for h in find(session, value="17")] == ["17.0"]
        assert [h.field for h in find(session, value="zz227a")] == ["filter_part_number"]
        assert [h.value for h in find(session, "wrench")] == ["18"]
        assert [h.value for h in find(session, "filter", field="filter_torque", value="18")] == [
            "18"
        ]
        assert find(session, field="oil_added") == []


def test_the_newest_are_given_when_there_are_too_many(told):
    assert names(told, "", limit=2) == [B, C]


def test_other_aircraft_are_left_out_when_one_is_named(told):
    with told.session() as session:
        assert find(session, "weep", aircraft="N0417Q") == []


def test_words_and_what_was_entered_from_them_are_one_hit(told):
    with told.session() as session:
        job = jobs.jobs(session)[1].id
        one = draft(media=B, start=1.0, end=3.4, heard="torqued the filter to seventeen")
        ids = queue.put(session, job, [one])
        assert [h.entry for h in find(session, "torqued")] == [None]
        queue.confirm(session, ids, WHO)
        (hit,) = find(session, "torqued")
        assert (hit.field, hit.value, hit.media) == ("filter_torque", "17", B)
        assert [h.entry for h in find(session, "leaks")] == [None]  # not what the entry says


def test_a_value_entered_taken_back_and_entered_again_is_one_hit(told):
    with told.session() as session:
        job = jobs.jobs(session)[1].id
        ids = queue.put(session, job, [draft(media=B, start=1.0, end=3.4)])
        for _ in range(3):
            queue.confirm(session, ids, WHO)
            queue.undo(session, ids[0], WHO)
        assert [(h.value, h.replaced) for h in find(session, field="filter_torque")] == [
            ("17", True)
        ]
        queue.confirm(session, ids, WHO)
        assert [(h.value, h.replaced) for h in find(session, field="filter_torque")] == [
            ("17", False)
        ]


def test_what_was_typed_is_dated_in_the_zone_of_the_home(told):
    zone = ZoneInfo("Pacific/Auckland")
    with told.session() as session:
        queue.add(session, jobs.jobs(session)[0].id, "oil_added", "7", WHO)
        (hit,) = find(session, field="oil_added", zone=zone)
        assert hit.said_at.utcoffset() == datetime.now(zone).utcoffset()


def test_what_is_set_aside_is_found_and_marked(told):
    with told.session() as session:
        job = jobs.jobs(session)[0].id
        arrange.aside(session, job, WHO, "a trial")
        assert [(h.media, h.aside) for h in find(session, "filter")] == [(A, True), (B, False)]
