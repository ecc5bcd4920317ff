from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from capture.observed import PhotoText, Reading
from record import media, search
from record.errors import StoreError
from tests.record.conftest import BEGAN, began, kept, spoken


def test_the_same_file_twice_is_one(store):
    with store.session() as session:
        first = media.note(session, kept(), began())
        assert media.note(session, kept(), began(5)) == first
        assert first.state == "kept"
        assert first.began == began()


def test_a_file_keeps_its_own_name(store):
    with store.session() as session:
        media.note(session, kept(digit="a"), began())
        later = media.note(session, kept(digit="b"), began(90 * 86400))
        assert later.name == "memo_01.wav"


def test_two_files_of_one_name_and_day_are_told_apart(store):
    with store.session() as session:
        first = media.note(session, kept(digit="a"), began())
        second = media.note(session, kept(digit="b"), began(60))
        assert (first.name, second.name) == ("memo_01.wav", "memo_01 (bbbbbbbb).wav")
        assert second.original == "memo_01.wav"
        assert media.find_media(session, second.name) == second


def test_what_is_not_yet_heard_is_known_after_a_crash(store):
    with store.session() as session:
        numbers = [media.note(session, kept(f"{d}.wav", d), began()).id for d in "abc"]
    with store.session() as session:
        media.keep_transcript(session, numbers[0], spoken("no leaks"))
        media.set_failed(session, numbers[1], "holds no sound")
    with store.session() as session:
        assert [m.id for m in media.unheard(session)] == [numbers[2]]
        assert media.get(session, numbers[1]).reason == "holds no sound"
        assert media.get(session, numbers[0]).state == "heard"


def test_a_transcript_comes_back_with_every_word(store):
    given = spoken("torqued the filter to seventeen foot pounds")
    with store.session() as session:
        number = media.note(session, kept(), began()).id
        media.keep_transcript(session, number, given)
        assert media.transcript_of(session, number) == replace(given, began=began())
        assert media.photo_text_of(session, number) is None


def test_a_photo_as_read_comes_back_with_every_line(store):
    reading = Reading("text", "-227A", ((0.0, 0.0), (9.0, 0.0), (9.0, 5.0), (0.0, 5.0)), 0.9)
    given = PhotoText("label.jpg", (4000, 3000), "label", (reading,), "reader 1", began())
    with store.session() as session:
        number = media.note(session, kept("label.jpg", kind="photo"), began()).id
        media.keep_photo_text(session, number, given)
        assert media.photo_text_of(session, number) == given
        (hit,) = search.find(session, "227a")
        assert (hit.media, hit.second, hit.said_at) == ("label.jpg", None, BEGAN)


def test_hearing_again_replaces_what_was_heard(store):
    with store.session() as session:
        number = media.note(session, kept(), began()).id
        media.keep_transcript(session, number, spoken("weeping at the base"))
        media.keep_transcript(session, number, spoken("no leaks at the base"))
        assert search.find(session, "weeping") == []
        assert len(search.find(session, "base")) == 1


def test_a_long_memo_is_cut_where_people_pause(store):
    with store.session() as session:
        number = media.note(session, kept(), began()).id
        media.keep_transcript(session, number, spoken("one two three four five six", pause_after=2))
        found = search.find(session)
    assert [h.text for h in found] == ["one two", "three four", "five six"]
    assert [h.said_at - BEGAN for h in found] == [timedelta(seconds=h.second) for h in found]
    assert found == sorted(found, key=lambda h: h.said_at)


def test_a_clock_put_right_moves_every_word(store):
    right = began(3600, doubt="clock was an hour off")
    with store.session() as session:
        number = media.note(session, kept(), began()).id
        media.keep_transcript(session, number, spoken("no leaks"))
        media.set_began(session, number, right)
        (hit,) = search.find(session, "leaks")
        assert hit.said_at == right.at + timedelta(seconds=1)
        assert media.transcript_of(session, number).began == right


def test_words_of_unknown_time_are_found_but_in_no_range(store):
    with store.session() as session:
        number = media.note(session, kept(), None).id
        media.keep_transcript(session, number, spoken("no leaks"))
        assert len(search.find(session, "leaks")) == 1
        assert search.find(session, "leaks", since=BEGAN.date()) == []


def test_media_that_are_not_there_are_one_line(store):
    with pytest.raises(StoreError, match="no media 7"), store.session() as session:
        media.get(session, 7)
