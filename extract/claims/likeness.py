"""A second reader: what a number or a sentence states, by likeness to sentences of known truth.

The rules read by what their writer knew. This reader knows no rule: regressions, fitted on
sentences of many speakers (`models/recipes/reading`), weigh the words around a number, and those of
a sentence. Where the two readers differ one of them is wrong: `extract.witness.risk` weighs that.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from itertools import pairwise
from typing import Any

from extract.exact.digits import Number
from extract.exact.quantities import Quantity
from extract.talk.outline import CODE, DATE, GRADE, NUMBER, OVER, RANGE, Slot
from extract.talk.statements import Page
from extract.words.lists import DATA

NONE = "none"
_THINGS = (NUMBER, OVER, RANGE, CODE, DATE, GRADE)
_BESIDE, _AHEAD = 4, 5
_THOUSAND = 1000
_ENDINGS = ("ing", "ed", "es", "s")


def chances(page: Page, i: int) -> Mapping[str, float]:
    """Give how likely the number, code, grade or date in a slot is each field's, or none's.

    The likelihoods add up to 1; the key of no field at all is `NONE`. A word has none of them.
    """
    if page.slots[i].norm not in _THINGS:
        return {}
    sums = _sums("numbers", features(page, i))
    most = max(sums.values())
    raised = {name: math.exp(s - most) for name, s in sums.items()}
    return {name: r / sum(raised.values()) for name, r in raised.items()}


def state_chances(page: Page, n: int) -> Mapping[str, float]:
    """Give how likely each state is stated in sentence `n`, by *name value* (`drain_closed True`).

    Each likelihood stands for itself: a sentence may state several, or none.
    """
    sums = _sums("states", state_features(page, n))
    return {name: 1 / (1 + math.exp(-s)) for name, s in sums.items()}


def _sums(which: str, found: Iterable[str]) -> dict[str, float]:
    classes, vocabulary, weights, bias = _fitted(which)
    rows = sorted({vocabulary[f] for f in found if f in vocabulary})
    sums = bias + weights[rows].sum(axis=0, dtype="float32")
    return dict(zip(classes, sums.tolist(), strict=True))


@cache
def _fitted(which: str) -> tuple[list[str], dict[str, int], Any, Any]:
    """Load classes, features, weights (features, classes) and bias (classes,)."""
    import numpy as np

    with np.load(DATA / f"likeness_{which}.npz", allow_pickle=False) as kept:
        names = bytes(kept["features"]).decode().split("\n")
        classes = bytes(kept["classes"]).decode().split("\n")
        return classes, {f: n for n, f in enumerate(names)}, kept["weights"], kept["bias"]


def features(page: Page, i: int) -> Iterator[str]:
    """Give what stands around the thing in a slot, each as a short text."""
    slots = page.slots
    n = page.sentence(i)
    begin, end = page.bounds[n]
    yield f"kind {slots[i].norm}"
    what = slots[i].what
    if isinstance(what, Quantity):
        yield from _own(what, what.number)
    words = {k: stem(slots[k].norm) for k in range(begin, end)}
    left = [words.get(i - d, "^") for d in range(1, _BESIDE + 1)]
    right = [words.get(i + d, "$") for d in range(1, _BESIDE + 1)]
    yield from (f"l{d} {word}" for d, word in enumerate(left))
    yield from (f"r{d} {word}" for d, word in enumerate(right))
    yield f"ll {left[1]} {left[0]}"
    yield f"rr {right[0]} {right[1]}"
    first, last = _clause(slots, i, begin, end)
    for k in range(begin, end):
        if k == i:
            continue
        side = "before" if k < i else "behind"
        yield f"{side} {words[k]}" if first <= k <= last else f"far {side} {words[k]}"
        yield f"any {words[k]}"
        if k + 1 < end and k + 1 != i:
            yield f"two {words[k]} {words[k + 1]}"
    if n:
        earlier = {stem(slots[k].norm) for k in range(*page.bounds[n - 1])}
        yield from (f"earlier {word}" for word in earlier)
        if end - begin <= _BESIDE:  # a short sentence hangs on the one before
            yield from (f"hangs on {word}" for word in earlier)
    if n + 1 < len(page.bounds):
        start, stop = page.bounds[n + 1]
        yield from (f"next {stem(slots[k].norm)}" for k in range(start, min(stop, start + _AHEAD)))
    yield f"length {min(5, (end - begin) // 3)}"


def state_features(page: Page, n: int) -> Iterator[str]:
    """Give what a sentence says, and what stands before and behind it, each as a short text."""
    slots = page.slots
    begin, end = page.bounds[n]
    said = [slots[k].norm for k in range(begin, end)]
    stems = [stem(word) for word in said]
    yield from (f"stem {word}" for word in stems)
    yield from (f"word {word}" for word in said)
    yield from (f"two {a} {b}" for a, b in pairwise(said))
    yield from (f"three {a} {b} {c}" for a, b, c in zip(said, said[1:], said[2:], strict=False))
    yield from (f"skip {a} {b}" for a, b in zip(stems, stems[2:], strict=False))
    yield f"first {' '.join(said[:1])}"
    yield f"firsts {' '.join(said[:2])}"
    yield f"mark {slots[end - 1].after[-1:]}"
    if n:
        start, stop = page.bounds[n - 1]
        yield from (f"earlier {stem(slots[k].norm)}" for k in range(start, stop))
        yield f"earlier mark {slots[stop - 1].after[-1:]}"
    if n + 1 < len(page.bounds):
        start, stop = page.bounds[n + 1]
        yield from (f"next {stem(slots[k].norm)}" for k in range(start, min(stop, start + _AHEAD)))
    yield f"length {min(6, len(said) // 3)}"


def _own(quantity: Quantity, number: Number) -> Iterator[str]:
    """Give what the number itself tells: unit, size, way of saying."""
    unit, value = quantity.unit.name if quantity.unit else NONE, number.value
    if unit == NONE and value >= _THOUSAND and value % _THOUSAND == 0:
        unit, value = "thou", value / _THOUSAND  # the last sound of *thousandths* is often lost
    size = int(2 * math.log10(value)) if value > 0 else -9
    yield from (f"unit {unit}", f"size {size}", f"unit {unit} size {size}")
    yield from (f"style {number.style}", f"point {number.point}")
    if quantity.unit is None and number.style != "fraction":
        yield f"figures {len(number.digits.replace('.', ''))}"


def _clause(slots: tuple[Slot, ...], i: int, begin: int, end: int) -> tuple[int, int]:
    """Give the first and last slot between the pauses around a slot."""
    first = last = i
    while first > begin and not slots[first - 1].after:
        first -= 1
    while last < end - 1 and not slots[last].after:
        last += 1
    return first, last


def stem(word: str) -> str:
    """Cut the ending that number and tense give a word, roughly."""
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) > len(ending) + 3:
            return word[: -len(ending)]
    return word
