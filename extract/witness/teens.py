"""*sixteen* heard as *sixty*: a value out of the ordinary, where the other of the pair is not.

The ear tells the two apart by their last sound and their stress, and noise hides both. Of heard
words alone. The value stays as it was heard, for nobody heard the other: that is shown beside it.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from extract.values.catalogue import Field
from extract.values.draft import Alternative, Draft

_PAIRS = {13: 30, 14: 40, 15: 50, 16: 60, 17: 70, 18: 80, 19: 90}
_SOUNDS_LIKE = {Decimal(a): Decimal(b) for x, y in _PAIRS.items() for a, b in ((x, y), (y, x))}
_THOUSANDTHS = Decimal(1000)
_CHANCE = 0.4  # of the one that was not heard: our own choice


def sounded(draft: Draft, field: Field) -> Draft:
    """Give a draft whose value is implausible the one that sounds like it as an alternative."""
    value = draft.value
    if not isinstance(value, Decimal) or field.plausible(value):
        return draft
    scale = _THOUSANDTHS if field.unit == "in" else Decimal(1)
    whole = (value * scale).to_integral_value(rounding="ROUND_FLOOR")
    pair = _SOUNDS_LIKE.get(whole)
    if pair is None:
        return draft
    meant = (pair + value * scale - whole) / scale
    if not field.plausible(meant):
        return draft
    shown = field.kind_object.show
    doubt = (
        f"{shown(value, field.unit)} was heard, which would be unusual;"
        f" {shown(meant, field.unit)} sounds like it"
    )
    other = Alternative(meant, _CHANCE, "sounds like it")
    made = replace(draft, alternatives=(other, *draft.alternatives))
    return made.with_doubt(doubt)
