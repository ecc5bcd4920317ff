"""Numbers to the fields that their sentence names, each with its place and its doubts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from extract.claims.amounts import inherit, value_of
from extract.claims.binding import THRESHOLD, Binding, bind, is_place_number
from extract.claims.places import place_of, place_start
from extract.exact.digits import Number
from extract.exact.quantities import Quantity
from extract.talk.nearness import other_pull
from extract.talk.outline import NUMBER, OVER, RANGE, Cue, number_of
from extract.talk.statements import Page, Statement
from extract.values.catalogue import Catalogue, Field
from extract.values.doubts import Unnamed
from extract.values.draft import Alternative
from extract.words.lists import HOMOPHONES


def read_numbers(page: Page, catalogue: Catalogue) -> tuple[Statement, ...]:
    """Bind every number of a page to a field, where its words call for one."""
    used: set[tuple[str, int]] = set()
    made: list[Statement] = _in_order(page, catalogue)
    spent: set[int] = {s.slot for s in made}
    fields = [f for f in catalogue.fields.values() if f.kind == "number"]
    for i, slot in enumerate(page.slots):
        if slot.norm not in (NUMBER, OVER, RANGE) or i in spent or _told(page, i):
            continue
        if is_place_number(page, i) or _counting(page, i):
            continue
        if placed := _placed_group(page, i, fields):
            made.append(placed)
            continue
        bound = sorted(
            (b for f in fields if (b := bind(page, i, f, used, made)) is not None),
            key=lambda b: -b.score,
        )
        other = other_pull(page, i)
        if not bound or bound[0].score < THRESHOLD or other > bound[0].score:
            continue
        best = _claimant(bound)
        if best.cue is not None:
            used |= {(best.cue.owner, k) for k in range(best.cue.start, best.cue.end)}
        made += _statements(page, i, best, bound[1:], made)
        spent |= {i, *_join(page, made, i)}
    return tuple(made)


def _claimant(bound: Sequence[Binding]) -> Binding:
    """*done up to sixteen volts*: the unit alone gives way to words that say what was done."""
    firm = [b for b in bound if not b.signs.get("loose") and b.score >= THRESHOLD]
    best = firm[0] if firm else bound[0]
    if best.signs.get("fit", 0.0) < 0 and best.signs.get("name", 0.0) < 1.4:
        own = [b for b in bound if b.signs.get("fit", 0.0) > 0 and b.signs.get("topic")]
        return next((b for b in own if b.score >= THRESHOLD), best)
    if any(best.signs.get(sign, 0.0) > 0 for sign in ("name", "frame", "side", "topic", "over")):
        return best
    said = [
        b
        for b in bound
        if b.score >= 1 and max(b.signs.get("frame", 0), b.signs.get("side", 0)) >= 1.5
    ]
    return next((b for b in said if not b.signs.get("loose")), best)


def _placed_group(page: Page, i: int, fields: Sequence[Field]) -> Statement | None:
    """*one seventy-five, two seventy-four*: a cylinder and its value run together as 175."""
    number = number_of(page.slots[i])
    quantity = page.slots[i].what
    field = next((f for f in fields if f.positions and isinstance(f.positions[0], int)), None)
    if number is None or field is None or not isinstance(quantity, Quantity) or quantity.unit:
        return None
    pieces = [text for _, text in number.pieces]
    if (
        number.style != "groups"
        or len(pieces) != 2
        or pieces[0] not in ("1", "2", "3", "4", "5", "6")
    ):
        return None
    value = Decimal(pieces[1])
    if not set(field.cues.get("topics", ())) & page.topics[i] or not field.plausible(value):
        return None
    signs = {"name": 1.0, "margin": 3.0}
    return Statement(
        field.name, value, field.unit, int(pieces[0]), i, page.clause(i), i, 2.5, (), (), signs
    )


def _in_order(page: Page, catalogue: Catalogue) -> list[Statement]:
    """*Hobbs and tach, 1409.2 and 1288.7*: two names, then two readings in the same order."""
    made: list[Statement] = []
    meters = {f.name for f in catalogue.fields.values() if f.decimals == 1}
    for n, (a, b) in enumerate(page.bounds):
        names = [c for c in page.cues[n] if c.kind == "names" and c.owner in meters]
        numbers = [k for k in range(a, b) if page.slots[k].norm == NUMBER]
        points = [k for k in numbers if (number := number_of(page.slots[k])) and number.point]
        firsts = {c.owner: c for c in reversed(names)}
        if len(numbers) != 2 or points != numbers or len(firsts) != 2:
            continue
        one, two = sorted(firsts.values(), key=lambda c: c.start)
        if two.start - one.end > 2 or two.end > numbers[0] or numbers[1] - numbers[0] > 2:
            continue
        for cue, k in zip((one, two), numbers, strict=True):
            binding = Binding(catalogue.fields[cue.owner], 2.5, cue, {"name": 2.0})
            made += _statements(page, k, binding, (), made)
    return made


def _told(page: Page, i: int) -> bool:
    """*all eight*, *both*: how many there are, and no value."""
    quantity = page.slots[i].what
    before = page.slots[i - 1] if i else None
    ahead = page.slots[i + 1].norm if i + 1 < len(page.slots) else ""
    clock = [s.norm for s in page.slots[max(0, i - 2) : i]]
    if ahead == "past" or clock in (["half", "past"], ["quarter", "past"]):
        return True  # half past ten
    return (
        before is not None
        and before.norm in ("all", "every")
        and isinstance(quantity, Quantity)
        and quantity.unit is None
    )


def _counting(page: Page, i: int) -> bool:
    """*one, two, three*: somebody counts."""
    here = _bare_number(page, i)
    for k in (i - 1, i + 1):
        if (
            here is None
            or not 0 <= k < len(page.slots)
            or page.slots[min(i, k)].after not in ("", ",")
        ):
            continue
        other = _bare_number(page, k)
        if other is not None and other - here == k - i and here < 20:
            return True
    return False


def _bare_number(page: Page, i: int) -> Decimal | None:
    quantity = page.slots[i].what
    if not isinstance(quantity, Quantity) or quantity.unit is not None:
        return None
    return quantity.number.value


def _join(page: Page, made: list[Statement], i: int) -> set[int]:
    """*twenty-five, thirty-one point two*: a meter read in groups with a pause between.

    Gives the slot that was joined to the one just bound, which is then no number of its own.
    """
    last = made[-1]
    a, b = number_of(page.slots[i]), None
    other = i + 1 if a and not a.point else i - 1
    if last.unit != "h" or last.slot != i or not 0 <= other < len(page.slots):
        return set()
    b = number_of(page.slots[other])
    left, right = (a, b) if other > i else (b, a)
    pause = page.slots[min(i, other)].after
    if left is None or right is None or pause.strip(",") or left.point or not right.point:
        return set()
    whole = right.digits.split(".")[0]
    if not (left.value >= 10 and left.value % 1 == 0 and len(whole) == 2 and len(left.digits) == 2):
        return set()
    value = Decimal(left.digits + right.digits)
    made[-1] = replace(
        last,
        value=value,
        slot=max(i, other),
        first=min(last.first, other),
        last=max(last.last, other),
        doubts=tuple(d for d in last.doubts if d != NO_TENTHS),
        alternatives=(Alternative(right.value, 0.2, "without the first group"),),
    ).doubted("the figures came in groups with a pause between, and were put together")
    return {other}


NO_TENTHS = "no tenths were said"


def _statements(
    page: Page, i: int, best: Binding, rest: Sequence[Binding], made: Sequence[Statement]
) -> list[Statement]:
    field, slot = best.field, page.slots[i]
    quantity = slot.what
    if not isinstance(quantity, Quantity):
        return []
    quantity, inherited = inherit(page, i, field, quantity, made)
    value, doubts = value_of(field, quantity)
    doubts += inherited
    alternatives: list[Alternative] = []
    number = quantity.number
    if not field.plausible(value):
        doubts.append(f"{value} {field.unit} is unusual for {field.label}")
    if field.decimals == 1 and not number.point:
        doubts.append(NO_TENTHS)
    if field.decimals == 1 and (longer := _begun_before(page, i, number)):
        alternatives.append(Alternative(value, 0.3, f"without “{longer[1]}” before it"))
        value = longer[0]
        doubts.append(f"“{longer[1]}” before the figures was taken for one of them")
    if number.homophones:
        doubts.append("a word that sounds like a figure, such as “to” or “for”, was taken for one")
    said = max(best.signs.get(sign, 0.0) for sign in ("name", "frame", "side", "over"))
    weak = said < 1 and not best.signs.get("topic") and field.alone != "yes"
    if best.signs.get("alone") or weak:
        doubts.append(Unnamed(f"it was not said clearly that this is the {field.label}"))
    close = [b for b in rest if best.score - b.score < 0.3 and b.field.unit == field.unit]
    if close:
        doubts.append(
            Unnamed(f"this may be the value of another thing: the {close[0].field.label}")
        )
    places = place_of(page, i, field) if field.positions else (None,)
    regulated = page.slots[i].norm != OVER and value == 80
    if (
        places == (None,)
        and not regulated
        and made
        and made[-1].name == field.name
        and isinstance(made[-1].position, int)
    ) and page.sentence(i) - page.sentence(made[-1].slot) <= 1:
        places = (made[-1].position,)
        doubts.append("the cylinder was not named; taken as the one named before")
    if places == (None,) and field.over is not None:
        doubts.append("which cylinder was not said")
    first, last = extent(page, i, best.cue)
    first = page.clause(min(first, place_start(page, i, field)))
    unit = field.unit
    signs = dict(best.signs) | {"margin": best.score - rest[0].score if rest else 3.0}
    return [
        Statement(
            field.name, value, unit, place, i, first, last, best.score,
            tuple(doubts), tuple(alternatives), signs,
        )
        for place in places
    ]  # fmt: skip


_MUST_BE_FIGURE = (
    "reads",
    "read",
    "says",
    "shows",
    "is",
    "time",
    "tach",
    "hobbs",
    "reading",
    "showing",
)


def _begun_before(page: Page, i: int, number: Number) -> tuple[Decimal, str] | None:
    """*reads to three four five point six*: no *to* can stand there, so it is the first figure."""
    before = page.slots[max(0, i - 2) : i]
    if len(before) < 2 or before[1].norm not in HOMOPHONES or before[1].after or not number.point:
        return None
    if before[0].norm not in _MUST_BE_FIGURE or number.style not in ("digits", "groups"):
        return None
    return Decimal(HOMOPHONES[before[1].norm] + number.digits), before[1].norm


def extent(page: Page, i: int, cue: Cue | None) -> tuple[int, int]:
    """Give the first and last slot of the words that state a value."""
    first = last = i
    if cue is not None and page.sentence(cue.start) == page.sentence(i):
        first, last = min(first, cue.start), max(last, cue.end - 1)
    return page.clause(first), last
