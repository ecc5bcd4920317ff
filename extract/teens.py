"""*sixteen* heard as *sixty*: a value that cannot be, where the other word of the pair can.

The ear tells the two apart by their last sound and their stress, and noise hides both. Of heard
words alone, and never in silence: what was heard stays with the draft as the alternative.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from extract.catalogue import Field
from extract.draft import Alternative, Draft

_PAIRS = {13: 30, 14: 40, 15: 50, 16: 60, 17: 70, 18: 80, 19: 90}
_SOUNDS_LIKE = {Decimal(a): Decimal(b) for x, y in _PAIRS.items() for a, b in ((x, y), (y, x))}
_THOUSANDTHS = Decimal(1000)
_SURE = 0.65  # right about as often as a reading that is doubted: our own choice


def sounded(draft: Draft, field: Field) -> Draft:
    """Give a draft the value that sounds like its own, where its own is implausible."""
    value = draft.value
    if not isinstance(value, Decimal) or field.plausible(value):
        return draft
    scale = _THOUSANDTHS if field.unit == "in" else Decimal(1)
    whole = (value * scale).to_integral_value(rounding="ROUND_FLOOR")
    other = _SOUNDS_LIKE.get(whole)
    if other is None:
        return draft
    meant = (other + value * scale - whole) / scale
    if not field.plausible(meant):
        return draft
    shown = field.kind_object.show
    doubt = (
        f"{shown(value, field.unit)} was heard, which is out of the ordinary;"
        f" {shown(meant, field.unit)} sounds like it"
    )
    heard = Alternative(value, round(1 - _SURE, 2), "as heard")
    made = replace(draft, value=meant, alternatives=(heard, *draft.alternatives))
    return replace(made.with_doubt(doubt), confidence=max(_SURE, draft.confidence))
