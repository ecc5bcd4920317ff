"""A limit spoken beside a value: never the value itself, but a doubt where the value breaks it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from extract.claims.amounts import value_of
from extract.exact.quantities import Quantity
from extract.talk.assertions import Judgement
from extract.talk.outline import NUMBER, RANGE
from extract.talk.statements import Page, Statement
from extract.values.catalogue import Catalogue, Field

_TOP = (
    "max",
    "maximum",
    "most",
    "over",
    "exceed",
    "above",
    "tops",
    "limit",
    "more",
    "redline",
    "past",
)
_BOTTOM = ("min", "minimum", "least", "below", "under", "less")
_NEAR = 4  # slots


def hold(
    page: Page, judged: Judgement, found: Sequence[Statement], catalogue: Catalogue
) -> list[Statement]:
    """Doubt every value that breaks a limit spoken in its sentence or the next to it."""
    return [_held(page, judged, one, catalogue) for one in found]


def _held(page: Page, judged: Judgement, one: Statement, catalogue: Catalogue) -> Statement:
    field = catalogue.fields[one.name]
    if field.kind != "number" or not isinstance(one.value, Decimal):
        return one
    value = one.value
    n = page.sentence(one.slot)
    a = page.bounds[max(0, n - 1)][0]
    b = page.bounds[min(n + 1, len(page.bounds) - 1)][1]
    for i in range(a, b):
        limit = _limit(page, judged, i, field)
        if i == one.slot or limit is None or (page.sentence(i) != n and not _names(page, i, field)):
            continue
        low, high = limit
        shown = field.kind_object.show
        if high is not None and value > high:
            one = one.doubted(f"{shown(high, field.unit)} was said to be the most that is allowed")
        if low is not None and value < low:
            one = one.doubted(f"{shown(low, field.unit)} was said to be the least that is allowed")
    return one


def _limit(
    page: Page, judged: Judgement, i: int, field: Field
) -> tuple[Decimal | None, Decimal | None] | None:
    """Give the lower and upper limit that a slot states, if the field can have it."""
    slot, quantity = page.slots[i], page.slots[i].what
    if slot.norm not in (NUMBER, RANGE) or not isinstance(quantity, Quantity):
        return None
    if quantity.unit is not None and quantity.unit.name not in field.units:
        return None
    value, _ = value_of(field, quantity)
    if not field.plausible(value):
        return None
    if quantity.top is not None:
        top, _ = value_of(field, replace(quantity, number=quantity.top))
        return value, top
    if "limit" not in judged.statuses(i):
        return None
    around = [s.norm for s in page.slots[max(0, i - _NEAR) : i + _NEAR]]
    if any(word in _TOP for word in around):
        return (value, None) if _closer(page, i) else (None, value)
    return (value, None) if any(word in _BOTTOM for word in around) else None


def _closer(page: Page, i: int) -> bool:
    """Say whether a word for the least stands nearer than one for the most."""

    def distance(words: Sequence[str]) -> int:
        near = [
            abs(k - i)
            for k in range(max(0, i - _NEAR), min(len(page.slots), i + _NEAR))
            if page.slots[k].norm in words
        ]
        return min(near, default=99)

    return distance(_BOTTOM) < distance(_TOP)


def _names(page: Page, i: int, field: Field) -> bool:
    """Say whether the sentence of a slot speaks of the field."""
    kinds = ("names", "subjects")
    return any(c.owner == field.name and c.kind in kinds for c in page.cues[page.sentence(i)])
