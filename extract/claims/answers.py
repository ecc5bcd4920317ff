"""States given as an answer, as in *Drain closed? It is.* or *Leaks? None.*: both are read.

The question, or the heading, says which state; the yes or no behind it says how it is.
"""

from __future__ import annotations

from collections.abc import Iterator

from extract.claims.subjects import Owners, subject_owners
from extract.claims.truths import claims, stated
from extract.talk.assertions import Judgement
from extract.talk.outline import Cue
from extract.talk.statements import Page, Statement
from extract.values.catalogue import Catalogue, Field

_ASKS_WHAT_TO_DO = ("should", "shall", "will", "can", "could", "would", "must", "may")
_LIGHT = ("as", "the", "a", "an", "any", "and", "so", "on", "for", "of", "my", "our", "oil")
_LONGEST = 8  # words of a question besides the name of the state


def read_answers(page: Page, judged: Judgement, catalogue: Catalogue) -> tuple[Statement, ...]:
    """Read every state that a question or a heading names and the next words affirm or deny."""
    owners = subject_owners(page, catalogue)
    made: list[Statement] = []
    for (start, end), answer in _askers(page, judged):
        if judged.statuses(answer.start, answer.end) & {"plan", "history", "question", "limit"}:
            continue
        asked = [_asked(page, field, start, end, owners) for field in catalogue.fields.values()]
        named = [a for a in asked if a is not None]
        best = max((size for _, size, _ in named), default=0)
        for field, size, good in named:
            value = _value(field, (answer.kind == "yes") == good)
            if size == best and value is not None:
                made.append(stated(page, field, value, answer.start, start, answer.end, 1.8))
    return tuple(made)


def _askers(page: Page, judged: Judgement) -> Iterator[tuple[tuple[int, int], Cue]]:
    """Give each stretch that is answered, and its answer."""
    for answer in judged.answers:
        if answer.start == 0:
            continue
        before = page.slots[answer.start - 1]
        n = page.sentence(answer.start - 1)
        start = page.bounds[n][0]
        if "?" in before.after:
            words = [s.norm for s in page.slots[start : start + 2]]
            asks = words[0] in _ASKS_WHAT_TO_DO or (words[0] == "do" and words[1:] != ["the"])
            if not asks and "plan" not in judged.statuses(start, answer.start):
                yield (start, answer.start), answer
        elif before.after:
            while (cut := _pause(page, start, answer.start - 1)) is not None:
                start = cut + 1
            yield (start, answer.start), answer


def _pause(page: Page, start: int, end: int) -> int | None:
    return next((k for k in range(start, end) if page.slots[k].after), None)


def _asked(
    page: Page, field: Field, start: int, end: int, owners: Owners
) -> tuple[Field, int, bool] | None:
    """Say whether a stretch asks for a field: the words that name it, and whether yes is good."""
    n = page.sentence(start)
    question = "?" in page.slots[end - 1].after
    if field.kind == "truth" and question:
        said = claims(page, field, n, owners)
        if said:
            return None if any(not c.value for c in said) else (field, 20, True)
    names = [
        c
        for c in page.cues[n]
        if c.owner == field.name
        and c.kind in ("heads", "faults")
        and start <= c.start < c.end <= end
    ]
    if not names:
        return None
    name = max(names, key=lambda c: c.end - c.start)
    rest = [s.norm for s in (*page.slots[start : name.start], *page.slots[name.end : end])]
    if len(rest) > _LONGEST or (not question and any(word not in _LIGHT for word in rest)):
        return None
    return field, name.end - name.start, name.kind == "heads"


def _value(field: Field, good: bool) -> bool | str | None:
    if field.kind == "truth":
        return good
    if good:
        return field.choices[0]
    return field.choices[1] if len(field.choices) == 2 else None
