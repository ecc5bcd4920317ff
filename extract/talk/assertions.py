"""What kind of statement words make, for what the trained reader was never shown.

The words are data (assertions.toml). What stands before a value in its clause may make it a limit
or deny it, what stands before it in its sentence a plan or a condition; a question and a story of
another time are whole sentences.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from extract.talk.outline import Element, clause_starts
from extract.words.lists import table

NEGATION = "negation"


@cache
def _rows(kind: str) -> tuple[tuple[str, ...], ...]:
    return tuple(tuple(row.split()) for row in table("assertions")[kind])


def kinds_over(elements: Sequence[Element], a: int, b: int, at: int) -> frozenset[str]:
    """Give what the words around element `at` of the sentence from `a` up to `b` make of it.

    Of: plan, condition, limit, history, question, negation; none of them is a thing done.
    """
    clause = max(start for start in clause_starts(elements, a, b) if start <= at)
    found = {kind for kind in ("plan", "condition") if _said(elements, kind, a, at)}
    found |= {kind for kind in ("limit", NEGATION) if _said(elements, kind, clause, at)}
    if _said(elements, "history", a, b):
        found.add("history")
    if "?" in elements[b - 1].after:
        found.add("question")
    return frozenset(found)


def _said(elements: Sequence[Element], kind: str, start: int, end: int) -> bool:
    norms = [element.norm for element in elements[start:end]]
    return any(
        tuple(norms[k : k + len(row)]) == row for row in _rows(kind) for k in range(len(norms))
    )
