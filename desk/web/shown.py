"""Drafts and entries as the page shows them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from desk import findings
from desk.papers import label_of, value_of
from extract.values.draft import plain
from extract.values.known import NOTHING, Known

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from extract.values.adverse import Finding
    from extract.values.catalogue import Catalogue
    from extract.values.draft import Alternative, Value
    from record.entries import Entry
    from record.queue import Queued
    from record.seen import Seen
    from record.service import Service

# a sign beside every colour, so that colour is never the only one
SIGNS = {"confirmed": "✓", "amended": "✎", "rejected": "✗"}
SURE = ((0.97, "almost certain"), (0.85, "likely"), (0.6, "uncertain"), (0.0, "a guess"))


def value(name: str, given: Value, unit: str | None, catalogue: Catalogue) -> str:
    """Give a value with its unit, as its owner writes it."""
    field = catalogue.fields.get(name)
    return field.show(given) if field else f"{given} {unit or ''}".strip()


def typed(name: str, given: Value, catalogue: Catalogue, said: str | None = None) -> str:
    """Give a value as a person would type it, so that it can be read back."""
    field = catalogue.fields.get(name)
    return field.typing(given, said) if field else str(given)


def sure(confidence: float) -> str:
    """Give a confidence in words and per cent."""
    words = next(words for least, words in SURE if confidence >= least)
    return f"{words}, {confidence:.0%}"


def clock(moment: datetime | None) -> str:
    """Give a moment as people read it."""
    return moment.strftime("%Y-%m-%d %H:%M:%S") if moment else ""


def told(
    queued: Queued,
    doubts: Sequence[str],
    bad: Finding | None,
    later: Entry | None,
    catalogue: Catalogue,
) -> str:
    """Say how a draft stands, with its sign, and what took the place of its value since.

    What is adverse never has a tick.
    """
    if queued.decision is None:
        mark = f"{findings.MARK} {findings.WORDS[bad.stands]}" if bad is not None else ""
        return ", ".join(filter(None, (mark, "? doubtful" if doubts else "")))
    sign = SIGNS.get(queued.state, "")
    if bad is not None and queued.state in ("confirmed", "amended"):
        sign = f"{findings.MARK} {findings.WORDS[bad.stands]},"
    said = f"{sign} {queued.state} by {queued.decision.by}".strip()
    if later is None:
        return said
    if later.value is None:
        return f"{said}, withdrawn by {later.by}"
    now = value_of(later, catalogue)
    return f"{said}, now {now} by {later.by}"


def bad(service: Service, catalogue: Catalogue, known: Known) -> list[dict[str, Any]]:
    """Give the bad news of a job that stands or waits, each with its caution and its draft."""
    from record import adverse

    made = []
    for one in (
        *adverse.entered(service, catalogue, known),
        *adverse.waiting(service.waiting, catalogue, known),
    ):
        draft = one.waits.id if one.waits else None
        if one.entry is not None:
            draft = service.decision(one.entry).draft
        who = f"entered by {one.entry.by}" if one.entry else "not decided"
        made.append(
            {
                **findings.card(one.finding),
                "shown": findings.shown(one, catalogue),
                "draft": draft,
                "who": who,
            }
        )
    return made


def resolved(card: dict[str, Any]) -> dict[str, Any]:
    """Give the card of bad news that a later value took the place of: seen, and not open."""
    was = {**card["adverse"], "word": f"WAS {card['adverse']['word']}", "caution": ""}
    return {**card, "adverse": was}


def gone(queued: Queued) -> dict[str, Any]:
    """Give what is left to show of a draft that has no card any more."""
    return {"id": queued.id, "state": queued.state}


def _why(name: str, other: Alternative, catalogue: Catalogue, known: Known) -> str:
    field = catalogue.fields.get(name)
    found = field.finding(other.value, known) if field else None
    return "; ".join(filter(None, (other.why, findings.marked(found) if found else "")))


def draft(
    queued: Queued,
    catalogue: Catalogue,
    seen: Seen,
    later: Entry | None = None,
    stands: Entry | None = None,
    known: Known = NOTHING,
    read_back: str = "",
) -> dict[str, Any]:
    """Give a draft with everything that its card and its keys need.

    `seen` is what a decision on it must name. `later` is the entry that took the place of the one
    it made, `stands` the one whose place it would take; `known` is what bad news is judged by;
    `read_back` says what its speaker was told of it.
    """
    d = queued.draft
    field = catalogue.fields.get(d.name)
    held = d.value if queued.entered is None else queued.entered
    bad = field.finding(held, known) if field and queued.state != "rejected" else None
    made = _card(queued, catalogue, seen, bad, known)
    made |= {
        "struck": later is not None,
        "stands": value_of(stands, catalogue)
        if stands is not None and stands.value is not None
        else "",
        "told": told(queued, seen.doubts, bad, later, catalogue),
        "read_back": read_back,
    }
    return resolved(made) if later is not None and bad else made


def _card(
    queued: Queued, catalogue: Catalogue, seen: Seen, bad: Finding | None, known: Known
) -> dict[str, Any]:
    d = queued.draft
    return {
        "id": queued.id,
        "name": d.name,
        "position": d.position,
        "label": label_of(d.name, d.position, catalogue),
        "shown": seen.value,
        "seen": seen.to_json(),
        "text": typed(d.name, d.value, catalogue, d.said),
        "value": plain(d.value),
        "heard": d.heard,
        "sure": "" if not d.media else sure(d.confidence),
        "typed": not d.media,
        "start": d.start,
        "end": d.end,
        "doubts": list(d.doubts if queued.decision else seen.doubts),
        "alternatives": [
            {
                "shown": value(d.name, a.value, d.unit, catalogue),
                "text": typed(d.name, a.value, catalogue),
                "why": _why(d.name, a, catalogue, known),
            }
            for a in d.alternatives
        ],
        "also": [
            {"heard": w.heard, "media": w.media, "start": w.start, "crop": w.quad is not None}
            for w in d.also
        ],
        "crop": d.quad is not None,
        "state": queued.state,
        "by": queued.decision.by if queued.decision else "",
        "adverse": findings.card(bad) if bad else None,
    }
