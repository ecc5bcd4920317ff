"""Numbers that sound like others: *sixteen* and *sixty*, *thirty-two* and *thirty too*.

The ear tells the first two apart by their last sound and their stress, and noise hides both; the
others sound the same. Of heard words alone. The value stays as it was heard, for nobody heard the
other: that is shown beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from extract.values.catalogue import Catalogue, Field
from extract.values.draft import Alternative, Draft

_PAIRS = {13: 30, 14: 40, 15: 50, 16: 60, 17: 70, 18: 80, 19: 90}
_SOUNDS_LIKE = {Decimal(a): Decimal(b) for x, y in _PAIRS.items() for a, b in ((x, y), (y, x))}
_THOUSANDTHS = Decimal(1000)
_TWO = Decimal(2)
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


def too(drafts: Sequence[Draft], catalogue: Catalogue) -> tuple[Draft, ...]:
    """Doubt *left is thirty, and the right's thirty-two*: it may have been *thirty too*."""
    return tuple(_too(draft, drafts, catalogue.fields[draft.name]) for draft in drafts)


def _too(draft: Draft, drafts: Sequence[Draft], field: Field) -> Draft:
    if not isinstance(draft.value, Decimal) or draft.value % 10 != _TWO or draft.said:
        return draft
    meant = draft.value - _TWO
    alike = [d for d in drafts if d.name == draft.name and d.position != draft.position]
    if meant not in [d.value for d in alike] or any(a.value == meant for a in draft.alternatives):
        return draft
    shown = field.kind_object.show(meant, field.unit)
    other = Alternative(meant, _CHANCE, "sounds the same")
    made = replace(draft, alternatives=(other, *draft.alternatives))
    return made.with_doubt(f"it may have been {shown} too: that was said right beside it")
