"""Reading takes time in line with the words, also where nobody made an end to a sentence."""

from __future__ import annotations

import time

import pytest

from extract.read import read_memo, read_sentence
from extract.talk.outline import LONGEST, Slot, sentences

ROUND = (
    "tach reads two three four five point six and we put in seven and a quarter quarts of oil then "
    "torqued the filter to seventeen foot pounds and safetied it and number three cylinder "
    "compression was seventy four over eighty no leaks seen "
)
MOST = 2.3  # as much for twice the words
TRIES = 3


def talk(words: int) -> str:
    said = ROUND.split()
    return " ".join((said * (words // len(said) + 1))[:words])


def seconds(act) -> float:
    begin = time.process_time()
    act()
    return time.process_time() - begin


@pytest.mark.parametrize("way", ["a sentence", "three hearings of a memo"])
def test_twice_the_words_take_twice_the_time(catalogue, heard, way):
    def read(words: int) -> float:
        text = talk(words)
        if way == "a sentence":
            return seconds(lambda: read_sentence(text, catalogue))
        hearings = [text, text.replace("seven", "eleven"), text.replace(" and ", " um ")]
        return seconds(lambda: read_memo(heard(*hearings), catalogue))

    read(40)  # what is made once
    # other work on the machine can only add to a time: the best of three tells what reading takes
    ratios = []
    while len(ratios) < TRIES and not (ratios and min(ratios) <= MOST):
        ratios.append(read(1160) / read(580))
    assert min(ratios) <= MOST, ratios


def test_talk_without_an_end_is_cut_where_a_clause_begins_and_loses_no_word():
    norms = ["oil", "leak", "nut", "and"] * 100
    slots = [Slot(norm, i, i + 1) for i, norm in enumerate(norms)]
    cut = sentences(slots)
    assert [cut[0][0], *(b for _, b in cut)] == [*(a for a, _ in cut), len(slots)]
    assert max(b - a for a, b in cut) <= LONGEST
    assert {norms[a] for a, _ in cut[1:]} == {"and"}
    bare = [Slot("oil", i, i + 1) for i in range(3 * LONGEST)]
    assert sentences(bare) == ((0, LONGEST), (LONGEST, 2 * LONGEST), (2 * LONGEST, 3 * LONGEST))
