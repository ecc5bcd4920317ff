"""A note reduced to what matters: words, and one symbol for each number, date, grade or code.

Cues are rows of words matched over this outline, so that *put in seven and a quarter quarts* and
*put in six quarts* are one pattern, `put in #`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from extract.exact.reading import Candidate
from extract.words.parts import STRONG, Part

NUMBER, OVER, DATE, GRADE, CODE = "#", "#over", "#date", "#grade", "#code"
VALUES = (NUMBER, OVER, DATE, GRADE, CODE)
_TURNS = ("but", "so", "because", "although", "which", "then")


@dataclass(frozen=True, slots=True)
class Element:
    """One symbol or word of the outline, and the parts from `start` up to `end` that it stands for.

    `what` is the candidate behind a symbol.
    """

    norm: str
    start: int
    end: int
    after: str = ""
    what: Candidate | None = None


def outline(parts: Sequence[Part], chosen: Iterable[Candidate]) -> tuple[Element, ...]:
    """Reduce parts to elements: one for each candidate chosen, one for each part beside them."""
    starts = {candidate.start: candidate for candidate in chosen}
    made: list[Element] = []
    at = 0
    while at < len(parts):
        found = starts.get(at)
        if found is None:
            made.append(Element(parts[at].norm, at, at + 1, parts[at].after))
        else:
            made.append(Element(_symbol(found), at, found.end, parts[found.end - 1].after, found))
        at = made[-1].end
    return tuple(made)


def _symbol(candidate: Candidate) -> str:
    first = candidate.readings[0]
    if first.kind == "number":
        return NUMBER if first.over is None else OVER
    return f"#{first.kind}"


LONGEST = 120
"""The most elements of one sentence. People take breath sooner; common practice, no source."""
_BREATHS = ("and", "then", "so", "but", "now", "okay")


def sentences(elements: Sequence[Element | Part]) -> tuple[tuple[int, int], ...]:
    """Cut elements, or parts, where sentences end: (the first, the one behind the last).

    Talk in which no end was heard is cut where a clause begins, at the latest after `LONGEST`
    elements: what is said of a number stands near it, and the work grows with the words.
    """
    made, start = [], 0
    for i, element in enumerate(elements):
        if any(mark in STRONG for mark in element.after) or i == len(elements) - 1:
            made.append((start, i + 1))
            start = i + 1
        elif i + 1 - start == LONGEST:
            cut = _breath(elements, start + LONGEST // 2, i + 1)
            made.append((start, cut))
            start = cut
    return tuple(made)


def _breath(elements: Sequence[Element | Part], start: int, end: int) -> int:
    """Give the last element between two at which a clause begins; the second where none does."""
    for i in range(end, start, -1):
        if elements[i - 1].after or (i < len(elements) and elements[i].norm in _BREATHS):
            return i
    return end


def clause_starts(elements: Sequence[Element], start: int, end: int) -> tuple[int, ...]:
    """Give the elements at which a clause of a sentence begins: behind a pause or joining word."""
    found = [start]
    for i in range(start + 1, end):
        before = elements[i - 1]
        joined = before.norm in ("and", "but", "so", "then", "because")
        if before.after or joined or elements[i].norm in _TURNS:
            found.append(i)
    return tuple(found)
