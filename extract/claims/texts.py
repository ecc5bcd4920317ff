"""Part numbers, oil grades and dates to the fields that their sentence names."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date

from extract.claims.fields import extent
from extract.exact.quantities import Quantity
from extract.exact.spelled import Spelled
from extract.talk.nearness import best_cue, other_pull
from extract.talk.outline import CODE, DATE, GRADE, NUMBER, Cue
from extract.talk.statements import Page, Statement
from extract.values.catalogue import Catalogue, Field
from extract.values.doubts import Unnamed

# An aircraft of the United States register: 14 CFR 47.15(b).
REGISTRATION = re.compile(r"^N\d{1,5}[A-HJ-NP-Z]{0,2}$")
_SYMBOLS = {"code": CODE, "grade": GRADE}


def read_texts(page: Page, catalogue: Catalogue, year: int | None = None) -> tuple[Statement, ...]:
    """Read codes, grades and dates; `year` is that of the memo, for a date said without one."""
    made: list[Statement] = []
    for field in catalogue.fields.values():
        for i, slot in enumerate(page.slots):
            if field.kind == "date" and slot.norm == DATE and field.cues.get("names"):
                made += _date(page, field, i, year)
            elif field.kind == "text" and slot.norm == _SYMBOLS[field.spelled]:
                made += _text(page, field, i)
            elif field.kind == "text" and slot.norm == NUMBER and field.spelled == "code":
                made += _figures(page, field, i)
    return tuple(made)


def _text(page: Page, field: Field, i: int) -> Iterable[Statement]:
    spelled = page.slots[i].what
    if not isinstance(spelled, Spelled):
        return
    if REGISTRATION.match(str(spelled.value)):
        return
    if i and page.slots[i - 1].norm == "no":
        return  # "there is no twenty W fifty left"
    n = page.sentence(i)
    here = [c for c in page.cues[n] if c.owner == field.name]
    if any(c.kind == "unless" and _near(page, c, i) for c in here):
        return
    cue, score = best_cue(page, i, [c for c in here if c.kind == "subjects"], set(), 2.2, 1.8)
    grade = page.slots[i].norm == GRADE
    if grade:
        score = max(score, 1.6)
    elif score < 0.8 and set(field.cues.get("topics", ())) & page.topics[i]:
        score = 1.0
    if score < 0.8 or (not grade and other_pull(page, i) > score + 0.5):
        return
    first, last = extent(page, i, cue)
    doubts = spelled.doubts
    yield Statement(
        field.name,
        str(spelled.value),
        None,
        None,
        i,
        first,
        last,
        score,
        doubts,
        signs={"text": 1.0},
    )


def _same_clause(page: Page, cue: Cue, i: int) -> bool:
    a, b = min(cue.start, i), max(cue.start, i)
    return not any("," in page.slots[k].after for k in range(a, b))


def _near(page: Page, cue: Cue, i: int) -> bool:
    """Say whether no other value stands between a cue and a slot; a cue behind it must touch it."""
    own = {k for k in range(cue.start, cue.end) if page.slots[k].norm == page.slots[i].norm}
    if own:
        return i in own  # "took a dash three off and put a dash four on"
    if cue.start > i:
        return cue.start - i < 4 and not page.slots[i].after
    return not any(page.slots[k].norm == page.slots[i].norm for k in range(cue.end, i))


def _figures(page: Page, field: Field, i: int) -> Iterable[Statement]:
    """*part number four eight one one zero*: figures alone are a code where the words say so."""
    quantity = page.slots[i].what
    if not isinstance(quantity, Quantity) or quantity.unit or "." in quantity.number.digits:
        return
    before = [s.norm for s in page.slots[max(0, i - 4) : i]]
    text = " ".join(before)
    if "part number" not in text and "filter number" not in text and "p n" not in text:
        return
    if len(quantity.number.digits) < 3:
        return
    first, last = extent(page, i, None)
    yield Statement(
        field.name, quantity.number.digits, None, None, i, first, last, 1.5, signs={"text": 1.0}
    )


def _date(page: Page, field: Field, i: int, year: int | None) -> Iterable[Statement]:
    spelled = page.slots[i].what
    if not isinstance(spelled, Spelled):
        return
    n = page.sentence(i)
    a, b = page.bounds[n]
    here = [c for c in page.cues[n] if c.owner == field.name]
    cue, score = best_cue(page, i, [c for c in here if c.kind == "names"], set(), 2.2, 1.8)
    other = [c for c in here if c.kind == "unless" and cue and 0 <= cue.start - c.end <= 2]
    if other:
        return  # "oil batch dated the ninth"
    if score < 1.9 and any(c.kind == "unless" and _same_clause(page, c, i) for c in here):
        return
    doubts = list(spelled.doubts)
    if score < 0.8:
        if b - a > 5:
            doubts.append(Unnamed("nobody said that this is the day of the work"))
        score = 1.2
    value = spelled.value
    if not isinstance(value, date):
        if year is None:
            return
        try:
            value = date(year, spelled.month, spelled.day)
        except ValueError:
            return
        doubts.append(f"no year was said, taken as {year}, that of the memo")
    first, last = extent(page, i, cue)
    yield Statement(
        field.name, value, None, None, i, first, last, score, tuple(doubts), signs={"date": 1.0}
    )
