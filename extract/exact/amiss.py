"""Words beside a part number that may be letters of it, misheard: *fox truck tango nine hundred*.

A code that lost a letter looks as whole as any other. So what stands beside it is looked at: a word
that sounds like one of the spelling alphabet, or a letter that goes on with nothing.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache

from extract.words.lists import table
from extract.words.parts import STRONG, Part

_NEAR = 3  # words before a code among which a letter stands alone
# How alike (Jaro-Winkler) a word is to one of the alphabet: *charly* 0.91, *fox truck* 0.87; but
# *number* 0.78 to november, which stands before most codes. Our own choice.
_ALIKE = 0.8
_LEAST = 4  # letters of a word that is compared
_NO_LETTER = frozenset("aio") | frozenset("psn")  # words, and what *P N* and *S N* are spelled with


SOUND_ALIKE = "some letters and figures sound alike; compare it with the part"
ARTICLE = "the A before the dash may be no letter of it"
LEFT_OUT = "a word beside it may be one of its letters; compare it with the part"


def amiss(parts: Sequence[Part], start: int, end: int, *, sounds: bool) -> str:
    """Give the doubt that the sound of a code leaves, or nothing; `sounds`: a letter as a word."""
    if sounds or _is_kilo(parts, start):
        return SOUND_ALIKE
    if _is_article(parts, start):
        return ARTICLE
    return LEFT_OUT if beside_letters(parts, start, end) else ""


def kilo(parts: Sequence[Part], start: int, text: str) -> list[str]:
    """Give a code that begins with *K oh* as it is where that was *kilo*."""
    return ["k" + text[2:]] if _is_kilo(parts, start) else []


def otherwise(parts: Sequence[Part], start: int, text: str, *, letters: bool) -> list[str]:
    """Give what else a code may be: *dash W seven* for *dash double seven*, *a dash* and a number.

    `letters` says that single letters were spelled in it.
    """
    doubled = re.sub(r"w(\d)", r"\1\1", text) if letters else text
    names = [doubled] if doubled != text else []
    return [*names, text[1:]] if _is_article(parts, start) else names


def _is_article(parts: Sequence[Part], start: int) -> bool:
    """Say whether a first *A* may be the article: where a sentence begins it is a capital too."""
    first = start == 0 or any(mark in STRONG for mark in parts[start - 1].after)
    said = [part.norm for part in parts[start : start + 2]]
    return first and said in (["a", "dash"], ["a", "hyphen"], ["a", "minus"])


def _is_kilo(parts: Sequence[Part], start: int) -> bool:
    return [part.norm for part in parts[start : start + 2]] in (["k", "oh"], ["k", "o"])


def beside_letters(parts: Sequence[Part], start: int, end: int) -> bool:
    """Tell whether right before or behind the parts of a code stands what may be a letter of it."""
    before: list[Part] = []
    for part in reversed(parts[max(0, start - _NEAR) : start]):
        if any(mark in STRONG for mark in part.after):
            break
        before.insert(0, part)
    if any(_alone(part.norm) for part in before):
        return True
    words = [part.norm for part in before[-2:]]
    if before and not before[-1].after and (_alike(words[-1]) or _alike("".join(words))):
        return True
    open_ = end < len(parts) and not parts[end - 1].after
    return open_ and _alike(parts[end].norm)


def _alone(norm: str) -> bool:
    return norm in table("spelled")["letters"] or (
        len(norm) == 1 and norm.isalpha() and norm not in _NO_LETTER
    )


@cache
def _alike(word: str) -> bool:
    import jellyfish

    if len(word) < _LEAST or not word.isalpha():
        return False
    letters = (one for one in table("spelled")["letters"] if len(one) >= _LEAST)
    return any(jellyfish.jaro_winkler_similarity(word, one) >= _ALIKE for one in letters)
