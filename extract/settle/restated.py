"""A value said again without a plain word of correction, and a place that was corrected.

*sixteen foot pounds, I'll rephrase that, seventeen*: nobody can list all words with which people
turn back. What can be seen is a second number of the same kind, near the first, that no other field
claims. It holds where the words between turn back; elsewhere the first stays, and says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from extract.claims.places import placed_between, places_said
from extract.exact.quantities import Quantity, is_count
from extract.settle.corrections import alike, with_value
from extract.talk.assertions import STATUSES, Judgement
from extract.talk.nearness import other_pull
from extract.talk.outline import NUMBER, VALUES, Cue, number_of
from extract.talk.statements import Page, Statement
from extract.values.catalogue import Catalogue, Field
from extract.values.doubts import Unnamed
from extract.values.draft import Alternative
from extract.words.lists import table

_REACH = 14  # slots between the two numbers
_SHORT = 3  # words: *Nope. Point nine.*
_TURNING = frozenset(table("words")["restated"]["words"])
_MISTAKEN = frozenset(table("words")["restated"]["before"])


def restated(
    page: Page, judged: Judgement, found: Sequence[Statement], catalogue: Catalogue
) -> list[Statement]:
    """Let a number said again take the place of the first where the words between turn back."""
    made = sorted(found, key=lambda s: s.slot)
    for old in made:
        field = catalogue.fields[old.name]
        new = _again(page, judged, old, made, field, catalogue)
        if new is None:
            continue
        fresh = with_value(page, old, new, catalogue)
        shown = field.kind_object.show
        rest = [s for s in made if s is not old and s.slot != new]
        turning = bool(_TURNING & {s.norm for s in page.slots[old.slot + 1 : new]})
        start = page.bounds[page.sentence(old.slot)][0]
        turning = turning or bool(_MISTAKEN & {s.norm for s in page.slots[start : old.slot]})
        if turning or _fuller(page, old, new):
            gone = Alternative(old.value, 0.05, "said before it was said again")
            fresh = replace(fresh, alternatives=(gone, *old.alternatives))
            fresh = fresh.doubted(
                Unnamed(f"{shown(old.value, field.unit)} was said of it just before")
            )
            return restated(page, judged, [*rest, fresh], catalogue)
        other = Alternative(fresh.value, 0.3, "said right behind it")
        fresh = replace(old, alternatives=(*old.alternatives, other))
        fresh = fresh.doubted(
            Unnamed("another number was said right after it; listen which one counts")
        )
        return [*restated(page, judged, rest, catalogue), fresh]
    return made


def _again(
    page: Page,
    judged: Judgement,
    old: Statement,
    made: Sequence[Statement],
    field: Field,
    catalogue: Catalogue,
) -> int | None:
    """Give the slot of a second number that could only be the same value, said again."""
    if page.slots[old.slot].norm != NUMBER or not isinstance(old.value, Decimal):
        return None
    stop = _stop(page, page.sentence(old.slot))
    ahead = range(old.slot + 1, min(stop, old.slot + _REACH))
    new = next((k for k in ahead if _is_candidate(page, k, field)), None)
    if new is None or page.slots[new].norm != NUMBER or not alike(page, old, new, catalogue):
        return None
    rivals = [s for s in made if s.slot == new]
    if any(not _unlikely(page, s, catalogue) for s in rivals) or judged.negated(new):
        return None
    if judged.statuses(new) & set(STATUSES) or not _paused(page, old.slot, new):
        return None
    fresh = with_value(page, old, new, catalogue).value
    if not isinstance(fresh, Decimal) or not field.plausible(fresh) or fresh == old.value:
        return None
    if not Decimal("0.6") < fresh / old.value < Decimal("1.67") or not _same_form(page, old, new):
        return None
    return None if _claimed(page, old, new, field, catalogue) else new


def _unlikely(page: Page, one: Statement, catalogue: Catalogue) -> bool:
    """A number whose unit its field does not have is no rival."""
    quantity = page.slots[one.slot].what
    unit = quantity.unit if isinstance(quantity, Quantity) else None
    return unit is not None and unit.name not in catalogue.fields[one.name].units


def _stop(page: Page, n: int) -> int:
    """Give the end of the sentence after this one; a few words alone (*Nope.*) make none."""
    last = len(page.bounds) - 1
    while n < last:
        n += 1
        a, b = page.bounds[n]
        if b - a > _SHORT:
            break
    return page.bounds[n][1]


def _is_candidate(page: Page, k: int, field: Field) -> bool:
    """A value that is no mere count, nor a part of one (*point nine*)."""
    quantity = page.slots[k].what
    if page.slots[k].norm not in VALUES or not isinstance(quantity, Quantity):
        return page.slots[k].norm in VALUES
    part = field.unit == "h" and quantity.number.value < 1
    return not is_count(quantity) and not part


def _paused(page: Page, old: int, new: int) -> bool:
    return any(page.slots[k].after for k in range(old, new))


def _same_form(page: Page, old: Statement, new: int) -> bool:
    """The second has the unit of the first or its form: figures after the point, a like size."""
    a, b = page.slots[old.slot].what, page.slots[new].what
    if not isinstance(a, Quantity) or not isinstance(b, Quantity):
        return False
    if b.unit is not None:
        return True
    if _fuller(page, old, new):
        return True
    return a.number.point == b.number.point and (a.unit is None or a.number.style != "cardinal")


def _fuller(page: Page, old: Statement, new: int) -> bool:
    """*it has turned over two thousand, it's on 2001.4*: the reading is the one with tenths."""
    a, b = number_of(page.slots[old.slot]), number_of(page.slots[new])
    return old.unit == "h" and a is not None and b is not None and b.point and not a.point


def _claimed(page: Page, old: Statement, new: int, field: Field, catalogue: Catalogue) -> bool:
    """Say whether something else between or around the two claims the second number."""
    number = number_of(page.slots[new])
    if field.unit == "h" and number is not None and number.point:
        return False  # nothing else has such figures
    if other_pull(page, new) > 1.3:
        return True
    n = page.sentence(new)
    low, high = old.slot + 1, min(page.bounds[n][1], new + 4)
    return any(
        c.owner in catalogue.fields
        and c.owner != field.name
        and catalogue.fields[c.owner].kind == "number"
        and c.kind in ("names", "subjects")
        and low <= c.start < high
        and not any(
            o.owner == field.name and o.kind in ("names", "subjects") and o.start == c.start
            for o in page.cues[n]
        )
        for m in {n, page.sentence(old.slot)}
        for c in page.cues[m]
    ) or (bool(field.positions) and placed_between(page, old, new, field))


def moved(
    page: Page, judged: Judgement, found: Sequence[Statement], catalogue: Catalogue
) -> list[Statement]:
    """*left main thirty-three, sorry, that's the right one*: the place was corrected."""
    made = sorted(found, key=lambda s: s.slot)
    for cue in judged.corrections:
        before = [s for s in made if s.slot < cue.start and s.position is not None]
        if not before or page.sentence(before[-1].slot) < page.sentence(cue.start) - 1:
            continue
        made = _move(page, cue, before[-1], made, catalogue)
    return made


def _move(
    page: Page, cue: Cue, old: Statement, made: list[Statement], catalogue: Catalogue
) -> list[Statement]:
    field = catalogue.fields[old.name]
    end = page.bounds[page.sentence(cue.end - 1)][1]
    said = places_said(page, field, cue.end, min(end, cue.end + 5))
    values = [k for k in range(cue.end, end) if page.slots[k].norm in VALUES]
    said = [(at, p) for at, p in said if not any(k < at for k in values) and p != old.position]
    if len({p for _, p in said}) != 1 or any(
        page.slots[k].norm in VALUES for k in range(old.slot + 1, cue.start)
    ):
        return made
    place = said[0][1]
    new = next((s for s in made if s.slot in values and s.name == old.name), None)
    if new is not None:
        same = new.value == old.value and new.position == place
        return [s for s in made if s is not old] if same else made
    if values:
        return made
    return [replace(s, position=place) if s is old else s for s in made]


_SAME = ("same", "ditto", "likewise")


def copied(page: Page, found: Sequence[Statement], catalogue: Catalogue) -> list[Statement]:
    """*thirty foot pounds on the tops and the same on the bottoms*: the value of another place."""
    made = sorted(found, key=lambda s: s.slot)
    for k, slot in enumerate(page.slots):
        if slot.norm not in _SAME:
            continue
        before = [s for s in made if s.slot < k and s.position is not None]
        if not before or page.sentence(before[-1].slot) < page.sentence(k) - 1:
            continue
        old = before[-1]
        low = max(old.last + 1, k - 5)
        high = min(page.bounds[page.sentence(k)][1], k + 6)
        if any(page.slots[j].norm in VALUES for j in range(low, high)):
            continue
        taken = {s.position for s in made if s.name == old.name}
        for at, place in places_said(page, catalogue.fields[old.name], low, high):
            if place not in taken:
                made.append(replace(old, position=place, slot=at, last=max(at, k)))
                taken.add(place)
    return sorted(made, key=lambda s: s.slot)
