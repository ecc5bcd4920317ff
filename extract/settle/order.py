"""What one note states twice of one field and place, settled in the order of telling."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from extract.claims.encoder import Told
from extract.claims.proposals import Proposal
from extract.claims.weighing import level
from extract.values.catalogue import Catalogue
from extract.values.defects import FINDINGS
from extract.values.draft import SAID_BEFORE, Alternative, Position, Value


def in_order(
    stated: Sequence[tuple[Proposal, float]],
    before: Sequence[tuple[tuple[str, Position], int, Value]],
    told: Told,
    catalogue: Catalogue,
) -> list[tuple[Proposal, float]]:
    """Settle in the order of telling what one note states twice of one field and place.

    *Right main had thirty-one, she has thirty-six now*: the later one holds, the earlier stays
    beside it as what it replaced, where the trained reader sees that it was replaced. Where it does
    not, both stand, and the difference will be a doubt. `before` is what it takes for replaced at
    once: (field and place), first part, value.
    """
    order = sorted(stated, key=lambda one: one[0].start)
    kept: list[tuple[Proposal, float]] = []
    gone: dict[tuple[str, Position], list[tuple[int, Value]]] = {}
    for key, start, value in before:
        gone.setdefault(key, []).append((start, value))
    for n, (one, chance) in enumerate(order):
        later = [p for p, _ in order[n + 1 :] if p.key == one.key and p.name not in FINDINGS]
        same = catalogue.fields[one.name].kind_object.same
        differs = [p for p in later if not same(p.value, one.value)]
        if differs and _was_replaced(one, differs, told):
            gone.setdefault(one.key, []).append((one.start, one.value))
        else:
            kept.append((one, chance))
    return [(_with_replaced(p, gone.get(p.key, []), catalogue), c) for p, c in kept]


def _was_replaced(one: Proposal, later: Sequence[Proposal], told: Told) -> bool:
    enough = level("replaced")
    if one.candidate is None:
        return one.signs["state_gone"] >= enough
    points = max(
        (
            float(told.point[one.candidate][p.candidate + 1])
            for p in later
            if p.candidate is not None
        ),
        default=0.0,
    )
    return max(points, one.signs["replaced"]) >= enough


def _with_replaced(
    one: Proposal, gone: Sequence[tuple[int, Value]], catalogue: Catalogue
) -> Proposal:
    same = catalogue.fields[one.name].kind_object.same
    made = list(one.alternatives)
    for start, value in gone:
        if start < one.start and not same(value, one.value):
            made = [a for a in made if not same(a.value, value)]
            made.append(Alternative(value, 0.05, SAID_BEFORE))
    return replace(one, alternatives=tuple(made))
