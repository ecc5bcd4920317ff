"""Marks carried over to what was heard: the recipe's own alignment, and what it wrote."""

import importlib.util
import sys
from pathlib import Path

import pytest

RECIPE = Path(__file__).parents[2] / "models/recipes/reading"


@pytest.fixture(scope="module")
def recipe():
    sys.path.insert(0, str(RECIPE))
    try:
        spec = importlib.util.spec_from_file_location("heard", RECIPE / "heard.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        yield module
    finally:
        sys.path.remove(str(RECIPE))


def test_marks_lie_on_the_words_that_were_heard_in_their_place(recipe):
    said = "Put in {oil_added=7.25|seven and a quarter quarts}, {drain_closed=true|drain's shut}."
    heard = "Put in seven in a quarter warts, drains shut."
    assert recipe.carried(said, heard) == (
        "Put in {oil_added=7.25|seven in a quarter warts}, {drain_closed=true|drains shut}."
    )


@pytest.mark.parametrize("heard", ["filter is now safetied yet", "hello my dear old friend"])
def test_a_note_whose_no_was_lost_or_whose_words_are_gone_is_left_out(recipe, heard):
    with pytest.raises(recipe.LostError):
        recipe.carried("filter is {filter_safetied=false|not safetied} yet", heard)


def test_every_heard_note_reads_and_is_of_a_hand_that_is_there(recipe):
    hands = {file.stem for file in (RECIPE / "hands").glob("*.txt")}
    count = 0
    for hand, ear, level, line in recipe.read(RECIPE / "heard"):
        assert hand in hands
        assert ear in ("base-hangar", "base", "tiny.en")
        assert level is None or 3 <= level <= 25
        assert recipe.marks.note(line)["spans"] or "{" not in line
        count += 1
    assert count > 1500
