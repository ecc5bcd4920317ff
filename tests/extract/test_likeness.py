"""The second reader. Its sentences here are invented and are none of those it was fitted on."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from extract.claims.likeness import NONE, chances, state_chances
from extract.read import read_sentence, statements_of
from extract.talk.statements import Page, page
from extract.values.catalogue import load

SENTENCES = Path(__file__).parents[2] / "models/recipes/reading/sentences.json"


def look(text: str) -> Page:
    return page(statements_of(text, load(), None)._.outline, load())


def number_in(text: str) -> dict[str, float]:
    found = look(text)
    return next(dict(c) for i in range(len(found.slots)) if (c := chances(found, i)))


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("I squeezed that filter up to seventeen foot pounds and left it.", "filter_torque"),
        ("The recording tach is sitting on one nine four four point six.", "tach_time"),
        ("Nose wheel took thirty two psi from the hand pump.", "tire_pressure"),
        ("My uncle paid forty dollars for that rag bag.", NONE),
        ("The maker's sheet wants no more than eighteen foot pounds on it.", NONE),
    ],
)
def test_a_number_is_taken_for_what_such_sentences_mostly_say(text: str, name: str):
    found = number_in(text)
    assert max(found, key=lambda n: found[n]) == name
    assert sum(found.values()) == pytest.approx(1)


def test_a_word_has_no_chances():
    found = look("Nothing to count here.")
    assert not any(chances(found, i) for i in range(len(found.slots)))


def test_states_are_told_from_their_denial():
    yes = state_chances(look("I have shut the quick drain myself."), 0)
    no = state_chances(look("Left that drain wide open for the night."), 0)
    assert yes["drain_closed True"] > no["drain_closed True"]
    assert no["drain_closed False"] > yes["drain_closed False"]


def test_no_sentence_here_was_fitted():
    fitted = {memo["words"] for memo in json.loads(SENTENCES.read_text("utf-8"))}
    mine = Path(__file__).read_text("utf-8")
    assert not [words for words in fitted if len(words.split()) > 4 and words in mine]


def test_what_hardly_is_said_of_a_field_stays_as_an_alternative_of_what_is():
    said = "Put six in, then another half quart after the run."
    (added,) = read_sentence(said, load())
    assert {str(added.value), *(str(a.value) for a in added.alternatives)} >= {"6", "0.5"}
    assert added.doubts


@pytest.mark.parametrize(
    ("behind", "doubted"), [("No, not so sure about that.", True), ("No drama there.", False)]
)
def test_words_that_may_take_a_statement_back_raise_a_doubt(behind: str, doubted: bool):
    (pressure,) = read_sentence(f"Oil pressure sixty psi. {behind}", load())
    assert ("what was said next may take it back" in pressure.doubts) is doubted


def test_a_field_that_was_never_shown_is_read_by_its_rules_alone(tmp_path: Path):
    own = tmp_path / "own.toml"
    own.write_text(
        '[brake_fluid]\nkind = "number"\nunit = "qt"\nunits = ["qt"]\nrange = ["0.25", "9"]\n'
        'label = "brake fluid"\nnames = ["brake fluid"]\n',
        "utf-8",
    )
    said = "Then, while he was away, brake fluid two quarts or so."
    (draft,) = read_sentence(said, load(own))
    assert (draft.name, draft.value) == ("brake_fluid", 2)
