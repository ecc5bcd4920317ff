from __future__ import annotations

import pytest

from extract.read import read_sentence


@pytest.mark.parametrize("following", ["No metal in the pleats.", "No leaks."])
def test_a_no_of_the_next_statement_takes_nothing_back(catalogue, following):
    said = f"Filter is safety wired. Cut the old filter open. {following}"
    opened = next(d for d in read_sentence(said, catalogue) if d.name == "filter_opened")
    assert opened.doubts == ()


def test_a_no_that_nothing_explains_raises_the_doubt(catalogue):
    said = "Filter is safety wired. Cut the old filter open. No, not so sure about that one."
    (found,) = (d for d in read_sentence(said, catalogue) if d.name == "filter_opened")
    assert found.doubts
