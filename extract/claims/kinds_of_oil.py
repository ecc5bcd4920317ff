"""The kind of oil that its commercial number tells: *W one hundred* is ashless dispersant."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from extract.talk.outline import Element
from extract.talk.statements import Statement
from extract.values.catalogue import Catalogue
from extract.words.lists import table
from extract.words.parts import Part

GRADE, KIND = "oil_grade", "oil_kind"
_LETTER = re.compile(r"^w-?(\d{2,3})$")
_SPOKEN = ("w", "double")


def kinds_of_oil(
    made: Sequence[Statement],
    elements: Sequence[Element],
    parts: Sequence[Part],
    catalogue: Catalogue,
) -> Iterator[Statement]:
    """State the kind beside each grade said by a commercial number with a W before it.

    Where the note states a kind of oil itself, that stands alone. A number without the W tells
    none: many leave the letter out, so that it would be a guess.
    """
    if KIND not in catalogue.fields or any(s.name == KIND for s in made):
        return
    for s in made:
        if s.name != GRADE:
            continue
        element = elements[s.element]
        first = parts[element.start].norm
        glued = _LETTER.match(first)
        numbers = table("spelled")["commercial"]
        told = (glued[1] in numbers) if glued else first in _SPOKEN
        if told and s.value in numbers.values():
            signs = {"chance": s.chance, "state": 1.0}
            one = Statement(
                KIND, table("spelled")["commercial_kind"]["w"], None, None, s.element, s.first,
                s.last, s.score, (), (), signs,
                trail=("rules: from the W before a commercial number",),
            )  # fmt: skip
            yield one.doubted("nobody said the kind; it is taken from the W before the number")
