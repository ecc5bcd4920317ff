"""A finding is the speaker's words with a state; two findings are never folded into one."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.errors import InputError
from extract.read import _beside
from extract.values.defects import STATES, finding_of, one_thing, told
from extract.values.draft import Draft
from extract.values.kinds import KINDS
from extract.witness.fuse import fuse

BEGAN = datetime(2026, 3, 14, 9, 0, tzinfo=UTC)


def said(value: str, start: float, name: str = "defect", media: str = "memo.wav") -> Draft:
    at = BEGAN + timedelta(seconds=start)
    return Draft(name, value, None, None, media, start, start + 3, at, value, 0.9)


@pytest.mark.parametrize(
    ("words", "state", "value"),
    [
        # the sentences of docs/fields.md
        (
            "found a cracked exhaust stud, it can wait for the annual",
            "deferred",
            "deferred until the annual: found a cracked exhaust stud",
        ),
        ("replaced the landing light bulb", None, "replaced the landing light bulb"),
        ("found a cracked exhaust stud, deferring it", "deferred", None),
        ("um, left mag drop a bit high, keep an eye on it.", "open", None),
        ("cracked stud and I'm deferring it until June", "deferred", None),
    ],
)
def test_a_finding_keeps_the_speakers_words(words, state, value):
    made = finding_of(words, state)
    if value is not None:
        assert made == value
    assert told(made).words in words
    assert told(made).state == (state or "")


def test_words_that_are_no_occasion_stay_words():
    words = "cracked stud it can wait for the guy who welds over at the other place to come back"
    assert finding_of(words, "deferred") == f"deferred: {words}"


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("open: cracked exhaust stud", "open: cracked exhaust stud"),
        ("Cleared:  cracked  stud", "cleared: cracked stud"),
        ("deferred until the annual: cracked stud", "deferred until the annual: cracked stud"),
        ("cracked exhaust stud", "open: cracked exhaust stud"),  # the safe one
        ("opened the cowl: a mouse", "open: opened the cowl: a mouse"),
    ],
)
def test_a_defect_is_typed_as_it_is_shown(typed, value):
    assert KINDS["defect"].parse(typed) == value


@pytest.mark.parametrize(
    "typed", ["", "open:", "cleared it", "deferred until June", "open until x: y"]
)
def test_what_is_no_defect_is_one_clear_line(typed):
    with pytest.raises(InputError) as caught:
        KINDS["defect"].parse(typed)
    assert "\n" not in str(caught.value)


@given(
    st.text(st.characters(categories=("L", "N")), min_size=1, max_size=12),
    st.sampled_from(STATES),
)
def test_what_is_shown_reads_back_as_the_same(word, state):
    made = finding_of(f"crack at {word} end", state)
    kind = KINDS["defect"]
    assert kind.parse(kind.show(made)) == made
    assert kind.load(kind.store(made)) == made
    assert told(made).state == state


def test_two_findings_of_one_memo_stay_two(catalogue):
    drafts = [
        said("open: cracked stud", 1),
        said("open: chafed hose", 9),
        said("bulb", 20, "remark"),
    ]
    assert [d.value for d in fuse(drafts, catalogue)] == [d.value for d in drafts]


def test_one_finding_told_in_two_memos_is_one_with_two_witnesses(catalogue):
    drafts = [said("open: cracked stud", 1), said("open: Cracked stud.", 5, media="memo_2.wav")]
    (made,) = fuse(drafts, catalogue)
    assert {made.media, *(e.media for e in made.also)} == {"memo.wav", "memo_2.wav"}


def test_one_finding_told_with_two_states_is_doubted(catalogue):
    drafts = [
        said("open: cracked stud", 1),
        said("deferred until June: cracked stud", 5, media="memo_2.wav"),
    ]
    (made,) = fuse(drafts, catalogue)
    assert made.doubts
    assert made.alternatives


def test_a_faint_finding_is_no_other_reading_of_another(catalogue):
    one, other = said("open: cracked stud", 1), said("open: chafed hose", 9)
    assert _beside(one, [other], catalogue) == one
    assert _beside(one, [replace(one, value="open: cracked stub")], catalogue).doubts


def test_drafts_of_one_stretch_are_one_thing_and_others_are_not():
    one = said("open: cracked stud", 10)
    assert one_thing(one, replace(one, value="open: cracked stud on three", end=14.0))
    assert not one_thing(one, said("open: chafed hose", 14))
