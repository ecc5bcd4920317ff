"""Where a value belongs: which cylinder, tire or plug row."""

from __future__ import annotations

from extract.exact.quantities import Quantity
from extract.talk.outline import NUMBER, OVER, PLACE, number_of
from extract.talk.statements import Page, Statement
from extract.values.catalogue import Field
from extract.values.draft import Position


def place_of(page: Page, i: int, field: Field) -> tuple[Position, ...]:
    """Give the places that the number in a slot is stated for, or (None,) if none was said."""
    found = _said(page, field, page.sentence(i))
    here = _pick(page, i, field, found)
    if here:
        return here
    n = page.sentence(i)
    if n:
        earlier = _said(page, field, n - 1)
        values = [k for k in range(*page.bounds[n - 1]) if _is_value(page, k)]
        free = [(at, p) for at, p in earlier if not any(k > at for k in values)]
        if free:
            return tuple(sorted({p for at, p in free if at == free[-1][0]}, key=str))
    return (None,)


def place_start(page: Page, i: int, field: Field) -> int:
    """Give the slot of the place said right before a number, or the number's own."""
    found = _said(page, field, page.sentence(i)) if field.positions else []
    before = [at for at, _ in found if at < i and not any(_is_value(page, k) for k in range(at, i))]
    return before[-1] if before else i


def _said(page: Page, field: Field, n: int) -> list[tuple[int, Position]]:
    """Collect the places said in a sentence: (slot, place)."""
    made: list[tuple[int, Position]] = []
    for cue in page.cues[n]:
        if (
            cue.owner == field.name
            and cue.kind.startswith("place:")
            and not is_verb(page, cue.start)
        ):
            place = cue.kind.removeprefix("place:")
            made.append((cue.start, int(place) if place.isdigit() else place))
    if all(isinstance(p, int) for p in field.positions):
        for k in range(*page.bounds[n]):
            slot = page.slots[k]
            if slot.norm == PLACE and isinstance(slot.what, int):
                made.append((k, slot.what))
            number = number_of(slot)
            told = k and page.slots[k - 1].norm in ("all", "every")
            if slot.norm == "one" and _paired(page, k):
                made.append((k, 1))
            small = (
                slot.norm == NUMBER and number and number.value in (1, 2, 3, 4, 5, 6) and not told
            )
            if small and number and (_before_value(page, k) or _behind_value(page, k)):
                made.append((k, int(number.value)))
    made += _all(page, field, n)
    made = list(set(made))
    single = {p for at, p in made if sum(other == at for other, _ in made) == 1}
    several = {at for at, _ in made if sum(other == at for other, _ in made) > 1}
    made = [(at, p) for at, p in made if at not in several or p not in single]
    return sorted(set(made), key=lambda pair: (pair[0], str(pair[1])))


def is_verb(page: Page, k: int) -> bool:
    """*and left it at forty*: no side."""
    if page.slots[k].norm != "left" or k + 1 >= len(page.slots) or page.slots[k].after:
        return False
    return page.slots[k + 1].norm in ("it", "them", "him", "her", "that", "the", "those", "alone")


def _all(page: Page, field: Field, n: int) -> list[tuple[int, Position]]:
    """*all four came up seventy-five*, *all three tires*: every place, if that is how many."""
    made: list[tuple[int, Position]] = []
    whole = all(isinstance(p, int) for p in field.positions)
    for k in range(*page.bounds[n]):
        number = number_of(page.slots[k])
        if number is None or not k or page.slots[k - 1].norm not in ("all", "every"):
            continue
        count = len(field.positions)
        if number.value == count or (whole and number.value in range(4, count)):
            made += [(k - 1, p) for p in field.positions[: int(number.value)]]
    return made


def _paired(page: Page, k: int) -> bool:
    """*numbers one and three were seventy-seven*."""
    ahead = [s.norm for s in page.slots[k + 1 : k + 3]]
    number = number_of(page.slots[k + 2]) if ahead == ["and", NUMBER] else None
    return number is not None and number.value in (2, 3, 4, 5, 6)


def _before_value(page: Page, k: int) -> bool:
    for slot in page.slots[k + 1 : k + 6]:
        if slot.norm in (OVER, NUMBER):
            return True
        if slot.norm == PLACE:
            return False
    return False


def _behind_value(page: Page, k: int) -> bool:
    """*seventy-eight over eighty on five*."""
    before = page.slots[k - 1].norm if k else ""
    if before == "what":
        return any(page.slots[j].norm == OVER for j in range(max(0, k - 3), k))
    return before in ("on", "for", "in") and k > 1 and page.slots[k - 2].norm == OVER


def _is_value(page: Page, k: int) -> bool:
    number = number_of(page.slots[k])
    if number is None:
        return False
    what = page.slots[k].what
    place = (
        number.value in (1, 2, 3, 4, 5, 6)
        and not number.point
        and isinstance(what, Quantity)
        and what.unit is None
    )
    return not place or page.slots[k].norm == OVER


def _trailing(page: Page, i: int, found: list[tuple[int, Position]]) -> tuple[Position, ...]:
    """*at two point one left and two right*: every value has its place right behind it."""
    ats = dict(found)
    values = [k for k in range(*page.bounds[page.sentence(i)]) if _is_value(page, k)]
    single = {at for at in ats if sum(other == at for other, _ in found) == 1}
    if len(values) < 2 or not all(k + 1 in single for k in values):
        return ()
    paused = any(page.slots[k].after for k in values)
    return () if paused else (ats[i + 1],)


def _in_turn(page: Page, i: int, found: list[tuple[int, Position]]) -> tuple[Position, ...]:
    """*numbers one and two, seventy-five and seventy-four*: two places, then their two values."""
    values = [k for k in range(*page.bounds[page.sentence(i)]) if _is_value(page, k)]
    if len(values) != 2 or len(found) != 2 or i not in values or found[1][0] >= values[0]:
        return ()
    joined = values[1] - values[0] == 2 and page.slots[values[0] + 1].norm == "and"
    coupled = found[1][0] - found[0][0] == 2 and page.slots[found[0][0] + 1].norm == "and"
    return (found[values.index(i)][1],) if joined and coupled else ()


def _is_gauge(page: Page, k: int, field: Field) -> bool:
    """*Compressions over eighty: number one ...*: what the gauge was set to, said once for all."""
    number = number_of(page.slots[k])
    return (
        field.over is not None
        and number is not None
        and number.value == field.over
        and (page.slots[k].norm == NUMBER)
    )


def _pick(
    page: Page, i: int, field: Field, found: list[tuple[int, Position]]
) -> tuple[Position, ...]:
    """Take the nearest place before the number; behind it only where numbers come first."""
    if not found:
        return ()
    if paired := _trailing(page, i, found) or _in_turn(page, i, found):
        return paired
    values = [
        k
        for k in range(*page.bounds[page.sentence(i)])
        if _is_value(page, k) and not _is_gauge(page, k, field)
    ]
    n = page.sentence(i)
    cues = [c.start for c in page.cues[n] if c.owner == field.name and c.kind.startswith("place:")]
    first_place = min([found[0][0], *cues])
    if values and values[0] < first_place and all(k != first_place for k in values):
        later = [(at, p) for at, p in found if at > i and not any(i < k < at for k in values)]
        if later:
            return _joined(page, later)
    before = [(at, p) for at, p in found if at < i and not any(at < k < i for k in values)]
    if before:
        return _joined(page, before[::-1])
    later = [(at, p) for at, p in found if at > i and not any(i < k < at for k in values)]
    if later and not any(
        page.slots[k].after or page.slots[k].norm == "and" for k in range(i, later[0][0])
    ):
        return _joined(page, later)
    earlier = [(at, p) for at, p in found if at < i]
    if earlier and len({p for _, p in found}) == 1:
        return (earlier[-1][1],)
    return ()


def _joined(page: Page, found: list[tuple[int, Position]]) -> tuple[Position, ...]:
    """Take the first place and those that *and* joins to it: *top and bottom*."""
    ats = [found[0][0]]
    for at, _ in found:
        low, high = sorted((at, ats[-1]))
        if high - low == 2 and page.slots[low + 1].norm == "and" and not page.slots[low].after:
            ats.append(at)
    return tuple(dict.fromkeys(p for at, p in found if at in ats))


def places_said(page: Page, field: Field, low: int, high: int) -> list[tuple[int, Position]]:
    """Give every place of a field said from slot `low` up to `high`: (slot, place)."""
    made: list[tuple[int, Position]] = []
    for k in range(low, high):
        what = page.slots[k].what
        if page.slots[k].norm == PLACE and isinstance(what, int) and what in field.positions:
            made.append((k, what))
    for n in {page.sentence(k) for k in range(low, high)}:
        for cue in page.cues[n]:
            if (
                cue.owner == field.name
                and cue.kind.startswith("place:")
                and low <= cue.start < high
            ):
                place = cue.kind.removeprefix("place:")
                made.append((cue.start, int(place) if place.isdigit() else place))
    return sorted(set(made), key=str)


def placed_between(page: Page, old: Statement, new: int, field: Field) -> bool:
    """Say whether another place was named: the second number is that one's."""
    high = new + 1
    while high < min(len(page.slots), new + 4) and not page.slots[high - 1].after:
        high += 1
    said = places_said(page, field, old.slot + 1, high)
    return any(place != old.position for at, place in said if at != new)
