"""What is already known ranks the readings of a meter; it never makes a value that nobody said.

A meter does not run backwards, and does not run far in one interval: a reading that cannot be falls
behind another reading of the same words that can, and the draft says so.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from extract.catalogue import Catalogue
from extract.draft import Alternative, Draft, Value
from extract.known import Known

# Hours that an aircraft may have run since the last service: common practice, no published source.
FURTHEST = Decimal(500)


def expect(draft: Draft, catalogue: Catalogue, known: Known) -> Draft:
    """Put a reading that can be before one that cannot, among the readings of one draft."""
    last = {"tach_time": known.last_tach, "hobbs_time": known.last_hobbs}.get(draft.name)
    if last is None or _can_be(draft.value, last):
        return draft
    field = catalogue.fields[draft.name]
    shown = field.kind_object.show
    better = [a for a in draft.alternatives if _can_be(a.value, last) and a.confidence >= 0.05]
    if not better:
        return draft
    best = max(better, key=lambda a: a.confidence)
    heard = Alternative(
        draft.value, 1 - draft.confidence, "as heard, but it cannot follow the last"
    )
    doubt = (
        f"{shown(draft.value, field.unit)} was heard, which cannot follow the last"
        f" {shown(last, field.unit)}: {shown(best.value, field.unit)} was chosen"
    )
    rest = tuple(a for a in draft.alternatives if a is not best)
    chosen = replace(draft, value=best.value, alternatives=(heard, *rest))
    return replace(chosen.with_doubt(doubt), confidence=min(0.8, max(0.6, draft.confidence)))


def _can_be(value: Value, last: Decimal) -> bool:
    return isinstance(value, Decimal) and last <= value <= last + FURTHEST
