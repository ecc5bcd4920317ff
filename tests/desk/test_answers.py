"""A value said by itself settles what was asked about, and nothing else."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from capture.observed import Hearing, Instant, PhotoText, Reading, Transcript, Word
from desk import drafting
from desk.answers import BY_ITSELF, WHICH
from desk.opening import Opened
from desk.settings import load
from extract.settle.answers import NEITHER, bare
from extract.values.draft import SAID_BEFORE
from tests.desk.page.conftest import open_home

NOON = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
STEP = 0.3  # seconds of a word


def words(text, at=0.0):
    return [Word(w, at + i * STEP, at + (i + 0.9) * STEP) for i, w in enumerate(text.split())]


def memo(*phrases, at=0.0, name=None):
    """A memo that begins `at` seconds after noon.

    A phrase is (second, text) or (second, text, text of a second hearing).
    """
    hearings = []
    for number, model in enumerate(("first", "second")):
        said = [w for s, *texts in phrases for w in words(texts[min(number, len(texts) - 1)], s)]
        hearings.append(Hearing(model, "", tuple(said)))
    speech = tuple((s, s + len(texts[0].split()) * STEP) for s, *texts in phrases)
    began = Instant(NOON + timedelta(seconds=at), "name", 1.0)
    name = name or f"memo {at:.0f}.wav"
    return Transcript(name, speech[-1][1] + 2.0, tuple(hearings), speech, began)


@pytest.fixture
def read(tmp_path):
    """Give the drafts of memos and photos by their field and place, as the intake makes them."""
    here = open_home(tmp_path / "home")
    with (tmp_path / "home" / "aircraft.toml").open("a", encoding="utf-8") as profile:
        profile.write("filter_torque = [16, 18]\n")
    here = Opened(load(tmp_path / "home", {}), here.catalogue, here.store)

    def of(*coming):
        with here.store.session(write=False) as session:
            made = drafting.of_media(session, None, [], here.settings, here.catalogue, coming)
        return {d.slot: d for d in made}

    yield of
    here.store.close()


TORQUE = ("filter_torque", None)
ASKED = (
    0.0,
    "torqued the filter to seventeen foot pounds",
    "torqued the filter to seventy foot pounds",
)
PRESSURE = (4.0, "oil pressure is seventeen psi", "oil pressure is seventy psi")


def test_the_question_is_one_without_an_answer(read):
    asked = read(memo(ASKED))[TORQUE]
    assert asked.doubts
    assert {asked.value, *(a.value for a in asked.alternatives)} == {Decimal(17), Decimal(70)}


@pytest.mark.parametrize(
    "said", ["seventeen", "one seven", "negative, seventeen", "17.", "seventeen it is"]
)
def test_a_bare_answer_settles_what_was_asked(read, said):
    settled = read(memo(ASKED), memo((0.5, said), at=12))[TORQUE]
    assert (settled.value, settled.media) == (Decimal(17), "memo 12.wav")
    assert settled.doubts == ()
    assert settled.heard == said
    assert settled.start == 0.5
    assert settled.said_at == NOON + timedelta(seconds=12.5)
    # what was said before stays beside it
    assert [e.media for e in settled.also] == ["memo 0.wav"]


def test_the_other_reading_replaces_what_was_thought(read):
    settled = read(memo(ASKED), memo((0.5, "seventy it is"), at=12))[TORQUE]
    assert settled.value == Decimal(70)
    assert [a.why for a in settled.alternatives if a.value == Decimal(17)] == [SAID_BEFORE]
    # it is beyond what the profile allows, and that is doubted as ever
    assert any("16 to 18" in doubt for doubt in settled.doubts), settled.doubts


def test_an_answer_in_the_same_memo_after_a_pause_is_one_too(read):
    settled = read(memo(ASKED, (6.0, "seventeen"), (10.0, "put in seven quarts of oil")))
    assert settled[TORQUE].value == Decimal(17)
    assert settled[TORQUE].doubts == ()
    assert settled[TORQUE].start == 6.0
    assert settled["oil_added", None].value == Decimal(7)


def test_an_answer_that_is_heard_in_two_ways_is_still_doubted(read):
    settled = read(memo(ASKED), memo((0.5, "seventeen", "seventy"), at=12))[TORQUE]
    assert any("the answer may also have been" in doubt for doubt in settled.doubts)
    assert {settled.value, *(a.value for a in settled.alternatives)} == {Decimal(17), Decimal(70)}


def test_another_value_that_the_field_can_have_is_taken_with_a_doubt(read):
    settled = read(memo(ASKED), memo((0.5, "eighteen"), at=12))[TORQUE]
    assert settled.value == Decimal(18)
    assert NEITHER in settled.doubts
    corrected = read(memo(ASKED), memo((0.5, "negative, eighteen"), at=12))[TORQUE]
    assert (corrected.value, corrected.doubts) == (Decimal(18), ())


def test_two_questions_that_it_could_answer_are_both_left_open(read):
    drafts = read(memo(ASKED, PRESSURE), memo((0.5, "seventeen"), at=16))
    for slot in (TORQUE, ("oil_pressure", None)):
        assert any(WHICH in doubt for doubt in drafts[slot].doubts), slot
        assert drafts[slot].media == "memo 0.wav"


def test_nothing_is_settled_where_nothing_was_asked(read):
    """A number with nothing to say what it is makes no draft (docs/fields.md)."""
    for said in ("seventeen", "seven and a quarter", "fifty", "one seven"):
        assert read(memo((0.5, said))) == {}
        oil = read(memo((0.0, "the drain plug is back in and wired")), memo((0.5, said), at=9))
        assert set(oil) == {("drain_closed", None)}


def test_a_sure_value_is_not_replaced_by_a_number_behind_it_but_doubted(read):
    """What was asked aloud came of a quicker hearing: the full ones may not have had the doubt."""
    sure = read(memo((0.0, "torqued the filter to seventeen foot pounds")))[TORQUE]
    assert sure.doubts == ()
    after = read(
        memo((0.0, "torqued the filter to seventeen foot pounds")), memo((0.5, "sixteen"), at=9)
    )[TORQUE]
    assert after.value == Decimal(17)
    assert any(BY_ITSELF in doubt for doubt in after.doubts)
    assert Decimal(16) in [a.value for a in after.alternatives]
    same = read(
        memo((0.0, "torqued the filter to seventeen foot pounds")), memo((0.5, "seventeen"), at=9)
    )[TORQUE]
    assert same.doubts == ()


def test_what_comes_too_late_settles_nothing(read):
    late = read(memo(ASKED), memo((0.5, "seventeen"), at=90))[TORQUE]
    assert late.media == "memo 0.wav"
    assert late.doubts


def test_a_photo_and_speech_that_differ_are_settled_by_an_answer(read):
    quad = ((0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0))
    seen = PhotoText(
        "IMG_1.jpg",
        (99, 99),
        "tach",
        (Reading("drum", "2346.2", quad, 0.98),),
        "test",
        Instant(NOON + timedelta(seconds=8), "exif"),
    )
    said = memo((0.0, "tach reads two three four six decimal seven"))
    tach = ("tach_time", None)
    assert any("differ" in doubt for doubt in read(said, seen)[tach].doubts)
    settled = read(said, seen, memo((0.5, "two three four six decimal two"), at=14))[tach]
    assert settled.value == Decimal("2346.2")
    assert settled.doubts == ()


def test_an_answer_can_be_put_right_by_the_next(read):
    memos = [memo(ASKED), memo((0.5, "seventy"), at=12), memo((0.5, "no, seventeen"), at=20)]
    settled = read(*memos)[TORQUE]
    assert (settled.value, settled.media, settled.doubts) == (Decimal(17), "memo 20.wav", ())


def test_a_code_is_answered_by_its_letters(read):
    part = ("filter_part_number", None)
    said = memo(
        (
            0.0,
            "new filter is x-ray quebec seven dash two two",
            "new filter is x-ray seven dash two two",
        )
    )
    assert read(said)[part].doubts
    settled = read(said, memo((0.5, "x-ray quebec seven dash two two"), at=12))[part]
    assert (settled.value, settled.media) == ("XQ7-22", "memo 12.wav")
    assert settled.doubts == ()


def test_a_list_of_places_goes_on_and_answers_nothing(read):
    """A value on a list is the next cylinder's, also where the one before is doubtful."""
    one = (0.0, "cylinder one seventy-four over eighty", "cylinder one seventy-five over eighty")
    drafts = read(memo(one), memo((0.5, "seventy-two over eighty"), at=9))
    first = drafts["cylinder_compression", 1]
    assert first.value in (Decimal(74), Decimal(75))
    assert first.media == "memo 0.wav"
    assert first.doubts


@pytest.mark.parametrize(
    "said", ["one moment", "okay", "put in seven quarts", "seventeen or seventy", "is it seventeen"]
)
def test_what_is_no_value_by_itself(read, said):
    from extract.values.catalogue import load

    found = bare(tuple(words(said)), load())
    assert found is None or said == "is it seventeen"
