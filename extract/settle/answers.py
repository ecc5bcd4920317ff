"""A value said by itself, which answers what was asked: *seventeen*, *negative, one seven*.

Alone it is of nothing. Which question it can answer is for who knows what was asked, and when
(`desk.answers`); here is what makes it bare, and what it is of the field that was asked about.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache, lru_cache

from capture.observed import Word
from extract.exact.candidates import find_candidates
from extract.exact.fitted import FOREIGN, Fitted, fitted
from extract.exact.reading import Candidate
from extract.mend.doc import to_doc
from extract.talk.outline import CODE, GRADE, NUMBER, OVER, outline
from extract.values.catalogue import Catalogue, Field
from extract.values.defects import FINDINGS
from extract.values.draft import SAID_BEFORE, Alternative, Draft, Value
from extract.words.lists import DIGITS, FRACTIONS, POINTS, TEENS, TENS, table

LONGEST = 16  # words of an answer; a part number by the spelling alphabet has as many
LIKELY = 0.15  # what is less likely was not asked about
_UNITS = 5  # words of a unit, and of what joins figures: and, dash, a, foot, pounds
NEITHER = "it is none of the readings that were asked about"
# How sure an answer is that every hearing has, and one that is doubted: our own choice, no fit.
SURE, DOUBTED = 0.9, 0.6
_CODE = re.compile(r"(?=.*\d)[A-Z0-9][A-Z0-9/.-]*|-[A-Z0-9/.-]+")


@dataclass(frozen=True, slots=True)
class Bare:
    """A value said by itself, once or over again; `corrects` says that a correction opens it."""

    said: tuple[Candidate, ...]
    corrects: bool

    @property
    def is_number(self) -> bool:
        """Tell whether it is a number and no code or grade, which can tell by itself what it is."""
        return all(one.readings[0].kind == "number" for one in self.said)


@lru_cache(maxsize=2048)
def bare(words: tuple[Word, ...], catalogue: Catalogue) -> Bare | None:
    """Give what is said in heard words, where that is a value by itself; else None."""
    if not 0 < len(words) <= LONGEST or not _may_be(words):
        return None
    doc = to_doc(words)
    parts = doc._.parts
    elements = outline(parts, _longest(find_candidates(parts, catalogue, [w.text for w in words])))
    values = [s for s in elements if s.norm in (NUMBER, OVER, GRADE, CODE)]
    beside = [s.norm for s in elements if s not in values]
    if not values or any(norm not in _beside() for norm in beside):
        return None
    said = tuple(element.what for element in values if element.what is not None)
    if len({one.readings[0].value for one in said}) > 1:
        return None
    return Bare(said, _corrects([element.norm for element in elements]))


def _may_be(words: Sequence[Word]) -> bool:
    """Tell at a glance whether words may be a value by itself: most of a note is not looked at."""
    texts = [word.text.lower().strip(" ,.?!;:'\"") for word in words]
    figures = [any(c.isdigit() for c in one) or one.split("-")[0] in _figures() for one in texts]
    strange = [
        one
        for one, is_figure in zip(texts, figures, strict=True)
        if not is_figure and one not in _beside()
    ]
    return any(figures) and len(strange) <= _UNITS


@cache
def _figures() -> frozenset[str]:
    letters = (*table("spelled")["letters"], *"abcdefghijklmnopqrstuvwxyz")
    return frozenset([*DIGITS, *TEENS, *TENS, *FRACTIONS, *POINTS, *letters, "x-ray"])


def _longest(found: Sequence[Candidate]) -> list[Candidate]:
    """Give candidates of which none overlaps another, the longest first."""
    taken: set[int] = set()
    made = []
    for one in sorted(found, key=lambda c: (c.start - c.end, c.start)):
        span = set(range(one.start, one.end))
        if not span & taken:
            taken |= span
            made.append(one)
    return made


@cache
def _beside() -> frozenset[str]:
    told = table("assertions")
    return frozenset(word for row in (*told["answer"], *told["correction"]) for word in row.split())


def _corrects(norms: Sequence[str]) -> bool:
    rows = [row.split() for row in table("assertions")["correction"]]
    return any(norms[: len(row)] == row for row in rows)


def readings(asked: Draft) -> list[Value]:
    """Give the values that a question about a draft offers."""
    others = [a for a in asked.alternatives if a.confidence >= LIKELY and a.why != SAID_BEFORE]
    return [asked.value, *(a.value for a in others)]


def of_field(told: Bare, asked: Draft, field: Field) -> Fitted | None:
    """Give what a bare value is of the field of a draft: a reading of it, else what can be."""
    if field.kind not in ("number", "text") or asked.name in FINDINGS:
        return None
    if field.kind == "text" and field.spelled != "grade" and not _CODE.fullmatch(str(asked.value)):
        return None  # a text that is no code is not spelled
    fits = [
        fit
        for fit in fitted(told.said[-1], field)
        if FOREIGN not in fit.supposed and fit.supposed != "it has no letter"
    ]
    same = field.kind_object.same
    offered = [fit for fit in fits if any(same(fit.value, value) for value in readings(asked))]
    if offered:
        return offered[0]
    # what nobody asked about is taken as it was said: no point and no unit is supposed
    said = [fit for fit in fits if not fit.supposed]
    likely = [f for f in said if not isinstance(f.value, Decimal) or field.plausible(f.value)]
    return likely[0] if likely else None


@dataclass(frozen=True, slots=True)
class Answer:
    """What the hearings of a bare value make of a field: its likeliest value, and the others.

    `offered` says that it is one of the readings that were asked about; `agreed` that every hearing
    has it.
    """

    value: Value
    others: tuple[Value, ...]
    offered: bool
    agreed: bool
    doubts: tuple[str, ...] = ()


def answer(heard: Sequence[Bare | None], asked: Draft, field: Field) -> Answer | None:
    """Give how the hearings of some words answer what was asked; None where they do not.

    `heard` has each hearing's bare value, or None where a hearing has other words.
    """
    same = field.kind_object.same
    fits = [of_field(told, asked, field) if told is not None else None for told in heard]
    found = [fit for fit in fits if fit is not None]
    if not found:
        return None
    votes = Counter(
        next(n for n, other in enumerate(found) if same(fit.value, other.value)) for fit in found
    )
    order = [found[n] for n, _ in votes.most_common()]
    best = order[0]
    offered = any(same(best.value, value) for value in readings(asked))
    doubts = [best.reading.doubt] if best.reading.doubt else []
    agreed = votes.most_common(1)[0][1] == len(heard)
    return Answer(best.value, tuple(f.value for f in order[1:]), offered, agreed, tuple(doubts))


def settled(asked: Draft, told: Answer, field: Field, *, corrects: bool) -> Draft:
    """Give a draft as its answer leaves it, with the doubts that the answer leaves.

    The place in the sound, the words and the moment are still those of what was asked about.
    """
    show = field.kind_object.show
    doubts = list(told.doubts)
    if told.others:
        others = " or ".join(show(value, field.unit) for value in told.others)
        doubts.append(f"the answer may also have been {others}")
    elif not told.agreed:
        doubts.append("the answer was not heard clearly; listen again")
    if not told.offered and not corrects:
        doubts.append(NEITHER)
    alternatives = [Alternative(value, 0.4, "another hearing") for value in told.others]
    if not told.offered and not corrects:
        alternatives += [Alternative(value, 0.3, "asked about") for value in readings(asked)]
    return Draft(
        asked.name,
        told.value,
        asked.unit,
        asked.position,
        asked.media,
        asked.start,
        asked.end,
        asked.said_at,
        asked.heard,
        DOUBTED if doubts else SURE,
        tuple(doubts),
        tuple(alternatives),
    )
