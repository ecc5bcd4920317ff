"""What is already known ranks the readings of a meter; it never makes a value that nobody said.

A meter does not run backwards, cannot outrun the calendar, and mostly runs some tens of hours from
one service to the next. A reading that cannot be falls behind another reading of the same words
that can, and the draft says so; what was heard faintly is kept where it is just what was due.
"""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from typing import Any

from extract.exact.reading import Reading
from extract.talk.outline import NUMBER
from extract.talk.statements import Statement
from extract.values.catalogue import Catalogue
from extract.values.draft import Alternative, Draft, Value
from extract.values.known import Known

UNNAMED = "the name of the meter was not heard; it is what the tach was due to show"

# Hours from one service to the next: common practice (25, 50 or 100 h, or a year of private
# flying), no published source. Further is unusual, and nothing is wrong with it.
USUAL = Decimal(150)
FAR = Decimal(500)
_DAY_H = Decimal(27)  # a day's hours at the 1.125 that a tach may run ahead of the clock
# How much a reading's log-odds gain or lose by where it stands after the last: our own choice.
_DUE, _UNUSUAL, _IMPOSSIBLE = 1.5, -1.0, -6.0
_WEAKEST = 0.05
_KEPT = 0.76  # how sure a faint reading is that is just what was due; stays below every doubt
_CLEAR, _FAINT = 0.9, 0.5  # a reading that cannot be and was heard faintly is no draft
_AGAINST = 0.72  # how sure a clear reading is that cannot be; no reason to leave it out


def expect(draft: Draft, catalogue: Catalogue, known: Known) -> Draft:
    """Rank the readings of one draft of a meter by what can follow its last known reading."""
    last = last_of(draft, known)
    if last is None:
        return draft
    readings = [a for a in draft.alternatives if a.confidence >= _WEAKEST]
    heard = _odds(draft.confidence) + _gain(draft.value, last, draft, known)
    ranked = [(_odds(a.confidence) + _gain(a.value, last, draft, known), a) for a in readings]
    better, best = max(ranked, key=lambda one: one[0], default=(heard, None))
    if best is not None and better > heard:
        return _chosen(draft, best, last, catalogue)
    if fits(draft, known):
        return replace(draft, confidence=max(draft.confidence, _KEPT))
    if _gain(draft.value, last, draft, known) == _IMPOSSIBLE:
        return replace(draft, confidence=_AGAINST if draft.confidence > _CLEAR else _FAINT)
    return draft


def due(doc: Any, catalogue: Catalogue, known: Known) -> tuple[Statement, ...]:
    """Give what a heard memo states, and a bare reading that the tach was due to show.

    *it says two three one one point six*, with the name of the meter lost: a number with tenths
    that nothing binds and nothing bars, within the usual hours after the last reading. Few other
    numbers of a memo fall there, so it is a draft, with a doubt. `doc` is one hearing, read.
    """
    stated: tuple[Statement, ...] = doc._.statements
    if known.last_tach is None:
        return stated
    said = [s for s in stated if s.name == "tach_time"]
    if any(known.last_tach <= s.value <= known.last_tach + USUAL for s in said):  # type: ignore[operator]
        return stated
    taken = {s.element for s in stated if s not in said} | doc._.barred
    field = catalogue.fields["tach_time"]
    made = []
    for i, element in enumerate(doc._.outline):
        if i in taken or element.norm != NUMBER:
            continue
        said = element.what.readings[0]
        if said.unit is not None and said.unit.name != "h":
            continue
        readings = [said.value] if "." in said.digits else _with_a_point(said)
        for value in readings:
            if known.last_tach <= value <= known.last_tach + USUAL:
                made.append(
                    Statement(field.name, value, field.unit, None, i, i, i, 1.0, (UNNAMED,))
                )
    return (*stated, *made)


def _with_a_point(said: Reading) -> list[Decimal]:
    """*two six seven four one eight*: a point before the last figure, heard as *one* or *four*."""
    figures = said.digits
    if len(said.groups) < 2 or len(figures) < 5 or figures[-2] not in "14":
        return []
    return [Decimal(f"{figures[:-2]}.{figures[-1]}")]


def fits(draft: Draft, known: Known) -> bool:
    """Say whether a draft of a meter is just what was due after its last known reading."""
    last = last_of(draft, known)
    return last is not None and _gain(draft.value, last, draft, known) == _DUE


def last_of(draft: Draft, known: Known) -> Decimal | None:
    """Give the last known reading of the meter that a draft is about, h."""
    return {"tach_time": known.last_tach, "hour_meter_time": known.last_hour_meter}.get(draft.name)


def _chosen(draft: Draft, best: Alternative, last: Decimal, catalogue: Catalogue) -> Draft:
    field = catalogue.fields[draft.name]
    shown = field.kind_object.show
    why = "as heard, but it cannot follow the last" if draft.value < last else "as heard first"  # type: ignore[operator]
    heard = Alternative(draft.value, 1 - draft.confidence, why)
    doubt = (
        f"{shown(draft.value, field.unit)} was heard, which does not follow the last"
        f" {shown(last, field.unit)}: {shown(best.value, field.unit)} was chosen"
    )
    rest = tuple(a for a in draft.alternatives if a is not best)
    chosen = replace(draft, value=best.value, alternatives=(heard, *rest))
    return replace(chosen.with_doubt(doubt), confidence=min(0.8, max(0.6, draft.confidence)))


def _odds(confidence: float) -> float:
    sure = min(0.999, max(0.001, confidence))
    return math.log(sure / (1 - sure))


def _gain(value: Value, last: Decimal, draft: Draft, known: Known) -> float:
    """Give what a value's place after the last reading does to its log-odds."""
    if not isinstance(value, Decimal) or value < last:
        return _IMPOSSIBLE
    day = known.on or (draft.said_at.date() if draft.said_at else None)
    if day and known.last_date and day >= known.last_date:
        days = (day - known.last_date).days + 1  # both are whole days
        if value - last > days * _DAY_H:
            return _IMPOSSIBLE
    since = value - last
    return _DUE if since <= USUAL else 0.0 if since <= FAR else _UNUSUAL
