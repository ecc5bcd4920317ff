"""Numbers to the fields that their sentence names: cues, units, topics and places weighed together.

The weights below order the kinds of evidence; they were chosen by hand on cases of our own
(tests/extract/cases) and are no probabilities: those come from `extract.confidence`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from extract.catalogue import Catalogue, Field
from extract.draft import Alternative
from extract.outline import NUMBER, OVER, PLACE, RANGE, Cue, Slot, number_of
from extract.numbers import Number
from extract.places import place_of, place_start
from extract.quantities import Quantity, convert, plain, units
from extract.statements import Page, Statement
from extract.words import HOMOPHONES

THRESHOLD = 1.3
_CONNECT = ("for", "on", "in", "of", "at", "is", "was")


@dataclass(frozen=True, slots=True)
class Binding:
    """A number bound to a field: the score, the cue it leans on most, and what it leans on."""

    field: Field
    score: float
    cue: Cue | None
    signs: dict[str, float]


def read_numbers(page: Page, catalogue: Catalogue) -> tuple[Statement, ...]:
    """Bind every number of a page to a field, where its words call for one."""
    used: set[tuple[str, int]] = set()
    made: list[Statement] = _in_order(page, catalogue)
    spent: set[int] = {s.slot for s in made}
    fields = [f for f in catalogue.fields.values() if f.kind == "number"]
    for i, slot in enumerate(page.slots):
        if slot.norm not in (NUMBER, OVER, RANGE) or i in spent or _told(page, i):
            continue
        if _is_place_number(page, i) or _counting(page, i):
            continue
        if placed := _placed_group(page, i, fields):
            made.append(placed)
            continue
        bound = sorted(
            (b for f in fields if (b := _bind(page, i, f, used, made, catalogue)) is not None),
            key=lambda b: -b.score,
        )
        other = _other(page, i, catalogue)
        if not bound or bound[0].score < THRESHOLD or other > bound[0].score:
            continue
        best = bound[0]
        if best.cue is not None:
            used |= {(best.cue.owner, k) for k in range(best.cue.start, best.cue.end)}
        made += _statements(page, i, best, bound[1:], made)
        spent |= {i, *_join(page, made, i)}
    return tuple(made)


def _placed_group(page: Page, i: int, fields: Sequence[Field]) -> Statement | None:
    """*one seventy-five, two seventy-four*: a cylinder and its value run together as 175."""
    number = number_of(page.slots[i])
    quantity = page.slots[i].what
    field = next((f for f in fields if f.positions and isinstance(f.positions[0], int)), None)
    if number is None or field is None or not isinstance(quantity, Quantity) or quantity.unit:
        return None
    pieces = [text for _, text in number.pieces]
    if number.style != "groups" or len(pieces) != 2 or pieces[0] not in ("1", "2", "3", "4", "5", "6"):
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


def _is_place_number(page: Page, i: int) -> bool:
    """*five was seventy-four over eighty*: the five is a place."""
    number = number_of(page.slots[i])
    if (
        number is None
        or not (1 <= number.value <= 6)
        or number.value % 1
        or page.slots[i].norm == OVER
    ):
        return False
    quantity = page.slots[i].what
    if isinstance(quantity, Quantity) and quantity.unit is not None:
        return False
    ahead = page.slots[i + 1 : i + 5]
    for slot in ahead:
        if slot.norm == OVER:
            return True
        if slot.norm == NUMBER:
            return "compression" in page.topics[i] and 40 <= (number_of(slot) or number).value <= 80
        if slot.norm not in (
            "was",
            "is",
            "at",
            "came",
            "up",
            "in",
            "had",
            "got",
            "gave",
            "reads",
            "read",
            "showed",
            "cylinder",
        ):
            return False
    return False


def _bind(
    page: Page,
    i: int,
    field: Field,
    used: set[tuple[str, int]],
    made: Sequence[Statement],
    catalogue: Catalogue,
) -> Binding | None:
    quantity = page.slots[i].what
    if not isinstance(quantity, Quantity):
        return None
    quantity, _ = _inherit(page, i, field, quantity, made)
    unit = quantity.unit
    if unit is not None and unit.dimension == "other":
        return None
    if page.slots[i].norm == OVER:
        if "psi" != field.unit or not field.positions or "compression" not in field.name:
            return None
        return Binding(field, 4.0, None, {"over": 1.0})
    n = page.sentence(i)
    here = [c for c in page.cues[n] if c.owner == field.name and not _covered(page, c, n)]
    if field.positions and quantity.number.value == 80 and page.slots[i].norm != OVER and field.high == 80:
        return None  # what the gauge was set to
    if any(c.kind == "unless" and _near_enough(page, c, i) for c in here):
        return None
    signs: dict[str, float] = {}
    cue, name = _best(page, i, [c for c in here if c.kind == "names"], used, 2.2, 1.7)
    if n and name < 1.0:
        before = [c for c in page.cues[n - 1] if c.owner == field.name and c.kind == "names"]
        earlier, value = _best(page, i, before, used, 1.5, 0.0)
        if value > name:
            cue, name = earlier, value
    own = (unit is not None and unit.name in field.units) or _in_topic(page, i, field, made)
    frames = [c for c in here if c.slot == i and c.kind in ("frames", "amounts")]
    signs["loose"] = float(
        not own and unit is None and bool(frames) and all(c.kind == "amounts" for c in frames)
    )
    frame = max((_frame(page, c) for c in frames), default=0.0)
    if frame > name:
        cue = max(frames, key=lambda c: c.literals)
    subject_cue, subject = _best(
        page, i, [c for c in here if c.kind == "subjects"], set(), 1.1, 0.9
    )
    verbs = [c for c in here if c.kind == "verbs" and -5 <= i - c.end <= 5]
    fit = _unit_fit(field, quantity)
    topic = _in_topic(page, i, field, made)
    verb = 0.8 if verbs and (subject > 0 or topic or fit > 0) else 0.0
    lone = field.plausible(plain(quantity.number.value)) and bool(verbs) and not verb and field.alone == "doubt" and quantity.unit is None
    main = max(name, frame) + (0.25 if name > 0 and frame > 0 else 0.0)
    side = max(subject, 0.0) + verb
    if side > main:
        main, cue = side, cue if main > 1 else (subject_cue or (verbs[0] if verbs else None))
    elif main > 0:
        main += 0.3 * min(side, 1.0)
    main += _parallel(page, i, field, quantity, made)
    said = {s.name for s in made}
    if main > 0:
        main += 0.3 * bool(said & set(field.follows)) - 0.3 * bool(said & set(field.precedes))
        main += _ahead(page, i, field, said)
    also = _comment(page, n, field)
    beside = min(0.8, 0.5 * sum(c.kind == "beside" for c in [*here, *also]))
    zero = quantity.number.digits.startswith("0") and "." not in quantity.number.digits
    if zero and field.unit not in ("in", "h") and quantity.number.style == "digits":
        return None
    pounds = unit is not None and unit.dimension == "pounds"
    firm = fit > 0 and not pounds
    if fit < -0.7 and name < 1.4 and subject <= 0:
        return None  # a unit of something else: only the field's own name can hold the number
    alone = field.alone != "no" and firm
    main = max(main, _placed(page, i, field, topic))
    if main <= 0 and not (topic and firm) and not alone and not lone:
        return None
    if fit < -0.7 and max(name, frame) >= 1.9:
        fit = -0.4  # its own name right beside it: a slip of the tongue
    score = main + fit + beside
    score += (0.7 if fit > 0 or verb else 0.3) if topic else 0.0
    value, _ = value_of(field, quantity)
    if not field.plausible(value) and (pounds or (unit is None and max(name, frame, side) < 1)):
        return None
    if unit is None and _far_off(field, value):
        return None
    if fit >= 0 or unit is None:
        score += 0.2 if field.plausible(value) else -1.0
    if field.decimals == 1:
        number = quantity.number
        score += 0.4 if number.point and number.value >= 10 else -0.2
    if field.alone == "yes" and fit > 0.5:
        score += 0.9
    elif field.alone == "doubt" and (fit > 0.5 or lone) and score < THRESHOLD:
        score, signs["alone"] = THRESHOLD + 0.1, 1.0
    signs["loose"] *= float(name <= 0 and side <= 0)
    signs |= {"name": name, "frame": frame, "side": side, "fit": fit, "topic": float(topic)}
    return Binding(field, score, cue, signs)


def _comment(page: Page, n: int, field: Field) -> list[Cue]:
    """*stick says six. That's before I drain it*: what the next sentence says of this one."""
    if n + 1 >= len(page.bounds) or page.slots[page.bounds[n + 1][0]].norm not in ("that", "this"):
        return []
    return [c for c in page.cues[n + 1] if c.owner == field.name]


def _ahead(page: Page, i: int, field: Field, said: set[str]) -> float:
    """A level is that before the work if the draining is told of later, and not yet."""
    if not field.precedes:
        return 0.0
    later = any(
        c.owner in field.precedes and c.kind in ("frames", "amounts") and c.slot is not None
        for found in page.cues[page.sentence(i) + 1 :]
        for c in found
    )
    return 0.35 if later and not said & set(field.precedes) else -0.15


def _in_topic(page: Page, i: int, field: Field, made: Sequence[Statement]) -> bool:
    """The talk is of this field's things, by its words or by a value just bound."""
    if set(field.cues.get("topics", ())) & page.topics[i]:
        return True
    return any(
        s.name in field.follows and page.sentence(i) - page.sentence(s.slot) <= 1 for s in made[-3:]
    )


def _far_off(field: Field, value: Decimal) -> bool:
    """A number without a unit that is nowhere near what the field can be is some other number."""
    if field.low is None or field.high is None or field.unit == "h":
        return False
    return value * 2 < field.low or value > field.high * 2


def _covered(page: Page, cue: Cue, n: int) -> bool:
    """*tail wheel* is no *wheel*: a longer name of something else takes the words."""
    size = cue.end - cue.start
    return cue.kind == "names" and any(
        o.kind == "other" and o.start <= cue.start and cue.end <= o.end and o.end - o.start > size
        for o in page.cues[n]
    )


def _frame(page: Page, cue: Cue) -> float:
    """Weigh a frame: the more words of it were said the better, and pauses inside speak against it."""
    pauses = sum(bool(page.slots[k].after.strip(":")) for k in range(cue.start, cue.end - 1))
    return 1.8 + 0.25 * cue.literals - 1.0 * pauses


def _told(page: Page, i: int) -> bool:
    """*all eight*, *both*: how many there are, and no value."""
    quantity = page.slots[i].what
    before = page.slots[i - 1] if i else None
    return (
        before is not None
        and before.norm in ("all", "every")
        and isinstance(quantity, Quantity)
        and quantity.unit is None
    )


def _counting(page: Page, i: int) -> bool:
    """*one, two, three*: somebody counts."""
    here = number_of(page.slots[i])
    for k in (i - 1, i + 1):
        if here is None or not 0 <= k < len(page.slots) or page.slots[min(i, k)].after not in ("", ","):
            continue
        other = number_of(page.slots[k])
        plain = all(isinstance(page.slots[x].what, Quantity) and page.slots[x].what.unit is None for x in (i, k))  # type: ignore[union-attr]
        if other is not None and plain and other.value - here.value == k - i and here.value < 20:
            return True
    return False


def _placed(page: Page, i: int, field: Field, topic: bool) -> float:
    """While the talk is of tyres or cylinders, a place right before a number is cue enough."""
    if not (topic and field.positions):
        return 0.0
    for k in range(i - 1, max(-1, i - 5), -1):
        slot = page.slots[k]
        if slot.norm == PLACE or (slot.norm == NUMBER and _is_place_number(page, k)):
            return 1.2 if isinstance(field.positions[0], int) else 0.0
        if any(c.owner == field.name and c.kind.startswith("place:") and c.end == k + 1 for c in page.cues[page.sentence(i)]):
            return 1.2
        if slot.after.strip(",:") or slot.norm in (NUMBER, OVER):
            return 0.0
    return 0.0


def _parallel(
    page: Page, i: int, field: Field, quantity: Quantity, made: Sequence[Statement]
) -> float:
    """*tops at sixteen thou, bottoms at seventeen*: the second goes on with the field of the first."""
    if not field.positions or not made or made[-1].name != field.name:
        return 0.0
    last = made[-1].slot
    if page.sentence(i) - page.sentence(last) > 1:
        return 0.0
    spoken = page.slots[last].what
    units_ = {quantity.unit, spoken.unit} if isinstance(spoken, Quantity) else set()
    if len(units_ - {None}) > 1:
        return 0.0
    placed = any(
        c.owner == field.name and c.kind.startswith("place:") and last < c.start < i
        for c in page.cues[page.sentence(i)]
    )
    return 1.6 if placed else 0.0


def _join(page: Page, made: list[Statement], i: int) -> set[int]:
    """*twenty-five, thirty-one point two*: a meter read in groups with a pause between them.

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
    ).doubted("read in groups with a pause between them")
    return {other}


NO_TENTHS = "no tenths were said"


def _near_enough(page: Page, cue: Cue, i: int) -> bool:
    """Say whether a cue that speaks against a field stands in the clause of the number."""
    if cue.end <= i:
        return not any(page.slots[k].norm in (NUMBER, OVER) for k in range(cue.end, i))
    between = page.slots[i : cue.start]
    return not any(
        s.after or s.norm in ("and", "but", "so") or (k and s.norm in (NUMBER, OVER))
        for k, s in enumerate(between)
    )


def _best(
    page: Page, i: int, cues: Sequence[Cue], used: set[tuple[str, int]], before: float, after: float
) -> tuple[Cue | None, float]:
    """Give the cue that a number leans on most, and how much."""
    best: tuple[Cue | None, float] = (None, 0.0)
    for cue in cues:
        if _denied(page, cue):
            continue
        score = _pull(page, i, cue, before, after)
        if used and any((cue.owner, k) in used for k in range(cue.start, cue.end)):
            score -= 1.0
        if score > best[1]:
            best = (cue, score)
    return best


def _denied(page: Page, cue: Cue) -> bool:
    """*not the tach*."""
    before = [s.norm for s in page.slots[max(0, cue.start - 2) : cue.start]]
    return before[-1:] == ["not"] or before == ["not", "the"]


def _pull(page: Page, i: int, cue: Cue, before: float, after: float) -> float:
    slots = page.slots
    if cue.end <= i:
        between = range(cue.end, i)
        score = before - 0.1 * len(between)
        commas = sum(bool(slots[k].after.strip(".?!;:")) for k in range(cue.end - 1, i))
        score -= 0.15 * commas
    elif cue.start > i:
        between = range(i + 1, cue.start)
        score = after - 0.15 * len(between)
        commas = sum(bool(slots[k].after) for k in range(i, cue.start))
        score -= 0.6 * commas
        if not commas and between and slots[i + 1].norm in _CONNECT:
            score += 0.6
    else:
        return before
    numbers = sum(slots[k].norm in (NUMBER, OVER) for k in between)
    breaks = sum(slots[k].norm in ("and", "but", "so") for k in between)
    return score - 1.0 * numbers - 0.1 * breaks + 0.05 * cue.literals


def _other(page: Page, i: int, catalogue: Catalogue) -> float:
    n = page.sentence(i)
    cues = [c for c in page.cues[n] if c.kind == "other"]
    return _best(page, i, cues, set(), 2.3, 1.8)[1] + (0.5 if cues else 0.0)


def _unit_fit(field: Field, quantity: Quantity) -> float:
    unit = quantity.unit
    if unit is None:
        if field.unit == "in" and quantity.number.digits.startswith("0"):
            return 0.6
        return 0.0
    if unit.name in field.units:
        return 0.6 if unit.loose else 0.8
    if field.unit and unit.dimension == units()[field.unit].dimension:
        return -0.6
    return -0.8


def value_of(field: Field, quantity: Quantity) -> tuple[Decimal, list[str]]:
    """Bring a quantity to the field's unit: the value and the doubts that this raises."""
    number, unit = quantity.number, quantity.unit
    target = units()[field.unit or ""]
    if unit is None:
        return _without_unit(field, quantity)
    if unit.name == "mil" and target.dimension in ("volume", "length"):
        return _mil(field, number.value)
    if unit.dimension == target.dimension:
        if unit.name == "in" and number.value >= 1 and field.unit == "in":
            return _without_unit(field, quantity)
        return convert(number.value, unit, target, field.step), []
    if unit.name in field.units:
        doubts = (
            [f"only “{unit.name}” was said, taken as {field.unit}"] if field.unit == "ft-lb" else []
        )
        return plain(number.value), doubts
    return plain(number.value), [f"{unit.name} was said, which is no unit of {field.label}"]


def _mil(field: Field, value: Decimal) -> tuple[Decimal, list[str]]:
    """A *mil* is a millilitre of oil, and of wire a millimetre or, in figures of ten, a thousandth."""
    target = units()[field.unit or ""]
    meant = "ml" if target.dimension == "volume" else "mm" if value < 5 else "thou"
    doubts = [f"“mil” taken as {meant}"] if meant == "thou" else []
    return convert(value, units()[meant], target, field.step), doubts


def _without_unit(field: Field, quantity: Quantity) -> tuple[Decimal, list[str]]:
    number = quantity.number
    if field.unit == "in" and number.digits.startswith("0") and "." not in number.digits:
        return Decimal("0." + number.digits), []
    value = plain(number.value)
    if field.bare is not None and not field.plausible(value):
        bare = units()[field.bare]
        other = convert(value, bare, units()[field.unit or ""], field.step)
        if field.plausible(other):
            doubts = [] if field.unit == "in" else [f"no unit was said, taken as {bare.name}"]
            return other, doubts
    return value, []


def _statements(
    page: Page, i: int, best: Binding, rest: Sequence[Binding], made: Sequence[Statement]
) -> list[Statement]:
    field, slot = best.field, page.slots[i]
    quantity = slot.what
    assert isinstance(quantity, Quantity)
    quantity, inherited = _inherit(page, i, field, quantity, made)
    value, doubts = value_of(field, quantity)
    doubts += inherited
    alternatives: list[Alternative] = []
    number = quantity.number
    if not field.plausible(value):
        doubts.append(f"{value} {field.unit} is out of the ordinary for {field.label}")
    if field.decimals == 1 and not number.point:
        doubts.append(NO_TENTHS)
    if field.decimals == 1 and (longer := _begun_before(page, i, number)):
        alternatives.append(Alternative(value, 0.3, f"without “{longer[1]}” before it"))
        value = longer[0]
        doubts.append(f"“{longer[1]}” before the figures was taken for one of them")
    if number.homophones:
        doubts.append("a word that only sounds like a figure was taken for one")
    if best.signs.get("alone"):
        doubts.append(f"hardly anything says that this is the {field.label}")
    close = [b for b in rest if best.score - b.score < 0.3 and b.field.unit == field.unit]
    if close:
        doubts.append(f"could also be the {close[0].field.label}")
    places = place_of(page, i, field) if field.positions else (None,)
    regulated = page.slots[i].norm != OVER and value == 80
    if places == (None,) and not regulated and made and made[-1].name == field.name and isinstance(made[-1].position, int):
        if page.sentence(i) - page.sentence(made[-1].slot) <= 1:
            places = (made[-1].position,)
            doubts.append("which cylinder was not said, taken as the one before")
    first, last = _extent(page, i, best.cue)
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


_MUST_BE_FIGURE = ("reads", "read", "says", "shows", "is", "time", "tach", "hobbs", "reading", "showing")


def _begun_before(page: Page, i: int, number: Number) -> tuple[Decimal, str] | None:
    """*reads to three four five point six*: no *to* can stand there, so it is the first figure."""
    before = page.slots[max(0, i - 2) : i]
    if len(before) < 2 or before[1].norm not in HOMOPHONES or before[1].after or not number.point:
        return None
    if before[0].norm not in _MUST_BE_FIGURE or number.style not in ("digits", "groups"):
        return None
    return Decimal(HOMOPHONES[before[1].norm] + number.digits), before[1].norm


def _inherit(
    page: Page, i: int, field: Field, quantity: Quantity, made: Sequence[Statement]
) -> tuple[Quantity, list[str]]:
    """*out came five litres, in went six*: a number without a unit after one in a foreign unit."""
    if quantity.unit is not None or not made or field.unit is None:
        return quantity, []
    spoken = page.slots[made[-1].slot].what
    unit = spoken.unit if isinstance(spoken, Quantity) else None
    close = page.sentence(i) - page.sentence(made[-1].slot) <= 1
    if unit is None or not close or unit.name == field.unit or unit.name not in field.units:
        return quantity, []
    if unit.loose or unit.dimension != units()[field.unit].dimension or field.unit == "in":
        return quantity, []
    return replace(quantity, unit=unit), [f"no unit was said, taken as {unit.name} like the one before"]


def _extent(page: Page, i: int, cue: Cue | None) -> tuple[int, int]:
    """Give the first and last slot of the words that state a value."""
    first = last = i
    if cue is not None and page.sentence(cue.start) == page.sentence(i):
        first, last = min(first, cue.start), max(last, cue.end - 1)
    return page.clause(first), last


def is_number(slot: Slot) -> bool:
    """Say whether a slot is a number that can be a value."""
    return slot.norm in (NUMBER, OVER)


__all__ = ["PLACE", "Binding", "is_number", "read_numbers", "value_of"]
