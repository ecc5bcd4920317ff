"""Several hearings of one memo: agreement, doubt, alternatives, words read back by their sound."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from capture.observed import Hearing, Instant, Transcript, Word
from extract.read import AHEAD, LONG_AGO, read_memo, read_sentence
from extract.values.catalogue import Catalogue, load
from extract.values.draft import Draft
from extract.values.known import NOTHING, Known

BEGAN = Instant(datetime(2026, 3, 14, 9, 0, tzinfo=UTC), "exif")


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load()


def heard(text: str, model: str = "base", probability: float = 0.95) -> Hearing:
    """Make one hearing of a sentence, a word every 0.4 s."""
    words = [
        Word(word, 0.4 * n, 0.4 * n + 0.38, probability) for n, word in enumerate(text.split())
    ]
    return Hearing(model, "test", tuple(words))


def memo(*hearings: Hearing) -> Transcript:
    return Transcript("memo.wav", 60.0, hearings, ((0.0, 60.0),), BEGAN)


def only(drafts: tuple[Draft, ...], name: str) -> Draft:
    found = [d for d in drafts if d.name == name]
    assert len(found) == 1, [d.name for d in drafts]
    return found[0]


def test_two_models_that_agree_leave_no_doubt(catalogue: Catalogue):
    text = "The filter is torqued to seventeen foot pounds."
    draft = only(read_memo(memo(heard(text), heard(text, "tiny.en")), catalogue), "filter_torque")
    assert draft.value == 17
    assert draft.doubts == ()
    assert draft.confidence > 0.9


def test_times_span_the_words_and_the_clock_is_that_of_the_memo(catalogue: Catalogue):
    text = "Good morning. Tach is two three four five point six."
    draft = only(read_memo(memo(heard(text), heard(text, "tiny.en")), catalogue), "tach_time")
    assert draft.start == pytest.approx(0.8)
    assert draft.end == pytest.approx(0.4 * 9 + 0.38)
    assert draft.said_at is not None
    assert (draft.said_at - BEGAN.at).total_seconds() == pytest.approx(0.8)


def test_models_that_differ_give_one_draft_with_both_values_and_a_doubt(catalogue: Catalogue):
    one, two = "Oil pressure is seventy psi.", "Oil pressure is seventeen psi."
    draft = only(read_memo(memo(heard(one), heard(two, "tiny.en")), catalogue), "oil_pressure")
    assert draft.doubts
    assert {draft.value, *(a.value for a in draft.alternatives)} == {Decimal(70), Decimal(17)}


def test_a_value_that_one_model_alone_heard_is_doubted_or_dropped(catalogue: Catalogue):
    one, two = "Battery is twelve point six volts.", "But a week of tall folks."
    drafts = read_memo(memo(heard(one), heard(two, "tiny.en")), catalogue)
    assert all(d.doubts for d in drafts)


@pytest.mark.parametrize(
    ("text", "name", "value"),
    [
        ("The tack reads two three four five point six.", "tach_time", "2345.6"),
        ("Twenty nine seventy three point four for the house.", "hour_meter_time", "2973.4"),
        ("Filter was talked to seventeen foot pounds.", "filter_torque", "17"),
        ("I put in seven ports.", "oil_added", "7"),
        ("The wire is thirty two thousand.", "lockwire_diameter", "0.032"),
    ],
)
def test_trade_words_are_read_back_by_their_sound(
    catalogue: Catalogue, text: str, name: str, value: str
):
    draft = only(read_memo(memo(heard(text), heard(text, "tiny.en")), catalogue), name)
    assert draft.value == Decimal(value)


def test_a_phrase_of_the_trade_that_was_heard_whole_is_not_read_back_by_its_first_word(
    catalogue: Catalogue,
):
    text = "The filter is safety wired"
    draft = only(read_memo(memo(heard(text), heard(text, "tiny.en")), catalogue), "filter_safetied")
    assert draft.heard == text


def test_typed_words_are_never_read_back(catalogue: Catalogue):
    assert read_sentence("The house is two three four five point six.", catalogue) == ()


@pytest.mark.parametrize(
    ("day", "doubts"),  # recorded on 14 March 2026
    [
        ("tenth of March twenty twenty-six", ()),
        ("twentieth of March twenty twenty-six", (AHEAD,)),
        ("tenth of March twenty twenty", (LONG_AGO,)),
    ],
)
def test_a_day_of_work_to_come_or_long_gone_is_doubted(
    catalogue: Catalogue, day: str, doubts: tuple[str, ...]
):
    text = f"Service date is {day}."
    draft = only(read_memo(memo(heard(text), heard(text, "tiny.en")), catalogue), "service_date")
    assert draft.doubts == doubts


def test_ordinary_talk_of_such_words_gives_nothing(catalogue: Catalogue):
    text = "They talked at the house about the ports and the tax, catch you at four."
    assert read_memo(memo(heard(text), heard(text, "tiny.en")), catalogue) == ()


def test_silence_gives_nothing(catalogue: Catalogue):
    assert read_memo(Transcript("memo.wav", 5.0, ()), catalogue) == ()
    assert read_memo(memo(Hearing("base", "test", ())), catalogue) == ()


def test_a_first_figure_heard_as_to_is_put_back_with_a_doubt(catalogue: Catalogue):
    text = "Tach reads to three four five point six."
    draft = only(read_memo(memo(heard(text), heard(text, "tiny.en")), catalogue), "tach_time")
    assert draft.value == Decimal("2345.6")
    assert draft.doubts
    assert Decimal("345.6") in [a.value for a in draft.alternatives]


def test_what_is_known_chooses_among_what_was_heard_and_says_so(catalogue: Catalogue):
    one, two = "Tach reads three four five point six.", "Tach reads two three four five point six."
    known = Known(last_tach=Decimal("2298.1"))
    draft = only(read_memo(memo(heard(one), heard(two, "tiny.en")), catalogue, known), "tach_time")
    assert draft.value == Decimal("2345.6")
    assert draft.doubts


@pytest.mark.parametrize("last", ["2298.1", "100", "9000"])
def test_what_is_known_never_makes_a_value_that_nobody_said(catalogue: Catalogue, last: str):
    text = "Tach reads one eight four four point two."
    known = Known(last_tach=Decimal(last))
    drafts = read_memo(memo(heard(text), heard(text, "tiny.en")), catalogue, known)
    assert only(drafts, "tach_time").value == Decimal("1844.2")


def test_a_limit_in_one_hearing_is_no_value(catalogue: Catalogue):
    one = "The spec is eighteen foot pounds on the filter."
    two = "The speck is eighteen foot pounds on the filter."
    drafts = read_memo(memo(heard(one), heard(two, "tiny.en")), catalogue, NOTHING)
    assert all(d.doubts for d in drafts)


def test_a_date_without_its_year_takes_that_of_the_memo_with_a_doubt(catalogue: Catalogue):
    text = "Today is the fourteenth of March."
    draft = only(read_memo(memo(heard(text), heard(text, "tiny.en")), catalogue), "service_date")
    assert str(draft.value) == "2026-03-14"
    assert draft.doubts


@pytest.mark.parametrize("dissenter", [0, 1, 2])
def test_one_model_of_three_that_hears_another_number_is_a_doubt(
    catalogue: Catalogue, dissenter: int
):
    said = ["Got about five quarts out."] * 3
    said[dissenter] = "Got about nine quarts out."
    models = ("base-hangar", "base", "tiny.en")
    hearings = [heard(text, model) for text, model in zip(said, models, strict=True)]
    draft = only(read_memo(memo(*hearings), catalogue), "oil_drained")
    assert draft.value == 5
    assert any("9 qt" in doubt for doubt in draft.doubts)
    assert [a.value for a in draft.alternatives] == [9]


@pytest.mark.parametrize(("figures", "doubted"), [("174", False), ("175", True)])
def test_figures_that_run_a_cylinder_and_its_reading_together_are_no_other_value(
    catalogue: Catalogue, figures: str, doubted: bool
):
    said = heard("Compressions number one seventy four over eighty.")
    ran = (*said.words[:2], Word(figures, 0.8, 1.96, 0.95), *said.words[5:])
    other = Hearing("moonshine", "test", ran)
    told = memo(said, heard(said.text, "tiny.en"), other)
    draft = only(read_memo(told, catalogue), "cylinder_compression")
    assert (draft.value, draft.position) == (74, 1)
    assert bool(draft.doubts) is doubted
    assert [str(a.value) for a in draft.alternatives] == ["175"] * doubted
    # alone it is no reading of that cylinder
    assert not [d for d in read_memo(memo(other), catalogue) if d.value == 74]


@pytest.mark.parametrize(("figures", "doubted"), [("352-7.1.", False), ("352-9.1.", True)])
def test_a_number_that_one_model_writes_in_pieces_is_no_other_number(
    catalogue: Catalogue, figures: str, doubted: bool
):
    said = heard("Tach time is three five two seven point one.")
    pieces = (*said.words[:3], Word(figures, said.words[3].start_s, said.words[-1].end_s, 0.95))
    told = memo(said, heard(said.text, "tiny.en"), Hearing("moonshine", "test", pieces))
    draft = only(read_memo(told, catalogue), "tach_time")
    assert draft.value == Decimal("3527.1")
    assert bool(draft.doubts) is doubted


def test_a_figure_said_twice_that_two_models_pass_over_is_no_shorter_number(catalogue: Catalogue):
    said = heard("Tach four four three three decimal eight.", "base-hangar")
    first, _, *rest = said.words[1:]
    once = (said.words[0], Word("four", first.start_s, first.end_s + 0.4, 0.95), *rest)
    others = (Hearing("tiny.en", "test", once), Hearing("moonshine", "test", once))
    draft = only(read_memo(memo(said, *others), catalogue), "tach_time")
    assert draft.value == Decimal("4433.8")
    assert any("433.8" in doubt for doubt in draft.doubts)
    assert [a.value for a in draft.alternatives] == [Decimal("433.8")]


@pytest.mark.parametrize(("left", "doubted"), [("thirty", True), ("twenty-nine", False)])
def test_thirty_two_beside_a_thirty_may_have_been_thirty_too(
    catalogue: Catalogue, left: str, doubted: bool
):
    text = f"Tire pressures, left main is {left} psi and right main is thirty-two psi."
    drafts = read_memo(memo(heard(text), heard(text, "tiny.en")), catalogue)
    (right,) = [d for d in drafts if d.name == "tire_pressure" and d.position == "right"]
    assert right.value == 32
    assert bool(right.doubts) is doubted
    assert [a.value for a in right.alternatives] == [30] * doubted


@pytest.mark.parametrize(("thou", "doubted"), [("thirty-two", False), ("forty-two", True)])
def test_a_size_of_wire_that_nobody_makes_is_doubted_though_all_heard_it(
    catalogue: Catalogue, thou: str, doubted: bool
):
    """Sizes by the table of twists in NASM33540; a voice was heard so by two models."""
    said = f"Wired the filter. Used {thou} thou safety wire."
    draft = only(
        read_memo(memo(heard(said), heard(said, "tiny.en")), catalogue), "lockwire_diameter"
    )
    assert bool([d for d in draft.doubts if "no usual size" in d]) is doubted


@pytest.mark.parametrize("first", ["", "we are done here"])
def test_what_others_heard_where_the_first_hearing_has_nothing_is_doubted(
    catalogue: Catalogue, first: str
):
    said = "Six and a half quarts of oil added."
    before = tuple(Word(w, 0.1 * n, 0.1 * n + 0.1, 0.9) for n, w in enumerate(first.split()))
    later = tuple(replace(w, start_s=w.start_s + 5, end_s=w.end_s + 5) for w in heard(said).words)
    others = (Hearing("moonshine-hangar", "test", later), Hearing("moonshine", "test", later))
    told = memo(Hearing("base-hangar", "test", before), *others)
    draft = only(read_memo(told, catalogue), "oil_added")
    assert draft.value == Decimal("6.5")
    assert [d for d in draft.doubts if "first listening heard nothing" in d]
    whole = memo(Hearing("base-hangar", "test", later), *others)
    assert only(read_memo(whole, catalogue), "oil_added").doubts == ()
