"""The door of exact values: every span of a note's words that may state one, and how it reads.

Nothing here knows a field. A reader of claims chooses: which candidate states what, and where the
words can be read in more than one way, which reading is meant; `values_for` brings a candidate to
the unit of a field.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from typing import Any

from extract.exact.again import anew, begun_before, dittos, shared, with_tenths_later
from extract.exact.counted import counted
from extract.exact.days import ANEW, days
from extract.exact.letters import LOOSE, codes, grades
from extract.exact.measures import Unit, mentions
from extract.exact.reading import Candidate, Reading
from extract.values.catalogue import Catalogue
from extract.words.parts import Part, span_words

_RIGHT_BEHIND = 2  # "mine's eight, that's quarts"
_BACKWARDS = 12  # a unit said after a number counts as said so many parts farther off


def candidates(doc: Any, catalogue: Catalogue) -> tuple[Candidate, ...]:
    """Give the candidates of a `Doc` (see extract.mend.doc), by their first part.

    The catalogue says which units its fields are kept in: another one, said once, may be meant by
    the numbers around it.
    """
    return find_candidates(doc._.parts, catalogue, [word.text for word in doc._.words])


def find_candidates(
    parts: Sequence[Part], catalogue: Catalogue, words: Sequence[str] = ()
) -> tuple[Candidate, ...]:
    """Give the candidates of parts; `words` are the heard words that they come from."""
    spelled = _spelled(parts, words)
    firm = [c for c in spelled if _is_firm(c)]
    open_parts = _without(parts, firm)
    numbers = with_tenths_later(open_parts, counted(open_parts, words))
    numbers = shared(open_parts, anew(open_parts, begun_before(open_parts, numbers)))
    carried = _carry(parts, numbers, _native(catalogue))
    found = [*carried, *dittos(parts, carried), *spelled]
    return tuple(
        replace(c, first=heard[0], last=heard[1])
        for c in _merged(found)
        if (heard := span_words(parts, c.start, c.end))
    )


def _spelled(parts: Sequence[Part], words: Sequence[str]) -> list[Candidate]:
    dated = days(parts)
    graded = [g for g in grades(parts) if not _within(g, dated)]
    coded = [c for c in codes(parts, words) if not _within(c, [*dated, *graded])]
    return [*dated, *graded, *coded]


def _is_firm(spelled: Candidate) -> bool:
    """Say whether words are surely a date, grade or code, so that their figures are no number."""
    first = spelled.readings[0]
    if first.kind != "code":
        return first.how != ANEW
    text = str(first.value)
    dashed = "-" in text or "/" in text
    return first.how != LOOSE and (dashed or sum(c.isalpha() for c in text) > 1)


def _without(parts: Sequence[Part], firm: Sequence[Candidate]) -> tuple[Part, ...]:
    """Give the parts with those of dates, grades and codes made unreadable."""
    taken = {i for c in firm for i in range(c.start, c.end)}
    return tuple(replace(p, norm="\x00") if i in taken else p for i, p in enumerate(parts))


def _within(inner: Candidate, outer: Sequence[Candidate]) -> bool:
    return any(o.start <= inner.start and inner.end <= o.end for o in outer)


@cache
def _native(catalogue: Catalogue) -> frozenset[str]:
    return frozenset(field.unit for field in catalogue.fields.values() if field.unit)


def _carry(
    parts: Sequence[Part], numbers: Sequence[Candidate], native: frozenset[str]
) -> list[Candidate]:
    """Give each number without a unit the units that were said elsewhere, the nearest first."""
    said = mentions(parts)
    foreign = {unit.dimension for _, unit in said if _is_foreign(unit, native)}
    if not foreign:
        return list(numbers)
    near = [(at, unit) for at, unit in said if unit.dimension in foreign]
    return [replace(n, carried=_nearest(n, near)) if _lacks_unit(n) else n for n in numbers]


def _is_foreign(unit: Unit, native: frozenset[str]) -> bool:
    known = unit.name not in native and unit.dimension not in ("other", "time")
    return known and (not unit.loose or unit.name == "mil") and unit.name != "thou"


def _lacks_unit(number: Candidate) -> bool:
    return any(r.unit is None or r.unit.loose for r in number.readings)


def _nearest(number: Candidate, near: Sequence[tuple[int, Unit]]) -> tuple[Unit, ...]:
    def far(item: tuple[int, Unit]) -> int:
        at = item[0]
        if at < number.end:
            return number.start - at
        return at - number.end + (_BACKWARDS if at - number.end > _RIGHT_BEHIND else 0)

    return tuple(dict.fromkeys(unit for _, unit in sorted(near, key=far)))


def _merged(found: Sequence[Candidate]) -> list[Candidate]:
    """Put candidates of the same words together, without saying a reading twice."""
    spans: dict[tuple[int, int], Candidate] = {}
    for candidate in found:
        span = candidate.start, candidate.end
        held = spans.get(span)
        if held is None:
            spans[span] = candidate
            continue
        readings: dict[tuple[object, ...], Reading] = {}
        for r in (*held.readings, *candidate.readings):
            readings.setdefault((r.kind, r.value, r.unit, r.over, r.day, r.month), r)
        spans[span] = replace(
            held, readings=tuple(readings.values()), carried=held.carried or candidate.carried
        )
    return sorted(spans.values(), key=lambda c: (c.start, c.end))
