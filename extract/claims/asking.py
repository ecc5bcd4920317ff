"""A value that answers the words before it: *How much came out? Seven*, *Pre-drain level. Six*."""

from __future__ import annotations

from extract.claims.amounts import value_of
from extract.exact.quantities import Quantity
from extract.talk.outline import VALUES, Cue, number_of
from extract.talk.statements import Page
from extract.values.catalogue import Field
from extract.words.lists import table

_FRAGMENT = 6  # words: so short a sentence without a value is the heading of the next
_GOES_ON = 1.4  # what a name in the sentence before weighs where a pronoun stands for it
_PRONOUNS = frozenset({"it", "that", "them", "they", "those", "this"})
_KINDS = {"asks": 2.3, "names": 1.9, "subjects": 1.5}
_LEAD = frozenset(table("words")["asking"]["lead"])
# An asking after what ought to be, or was once, is no asking after the value of today.
_NORM = frozenset(table("words")["asking"]["norm"])


def asked(page: Page, i: int, field: Field) -> tuple[Cue | None, float]:
    """Give the cue of a field in the question or heading that a number answers, and its weight."""
    n = page.sentence(i)
    number = number_of(page.slots[i])
    meter = field.decimals == 1 and number is not None and number.point
    answer = answers(page, i, meter)
    if not n or not (answer or _goes_on(page, i, field)):
        return None, 0.0
    best: tuple[Cue | None, float] = (None, 0.0)
    for cue in page.cues[n - 1]:
        if cue.owner == field.name and cue.kind in _KINDS:
            weight = _KINDS[cue.kind] + 0.05 * cue.literals if answer else _GOES_ON
            if not answer and cue.kind == "subjects":
                continue
            if weight > best[1]:
                best = (cue, weight)
    return best


def _goes_on(page: Page, i: int, field: Field) -> bool:
    """*Left main was flat. I've put it at thirty-five*: a pronoun for what was named before."""
    n = page.sentence(i)
    start = page.bounds[n][0]
    words = [s.norm for s in page.slots[start:i]]
    quantity = page.slots[i].what
    if len(words) > 7 or not _PRONOUNS & set(words) or set(words) & set(VALUES):
        return False
    if not isinstance(quantity, Quantity) or not field.plausible(value_of(field, quantity)[0]):
        return False
    a, b = page.bounds[n - 1]
    return not any(page.slots[k].norm in VALUES for k in range(a, b))


def answers(page: Page, i: int, meter: bool = False) -> bool:
    """Say whether a number opens its sentence, and the one before asks for it or announces it.

    No other number has the figures of a meter, so more may stand before it.
    """
    n = page.sentence(i)
    start = page.bounds[n][0]
    lead = [s.norm for s in page.slots[start:i]]
    if not n or set(lead) & set(VALUES) or len(lead) > (8 if meter else 4):
        return False
    if not meter and any(word not in _LEAD for word in lead):
        return False
    a, b = page.bounds[n - 1]
    words = [s.norm for s in page.slots[a:b]]
    if any(word in VALUES or word in _NORM for word in words):
        return False
    return "?" in page.slots[b - 1].after or len(words) <= _FRAGMENT


def phase(page: Page, i: int, field: Field) -> float:
    """Weigh what says when in the work a value was read: *before I drained it*, *once filled*."""
    if "phase" not in field.cues:
        return 0.0
    n = page.sentence(i)
    near = page.cues[n]
    if _points_back(page, n + 1):
        near = (*near, *page.cues[n + 1])
    if answers(page, i):
        near = (*page.cues[n - 1], *near)
    found = [c for c in near if c.owner == field.name and c.kind == "phase"]
    return max((_nearness(page, i, c) for c in found), default=0.0)


def _points_back(page: Page, n: int) -> bool:
    """*That's before I drain it*: the sentence speaks of the one before."""
    if n >= len(page.bounds):
        return False
    return page.slots[page.bounds[n][0]].norm in ("that", "this", "which")


def _nearness(page: Page, i: int, cue: Cue) -> float:
    """A phase belongs to the number nearest to it, and pauses count for words."""
    numbers = [k for k in range(*page.bounds[page.sentence(i)]) if page.slots[k].norm in VALUES]
    mine = _distance(page, i, cue)
    return 0.0 if any(_distance(page, k, cue) < mine for k in numbers) else 1.2


def _distance(page: Page, i: int, cue: Cue) -> int:
    low, high = (cue.end, i) if cue.end <= i else (i + 1, cue.start)
    pauses = sum(bool(page.slots[k].after) for k in range(low - 1, high))
    return max(0, high - low) + 4 * pauses
