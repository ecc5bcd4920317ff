"""Reading works in line with the words, also where nobody made an end to a sentence."""

from __future__ import annotations

import cProfile
from itertools import pairwise

import pytest

from extract.read import read_memo, read_sentence
from extract.talk.outline import LONGEST, Element, sentences

ROUND = (
    "tach reads two three four five point six and we put in seven and a quarter quarts of oil then "
    "torqued the filter to seventeen foot pounds and safetied it and number three cylinder "
    "compression was seventy four over eighty no leaks seen "
)
MOST = 2.3  # as much work for twice the words


def talk(words: int) -> str:
    said = ROUND.split()
    return " ".join((said * (words // len(said) + 1))[:words])


def work(act) -> int:
    """Count the calls of functions: what is done, whatever else the machine does meanwhile."""
    profile = cProfile.Profile()
    profile.runcall(act)
    return sum(one.callcount for one in profile.getstats())


@pytest.mark.parametrize("way", ["a sentence", "three hearings of a memo"])
def test_twice_the_words_take_twice_the_work(catalogue, heard, way):
    def read(words: int) -> int:
        text = talk(words)
        if way == "a sentence":
            return work(lambda: read_sentence(text, catalogue))
        hearings = [text, text.replace("seven", "eleven"), text.replace(" and ", " um ")]
        return work(lambda: read_memo(heard(*hearings), catalogue))

    read(40)  # what is made once
    counted = [read(words) for words in (580, 1160, 2320)]
    ratios = [after / before for before, after in pairwise(counted)]
    assert max(ratios) <= MOST, ratios


def test_talk_without_an_end_is_cut_where_a_clause_begins_and_loses_no_word():
    norms = ["oil", "leak", "nut", "and"] * 100
    elements = [Element(norm, i, i + 1) for i, norm in enumerate(norms)]
    cut = sentences(elements)
    assert [cut[0][0], *(b for _, b in cut)] == [*(a for a, _ in cut), len(elements)]
    assert max(b - a for a, b in cut) <= LONGEST
    assert {norms[a] for a, _ in cut[1:]} == {"and"}
    bare = [Element("oil", i, i + 1) for i in range(3 * LONGEST)]
    assert sentences(bare) == ((0, LONGEST), (LONGEST, 2 * LONGEST), (2 * LONGEST, 3 * LONGEST))
