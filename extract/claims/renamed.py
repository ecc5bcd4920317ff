"""*Tach twelve thirty, no, that was the hour meter*: the number stays, its field changes."""

from __future__ import annotations

from collections.abc import Iterator

from extract.talk.outline import VALUES
from extract.talk.statements import Page
from extract.values.catalogue import Catalogue, Field
from extract.words.lists import table

_POINTING = ("that", "it", "this", "those")
_BEING = ("is", "was", "were", "are")
_REACH = 4  # slots between the pointing word and the name


def renamed(page: Page, catalogue: Catalogue) -> Iterator[tuple[int, str, str]]:
    """Give (slot of a number, field that it was said of first, field that it is of)."""
    turns = frozenset(table("risk")["turning"]) | {"correction", "scratch"}
    for k, slot in enumerate(page.slots[:-1]):
        if slot.norm not in _POINTING or page.slots[k + 1].norm not in _BEING:
            continue
        before = [i for i in range(k) if page.slots[i].norm in VALUES]
        if not before or page.sentence(before[-1]) < page.sentence(k) - 1:
            continue
        value = before[-1]
        if not any(page.slots[i].norm in turns for i in range(value + 1, k + 1)):
            continue
        new = _named(page, catalogue, k + 2, min(len(page.slots), k + 2 + _REACH))
        old = _named(page, catalogue, page.bounds[page.sentence(value)][0], k)
        if new and old and new.name != old.name and new.unit == old.unit:
            yield value, old.name, new.name


def _named(page: Page, catalogue: Catalogue, start: int, end: int) -> Field | None:
    """Give the meter that words name, before any value of their own."""
    for cue in sorted((c for cues in page.cues for c in cues), key=lambda c: c.start):
        field = catalogue.fields.get(cue.owner)
        if field is None or cue.kind != "names" or field.decimals != 1:
            continue
        if start <= cue.start < end:
            return field
    return None
