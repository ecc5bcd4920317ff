"""A value said twice in one breath: after a hesitation, as a gauge moves, or with an *or*."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from extract.claims.fields import NO_TENTHS
from extract.settle.corrections import alike, no_unit, with_value
from extract.talk.outline import NUMBER
from extract.talk.statements import Page, Statement
from extract.values.catalogue import Catalogue
from extract.values.draft import Alternative
from extract.words.parts import Part


def hesitated(
    page: Page, parts: Sequence[Part], found: Sequence[Statement], catalogue: Catalogue
) -> list[Statement]:
    """*thirty-nine psi, er, thirty-seven psi*: a value said again after a hesitation holds."""
    made = list(found)
    bound = {s.slot for s in found}
    for old in found:
        new = old.slot + 1
        while new < len(page.slots) and page.slots[new].norm in ("okay", "now"):
            new += 1
        if new >= len(page.slots):
            continue
        series = _series(page, old, new, catalogue) and new not in bound
        if not series and not parts[page.slots[new].start].hesitant:
            continue
        slots = page.slots[old.slot], page.slots[new]
        if any(s.norm != NUMBER for s in slots) or not alike(page, old, new, catalogue):
            continue
        fresh = with_value(page, old, new, catalogue)
        gone = Alternative(old.value, 0.05, "said before a hesitation")
        fresh = replace(fresh, first=old.first, alternatives=(*old.alternatives, gone))
        made = [s for s in made if s is not old and s.slot != new]
        return hesitated(
            page,
            parts,
            [
                *made,
                fresh.doubted("several numbers were said in a row; the last was taken"),
            ],
            catalogue,
        )
    return made


def _series(page: Page, old: Statement, new: int, catalogue: Catalogue) -> bool:
    """*oil temp one twenty, one forty, one sixty*: a gauge read as it moves."""
    field = catalogue.fields[old.name]
    if field.positions or field.unit == "h" or not no_unit(page, new):
        return False
    fresh = with_value(page, old, new, catalogue)
    return isinstance(fresh.value, Decimal) and field.plausible(fresh.value)


def doubled(page: Page, found: Sequence[Statement], catalogue: Catalogue) -> list[Statement]:
    """*either 2011 or 2017.3*: two readings of one value; the fuller one, and a doubt."""
    made = list(found)
    bound = {s.slot for s in found}
    for old in found:
        new = old.slot + 2
        if new >= len(page.slots) or page.slots[new - 1].norm != "or" or new in bound:
            continue
        if page.slots[new].norm != NUMBER or not alike(page, old, new, catalogue):
            continue
        other = with_value(page, old, new, catalogue)
        fuller = NO_TENTHS in old.doubts and NO_TENTHS not in other.doubts
        best, rest = (other, old) if fuller else (old, other)
        field = catalogue.fields[old.name]
        shown = field.kind_object.show(rest.value, field.unit)
        gone = Alternative(rest.value, 0.4, "said as well")
        kept = replace(best, last=new, alternatives=(*best.alternatives, gone))
        made = [s for s in made if s is not old] + [kept.doubted(f"or {shown}, it was said")]
    return made
