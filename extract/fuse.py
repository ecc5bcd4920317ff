"""Several readings of one field to one draft: agreement, doubt, alternatives; never a silent choice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from extract.catalogue import Catalogue
from extract.draft import Alternative, Draft
from extract.known import NOTHING, Known


def fuse(
    drafts: Sequence[Draft], catalogue: Catalogue, known: Known = NOTHING
) -> tuple[Draft, ...]:
    """Give one draft a slot (field and position), in catalogue order."""
    slots: dict[tuple[str, object], list[Draft]] = {}
    for draft in drafts:
        slots.setdefault(draft.slot, []).append(draft)
    order = {name: n for n, name in enumerate(catalogue.fields)}
    made = [_one(group, catalogue) for group in slots.values()]
    return tuple(sorted(made, key=lambda d: (order.get(d.name, len(order)), str(d.position))))


def _one(group: list[Draft], catalogue: Catalogue) -> Draft:
    kind = catalogue.fields[group[0].name].kind_object
    last = group[-1]
    differing = [d for d in group if not kind.same(d.value, last.value)]
    if not differing:
        return max(group, key=lambda d: (d.confidence, -(d.start or 0)))
    if kind.name == "truth" and not last.doubts and last.value is True:
        return last  # open, then closed: a state that came about
    unit = last.unit
    values = list(dict.fromkeys(kind.show(d.value, unit) for d in group))
    return replace(
        last.with_doubt(f"stated twice and differently: {', then '.join(values)}"),
        confidence=min(last.confidence, 0.55),
        alternatives=(
            *(Alternative(d.value, 0.4, "stated as well") for d in differing),
            *last.alternatives,
        ),
    )
