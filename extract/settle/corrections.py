"""Which statements hold: what is none of today goes, and a correction replaces its value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from extract.claims.amounts import value_of
from extract.claims.fields import NO_TENTHS
from extract.claims.places import placed_between
from extract.exact.quantities import Quantity, is_count
from extract.exact.spelled import Spelled
from extract.talk.assertions import STATUSES, Judgement
from extract.talk.outline import CODE, NUMBER, OVER, RANGE, VALUES, Cue
from extract.talk.statements import Page, Statement
from extract.values.catalogue import Catalogue, Field
from extract.values.doubts import Unnamed
from extract.values.draft import Alternative, Value
from extract.words.lists import DIGITS

_GOES_ON = ("it", "they", "i", "we", "mine", "ours", "this")

_BOOKS = {"manual", "book", "sheet", "handbook", "chart", "spec", "specs", "bulletin", "maker"}
_BOOKS |= {"factory", "calls", "lists", "specifies", "recommends", "catalog", "page", "placard"}


def stated(page: Page, judged: Judgement, found: Sequence[Statement]) -> list[Statement]:
    """Keep the values stated as done or read; doubt those that follow talk of last time."""
    made = []
    for one in found:
        if page.slots[one.slot].norm not in VALUES:
            made.append(one)
            continue
        ranged = page.slots[one.slot].norm == RANGE
        if one.signs.get("loose"):
            continue
        barred = judged.statuses(one.slot) & set(STATUSES)
        if page.slots[one.slot].norm == CODE and not _from_book(page, judged, one.slot):
            barred -= {"limit"}
        if barred == {"history"} and _own_story(page, judged, one):
            barred = set()
        if ranged or barred or judged.negated(one.slot):
            continue
        if one.slot in judged.after_history:
            one = one.doubted("the talk before it was of last time; it may be last time's value")
        if any(r.start <= one.slot < r.end for r in judged.unsure):
            one = one.doubted("it was said as a guess")
        made.append(one)
    return made


def _from_book(page: Page, judged: Judgement, slot: int) -> bool:
    """A book says which part to use; a label, a box or the part itself says which it is."""
    told = [r.cue for r in judged.reaches if r.status == "limit" and r.start <= slot < r.end]
    said = {page.slots[k].norm for cue in told for k in range(cue.start, cue.end)}
    return bool(said & _BOOKS)


def _own_story(page: Page, judged: Judgement, one: Statement) -> bool:
    """*started at six on the stick*: the field's own way to say it, and no story of last time."""
    told = [r.cue for r in judged.reaches if r.status == "history" and r.start <= one.slot < r.end]
    own = [
        c
        for c in page.cues[page.sentence(one.slot)]
        if c.owner == one.name
        and (c.kind == "phase" or (c.kind == "frames" and c.slot == one.slot))
    ]
    told = [t for t in told if "been" not in [s.norm for s in page.slots[t.start : t.end]]]
    return bool(own) and all(any(c.start <= t.start and t.end <= c.end for c in own) for t in told)


def contrasted(  # noqa: C901 - the order of the tests is the rule
    page: Page, judged: Judgement, found: Sequence[Statement], catalogue: Catalogue
) -> list[Statement]:
    """*I was going to put in eight, but stopped at seven*: the seven is of the same field."""
    taken = {s.slot for s in found}
    made = list(found)
    for old in found:
        if page.slots[old.slot].norm not in (NUMBER, RANGE):
            continue
        ranged = page.slots[old.slot].norm == RANGE
        if not ranged and not judged.statuses(old.slot) & {"plan", "limit", "history"}:
            continue
        n = page.sentence(old.slot)
        end = page.bounds[n][1]
        while n + 1 < len(page.bounds) and page.slots[end].norm in _GOES_ON:
            n, end = n + 1, page.bounds[n + 1][1]
            if any(page.slots[k].norm == NUMBER for k in range(*page.bounds[n])):
                break
        new = next((k for k in range(old.slot + 1, end) if page.slots[k].norm == NUMBER), None)
        if new is None:
            continue
        weak = [s for s in made if s.slot == new and _is_weak(page, s, old)]
        fits = no_unit(page, new) or any(s.signs.get("alone") for s in weak)
        if weak and page.slots[new].what and fits:
            made = [s for s in made if s not in weak]
        elif new in taken:
            continue
        if judged.statuses(new) & set(STATUSES) or judged.negated(new):
            continue
        if any(old.slot < t <= new for t in judged.turns) and alike(page, old, new, catalogue):
            fresh = with_value(page, old, new, catalogue)
            field = catalogue.fields[old.name]
            if not isinstance(fresh.value, Decimal) or field.plausible(fresh.value):
                made.append(fresh)
    return made


def _is_weak(page: Page, one: Statement, old: Statement) -> bool:
    """A number bound by a loose phrase alone gives way to the field that is spoken of."""
    spoken = page.slots[old.slot].what
    bare = no_unit(page, one.slot) and isinstance(spoken, Quantity) and spoken.unit is not None
    if bare and not one.signs.get("name") and not one.signs.get("side"):
        return True
    return bool(one.signs.get("loose")) or one.score < 1.8


def changed(
    page: Page, judged: Judgement, found: Sequence[Statement], catalogue: Catalogue
) -> list[Statement]:
    """*it was down to eighteen, so I pumped it to thirty-one*: the last value holds."""
    made = sorted(found, key=lambda s: s.slot)
    for cue in judged.changes:
        new = cue.slot
        barred = judged.statuses(new) & {"plan", "limit", "question"} if new is not None else set()
        if new is None or barred or judged.negated(new):
            continue
        if new == cue.start and page.slots[new].after:
            continue  # "was one forty, now it's one eighty"
        mine = [s for s in made if s.slot == new and s.signs.get("name", 0) > 0]
        old = next(
            (
                s
                for s in reversed(made)
                if s.slot < new
                and page.sentence(s.slot) >= page.sentence(new) - 1
                and page.slots[s.slot].norm == NUMBER
                and alike(page, s, new, catalogue)
            ),
            None,
        )
        if old is None or any(s.name != old.name or s.position != old.position for s in mine):
            continue
        fresh = with_value(page, old, new, catalogue)
        field = catalogue.fields[old.name]
        if not isinstance(fresh.value, Decimal) or not field.plausible(fresh.value):
            continue
        if field.positions and placed_between(page, old, new, field):
            continue
        shown = field.kind_object.show(old.value, field.unit)
        gone = Alternative(old.value, 0.1, "before it was changed")
        fresh = replace(fresh, alternatives=(gone,)).doubted(
            Unnamed(f"{shown} was said of it just before")
        )
        made = [s for s in made if s is not old and s.slot != new] + [fresh]
    return sorted(made, key=lambda s: s.slot)


def no_unit(page: Page, slot: int) -> bool:
    """Say whether a number was said without its unit."""
    quantity = page.slots[slot].what
    return isinstance(quantity, Quantity) and quantity.unit is None


def correct(
    page: Page, judged: Judgement, found: Sequence[Statement], catalogue: Catalogue
) -> list[Statement]:
    """Apply corrections in the order in which they were said."""
    made = sorted(found, key=lambda s: (s.slot, s.name))
    for cue in judged.corrections:
        if _is_word(page, cue):
            continue
        made = _apply(page, judged, cue, made, catalogue)
    for cue in judged.withdrawals:
        made = _withdraw(page, cue, made)
    return [s for s in made if not _no_reading(s)]


def _no_reading(one: Statement) -> bool:
    """Two figures without tenths are no reading of a meter."""
    return NO_TENTHS in one.doubts and isinstance(one.value, Decimal) and one.value < 100


def _apply(  # noqa: C901 - the order of the tests is the rule
    page: Page, judged: Judgement, cue: Cue, found: list[Statement], catalogue: Catalogue
) -> list[Statement]:
    new = _next_value(page, cue)
    if new is None or new - cue.end > 1:
        new = _value_before(page, found, cue) or new
    before = [
        s
        for s in found
        if s.slot < cue.start and page.sentence(s.slot) >= page.sentence(cue.start) - 1
    ]
    before = [s for s in before if page.slots[s.slot].norm in VALUES]
    if new is None or not before:
        return found
    page.slots[new]
    bound = [s for s in found if s.slot == new]
    loose = no_unit(page, new) and not any(s.signs.get("name", 0) > 0 for s in bound)
    near = new - cue.end <= 1 or loose
    for old in reversed(before):
        if bound and all(s.name != old.name for s in bound) and not near:
            continue
        if not alike(page, old, new, catalogue):
            continue
        if judged.statuses(new) & set(STATUSES):
            continue
        beside = cue.start - old.slot == 1
        moved = _new_place(page, old, new, catalogue) if beside else None
        if moved is not None:
            return sorted(
                [replace(s, position=moved) if s is old else s for s in found if s.slot != new],
                key=lambda s: (s.slot, s.name),
            )
        mine = next((s for s in bound if s.name == old.name), None)
        if mine is not None:
            place = mine.position if mine.position is not None else old.position
            if old.position is not None and place != old.position:
                continue
            fresh = replace(mine, position=place, first=min(mine.first, page.clause(cue.start)))
        else:
            fresh = with_value(page, old, new, catalogue)
            fresh = replace(fresh, first=min(fresh.first, page.clause(cue.start)))
        field = catalogue.fields[old.name]
        if _likely(field, old.value) and not _likely(field, fresh.value):
            continue
        gone = (Alternative(old.value, 0.02, "corrected away"), *old.alternatives)
        fresh = replace(fresh, alternatives=(*fresh.alternatives, *gone))
        rest = [s for s in found if s is not old and s.slot != new]
        return sorted([*rest, fresh], key=lambda s: (s.slot, s.name))
    return found


def _likely(field: Field, value: Value) -> bool:
    return not isinstance(value, Decimal) or field.plausible(value)


def _value_before(page: Page, found: list[Statement], cue: Cue) -> int | None:
    """*one eighty-eight, one eighty-six actually*: the correction stands behind its value."""
    at = cue.start - 1
    words = " ".join(s.norm for s in page.slots[cue.start : cue.end])
    if words not in ("actually", "rather", "sorry", "i mean") or at < 2:
        return None
    ends = cue.end >= len(page.slots) or bool(page.slots[cue.end - 1].after)
    pair = page.slots[at].norm == NUMBER and page.slots[at - 1].norm == NUMBER
    bound = any(s.slot == at for s in found)
    return at if ends and pair and not bound else None


def _new_place(page: Page, old: Statement, new: int, catalogue: Catalogue) -> int | None:
    """*number two, seventy-six, oops, that was three*: the place was corrected, not the value."""
    field, quantity = catalogue.fields[old.name], page.slots[new].what
    if not isinstance(quantity, Quantity) or quantity.unit is not None:
        return None
    value = quantity.number.value
    return int(value) if value in field.positions and not field.plausible(value) else None


def _next_value(page: Page, cue: Cue) -> int | None:
    """Give the slot of the value behind a correction cue, in its sentence or close behind it."""
    n = page.sentence(cue.start)
    end = page.bounds[n][1]
    counted = 0
    for k in range(cue.end, page.bounds[min(n + 1, len(page.bounds) - 1)][1]):
        if page.slots[k].norm in VALUES and page.slots[k].norm != RANGE and not _rest(page, k):
            return k
        if cue.literals == 1 and _bare(page, cue) and k - cue.end >= 4:
            return None
        reach = 14 if k < end else 6 + (4 if cue.literals > 1 else 0)
        counted += page.slots[k].norm in DIGITS
        if k - cue.end - counted >= reach:
            return None
    return None


def _rest(page: Page, k: int) -> bool:
    """*there's one left in the box*: what is left over is not what was corrected."""
    quantity = page.slots[k].what
    ahead = page.slots[k + 1].norm if k + 1 < len(page.slots) else ""
    left = ahead in ("left", "remaining", "spare") and not page.slots[k].after
    return left or (isinstance(quantity, Quantity) and is_count(quantity))


def _is_word(page: Page, cue: Cue) -> bool:
    """*no sample*: *no* corrects only before a pause, a value or a word such as *make*."""
    slots, word = page.slots, page.slots[cue.start].norm
    if cue.literals > 1 or word != "no" or slots[cue.start].after or cue.end >= len(slots):
        return False
    ahead = slots[cue.end].norm
    return ahead not in (*VALUES, "make", "it", "that", "wait", "sorry", "no", "i")


def _bare(page: Page, cue: Cue) -> bool:
    """*no*, *wait*, *actually* are mostly no correction: the value must come at once."""
    word = page.slots[cue.start].norm
    return word in ("no", "nope", "wait", "rather", "actually", "oops", "whoops", "pardon")


def alike(page: Page, old: Statement, new: int, catalogue: Catalogue) -> bool:
    """Say whether the value in a slot could stand in the place of an old one."""
    a, b = page.slots[old.slot], page.slots[new]
    if a.norm != b.norm:
        return {a.norm, b.norm} <= {NUMBER, OVER, RANGE}
    if isinstance(a.what, Quantity) and isinstance(b.what, Quantity) and b.what.unit is not None:
        field = catalogue.fields[old.name]
        return b.what.unit.name in field.units or b.what.unit == a.what.unit
    return True


def with_value(page: Page, old: Statement, new: int, catalogue: Catalogue) -> Statement:
    """Give a statement with the value in another slot in the place of its own."""
    slot = page.slots[new]
    first = page.clause(new)
    if isinstance(slot.what, Quantity):
        if catalogue.fields[old.name].kind != "number":
            return replace(old, doubts=(*old.doubts, "corrected, but not to anything it can be"))
        quantity = slot.what
        spoken = page.slots[old.slot].what
        if quantity.unit is None and isinstance(spoken, Quantity):
            quantity = replace(quantity, unit=spoken.unit)
        value, doubts = value_of(catalogue.fields[old.name], quantity)
        return replace(
            old, value=value, slot=new, first=first, last=new, doubts=tuple(doubts), alternatives=()
        )
    if not isinstance(slot.what, Spelled) or slot.what.value is None:
        return old
    value_ = slot.what.value
    return replace(
        old, value=value_, slot=new, first=first, last=new, doubts=slot.what.doubts, alternatives=()
    )


def _withdraw(page: Page, cue: Cue, found: list[Statement]) -> list[Statement]:
    """Take back the value right before *scratch that*, if none was put in its place."""
    if _next_value(page, cue) is not None:
        return found
    before = [
        s
        for s in found
        if s.slot < cue.start and page.sentence(s.slot) >= page.sentence(cue.start) - 1
    ]
    return [s for s in found if s is not before[-1]] if before else found
