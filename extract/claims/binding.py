"""How well a number fits a field: cues, units, topics and places weighed together.

The weights below order the kinds of evidence; they were chosen by hand on cases of our own
(tests/extract/cases) and are no probabilities: those come from `extract.witness.confidence`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from extract.claims.amounts import inherit, value_of
from extract.claims.asking import asked, phase
from extract.exact.quantities import Quantity, plain, units
from extract.talk.nearness import best_cue, covered, near_enough
from extract.talk.outline import NUMBER, OVER, PLACE, Cue, number_of
from extract.talk.statements import Page, Statement
from extract.values.catalogue import Field

THRESHOLD = 1.3
_UNUSUAL = -0.6  # a unit that measures the like, but that nobody uses for it


@dataclass(frozen=True, slots=True)
class Binding:
    """A number bound to a field: the score, the cue it leans on most, and what it leans on."""

    field: Field
    score: float
    cue: Cue | None
    signs: dict[str, float]


@dataclass(frozen=True, slots=True)
class Clues:
    """What a sentence holds for a number and a field, each as a weight.

    `cue` is the strongest; `name`, `frame` and `side` (subject and verb) are the kinds of cue,
    `fit` how the unit suits, `topic` whether the talk is of the field's things. `loose` marks a
    phrase that needs the unit and lacks it, `lone` a verb with nothing that it is done to.
    """

    cue: Cue | None
    name: float
    frame: float
    subject: float
    verb: float
    fit: float
    topic: bool
    loose: bool
    lone: bool

    @property
    def side(self) -> float:
        """Give what subject and verb weigh together."""
        return max(self.subject, 0.0) + self.verb


def bind(
    page: Page, i: int, field: Field, used: set[tuple[str, int]], made: Sequence[Statement]
) -> Binding | None:
    """Weigh a number against a field; None where it cannot be that.

    `used` are the cues that an earlier number leant on, as (field, slot); `made` what was bound
    so far.
    """
    quantity = page.slots[i].what
    if not isinstance(quantity, Quantity):
        return None
    quantity, _ = inherit(page, i, field, quantity, made)
    if page.slots[i].norm == OVER or field.over is not None:
        if quantity.number.over is not None:
            same = quantity.number.over == field.over
            return Binding(field, 4.0, None, {"over": 1.0}) if same else None
        if quantity.number.value == field.over:
            return None  # what the gauge was set to
    n = page.sentence(i)
    here = [c for c in page.cues[n] if c.owner == field.name and not covered(page, c, n)]
    if any(c.kind == "unless" and near_enough(page, c, i) for c in here):
        return None
    clues = _clues(page, i, field, quantity, here, used, made)
    value, _ = value_of(field, quantity)
    if _cannot_be(field, quantity, clues, value):
        return None
    main = _main(page, i, field, quantity, clues, made)
    unit = quantity.unit
    firm = clues.fit > 0 and not (unit is not None and unit.dimension == "pounds")
    alone = field.alone != "no" and firm
    if main <= 0 and not (clues.topic and firm) and not alone and not clues.lone:
        return None
    score = main + _support(page, i, field, quantity, clues, here, value)
    signs = {
        "name": clues.name,
        "frame": clues.frame,
        "side": clues.side,
        "fit": clues.fit,
        "topic": float(clues.topic),
        "loose": float(clues.loose and clues.name <= 0 and clues.side <= 0),
    }
    if field.alone == "yes" and clues.fit > 0.5:
        score += 0.9
    elif field.alone == "doubt" and (clues.fit > 0.5 or clues.lone) and score < THRESHOLD:
        score, signs["alone"] = THRESHOLD + 0.1, 1.0
    return Binding(field, score, _leaning(clues, here, i), signs)


def _clues(
    page: Page,
    i: int,
    field: Field,
    quantity: Quantity,
    here: Sequence[Cue],
    used: set[tuple[str, int]],
    made: Sequence[Statement],
) -> Clues:
    unit, n = quantity.unit, page.sentence(i)
    cue, name = best_cue(page, i, [c for c in here if c.kind == "names"], used, 2.2, 1.7)
    if n and name < 1.0:
        before = [c for c in page.cues[n - 1] if c.owner == field.name and c.kind == "names"]
        earlier, carried = best_cue(page, i, before, used, 1.5, 0.0)
        if carried > name:
            cue, name = earlier, carried
    question, answer = asked(page, i, field)
    if answer > name:
        cue, name = question, answer
    topic = _in_topic(page, i, field, made)
    own = (unit is not None and unit.name in field.units) or topic
    frames = [c for c in here if c.slot == i and c.kind in ("frames", "amounts")]
    frames = [c for c in frames if not _runs_over(page, c, n)]
    frame = max((_frame(page, c) for c in frames), default=0.0)
    if frame > name:
        cue = max(frames, key=lambda c: c.literals)
    subjects = [c for c in here if c.kind == "subjects"]
    _, subject = best_cue(page, i, subjects, set(), 1.1, 0.9)
    fit = _unit_fit(field, quantity)
    verbs = [c for c in here if c.kind == "verbs" and -5 <= i - c.end <= 5]
    verb = 0.8 if verbs and (subject > 0 or topic or fit > 0) else 0.0
    bare = unit is None and field.plausible(plain(quantity.number.value))
    return Clues(
        cue,
        name,
        frame,
        subject,
        verb,
        fit,
        topic,
        loose=not own
        and (unit is None or fit < -0.7)
        and bool(frames)
        and all(c.kind == "amounts" for c in frames),
        lone=bool(verbs) and not verb and field.alone == "doubt" and bare,
    )


def _cannot_be(field: Field, quantity: Quantity, clues: Clues, value: Decimal) -> bool:
    """Say whether a number is none of this field's, whatever the words."""
    unit, number = quantity.unit, quantity.number
    if unit is not None and unit.dimension == "other":
        return True
    zero = number.style == "digits" and number.digits.startswith("0") and not number.point
    if zero and field.unit not in ("in", "h"):
        return True
    if clues.fit < -0.7 and clues.name < 1.4 and not _is_slip(field, quantity, clues):
        return True  # a unit of something else: only the field's own name can hold the number
    if unit is None and _far_off(field, value):
        return True
    if field.plausible(value):
        return False
    weak = unit is None and max(clues.name, clues.frame, clues.side) < 1
    return weak or clues.fit == _UNUSUAL or (unit is not None and unit.dimension == "pounds")


def _is_slip(field: Field, quantity: Quantity, clues: Clues) -> bool:
    """*put in six and a half psi of oil*: what was done, a likely number and a wrong unit."""
    unit = quantity.unit
    if unit is None or unit.dimension not in ("volume", "torque", "pressure", "voltage", "speed"):
        return False
    said = max(clues.frame, clues.side) >= 1.5 and not clues.loose
    return said and field.plausible(quantity.number.value)


def _main(
    page: Page,
    i: int,
    field: Field,
    quantity: Quantity,
    clues: Clues,
    made: Sequence[Statement],
) -> float:
    """Weigh what names the field: its cues, a place, the statement before."""
    both = clues.name > 0 and clues.frame > 0
    main = max(clues.name, clues.frame) + (0.25 if both else 0.0)
    if clues.side > main:
        main = clues.side
    elif main > 0:
        main += 0.3 * min(clues.side, 1.0)
    main += _parallel(page, i, field, quantity, made)
    if main > 0:
        said = {s.name for s in made}
        main += 0.3 * bool(said & set(field.follows)) - 0.3 * bool(said & set(field.precedes))
        main += _ahead(page, i, field, said)
    return max(main, _placed(page, i, field, clues.topic))


def _support(
    page: Page,
    i: int,
    field: Field,
    quantity: Quantity,
    clues: Clues,
    here: Sequence[Cue],
    value: Decimal,
) -> float:
    """Weigh what speaks for the field beside its cues: unit, topic, plausible value, form."""
    also = _comment(page, page.sentence(i), field)
    score = min(0.8, 0.5 * sum(c.kind == "beside" for c in [*here, *also]))
    if max(clues.name, clues.frame) >= 1 or (clues.topic and clues.fit > 0):
        score += phase(page, i, field)
    slip = clues.fit < -0.7 and max(clues.name, clues.frame, clues.side) >= 1.5
    score += -0.4 if slip else clues.fit  # its own name right beside a foreign unit
    if clues.topic:
        score += 0.7 if clues.fit > 0 or clues.verb else 0.3
    if clues.fit >= 0 or quantity.unit is None:
        score += 0.2 if field.plausible(value) else -1.0
    if field.decimals == 1:
        score += 0.4 if quantity.number.point and quantity.number.value >= 10 else -0.2
    return score


def _leaning(clues: Clues, here: Sequence[Cue], i: int) -> Cue | None:
    """Give the cue that a number leans on most."""
    if clues.cue is not None and max(clues.name, clues.frame) >= min(clues.side, 1.0):
        return clues.cue
    near = [c for c in here if c.kind in ("subjects", "verbs")]
    return min(near, key=lambda c: abs(c.start - i), default=clues.cue)


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
        page.shared[s.name] & page.shared[field.name]
        and page.sentence(i) - page.sentence(s.slot) <= 1
        for s in made[-3:]
    )


def _far_off(field: Field, value: Decimal) -> bool:
    """A number without a unit that is nowhere near what the field can be is some other number."""
    if field.low is None or field.high is None or field.unit == "h":
        return False
    return value * 2 < field.low or value * 10 > field.high * 13


def _frame(page: Page, cue: Cue) -> float:
    """Weigh a frame: more words of it said speak for it, pauses inside against it."""
    pauses = sum(bool(page.slots[k].after.strip(":")) for k in range(cue.start, cue.end - 1))
    if pauses and cue.kind == "amounts":
        return 0.0
    return 1.8 + 0.25 * cue.literals - 1.0 * pauses


def _runs_over(page: Page, cue: Cue, n: int) -> bool:
    """*oil pressure came up to #* is no *oil .. up to #*: the longer name takes the words."""
    return any(
        o.kind == "names"
        and o.owner != cue.owner
        and o.literals > 1
        and o.start == cue.start
        and o.end < cue.end
        for o in page.cues[n]
    ) and not any(
        o.owner == cue.owner and o.kind == "names" and o.start == cue.start and o.literals > 1
        for o in page.cues[n]
    )


def _placed(page: Page, i: int, field: Field, topic: bool) -> float:
    """While the talk is of tires or cylinders, a place right before a number is cue enough."""
    if not (topic and field.positions):
        return 0.0
    for k in range(i - 1, max(-1, i - 5), -1):
        slot = page.slots[k]
        if slot.norm == PLACE or (slot.norm == NUMBER and is_place_number(page, k)):
            return 1.2 if isinstance(field.positions[0], int) else 0.0
        if any(
            c.owner == field.name and c.kind.startswith("place:") and c.end == k + 1
            for c in page.cues[page.sentence(i)]
        ):
            return 1.2
        if slot.after.strip(",:") or slot.norm in (NUMBER, OVER):
            return 0.0
    return 0.0


def _parallel(
    page: Page, i: int, field: Field, quantity: Quantity, made: Sequence[Statement]
) -> float:
    """*tops at sixteen thou, bottoms at seventeen*: the second is of the field of the first."""
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


def _unit_fit(field: Field, quantity: Quantity) -> float:
    unit = quantity.unit
    if unit is None:
        if field.unit == "in" and quantity.number.digits.startswith("0"):
            return 0.6
        return 0.0
    if unit.name in field.units:
        return 0.6 if unit.loose else 0.8
    if field.unit and unit.dimension == units()[field.unit].dimension:
        return _UNUSUAL
    return -0.8


def is_place_number(page: Page, i: int) -> bool:
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
