"""Drafts and entries as the page shows them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from desk import findings
from desk.papers import label_of
from extract.values.draft import plain
from extract.values.known import NOTHING, Known

if TYPE_CHECKING:
    from datetime import datetime

    from extract.values.adverse import Finding
    from extract.values.catalogue import Catalogue
    from extract.values.draft import Alternative, Draft, Value
    from record.queue import Queued
    from record.service import Service

# a sign beside every colour, so that colour is never the only one
SIGNS = {"confirmed": "✓", "amended": "✎", "rejected": "✗"}
SURE = ((0.97, "almost certain"), (0.85, "likely"), (0.6, "uncertain"), (0.0, "a guess"))


def value(name: str, given: Value, unit: str | None, catalogue: Catalogue) -> str:
    """Give a value with its unit, as its owner writes it."""
    field = catalogue.fields.get(name)
    return field.show(given) if field else f"{given} {unit or ''}".strip()


def _told(draft: Draft, entered: Value | None, catalogue: Catalogue) -> str:
    """Give a draft's value as it was said; of one that was amended, what was entered."""
    field = catalogue.fields.get(draft.name)
    if field is None or entered is not None:
        return value(draft.name, draft.value if entered is None else entered, draft.unit, catalogue)
    return field.told(draft.value, draft.said)


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


def told(queued: Queued, by: str, bad: Finding | None = None) -> str:
    """Say how a draft stands, with its sign; what is adverse never has a tick."""
    if bad is not None and queued.state in ("confirmed", "amended"):
        return f"{findings.MARK} {findings.WORDS[bad.stands]}, {queued.state} by {by}"
    if queued.state == "waiting":
        return "? doubtful" if queued.draft.doubts else ""
    return f"{SIGNS[queued.state]} {queued.state} by {by}"


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
    return {**card, "adverse": was, "told": card["told"] + ", replaced later"}


def _why(name: str, other: Alternative, catalogue: Catalogue, known: Known) -> str:
    field = catalogue.fields.get(name)
    found = field.finding(other.value, known) if field else None
    return "; ".join(filter(None, (other.why, findings.marked(found) if found else "")))


def draft(
    queued: Queued,
    catalogue: Catalogue,
    entered: Value | None = None,
    known: Known = NOTHING,
) -> dict[str, Any]:
    """Give a draft with everything that its card and its keys need.

    `entered` is the value in the record, where it was amended to another than was heard; `known`
    is what bad news is judged by.
    """
    d = queued.draft
    by = queued.decision.by if queued.decision else ""
    shown = d.value if entered is None else entered
    field = catalogue.fields.get(d.name)
    bad = field.finding(shown, known) if field and queued.state != "rejected" else None
    return {
        "id": queued.id,
        "name": d.name,
        "position": d.position,
        "label": label_of(d.name, d.position, catalogue),
        "shown": _told(d, entered, catalogue),
        "text": typed(d.name, d.value, catalogue, d.said),
        "value": plain(d.value),
        "heard": d.heard,
        "sure": "" if not d.media else sure(d.confidence),
        "typed": not d.media,
        "start": d.start,
        "end": d.end,
        "doubts": list(d.doubts),
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
        "by": by,
        "told": told(queued, by, bad),
        "adverse": findings.card(bad) if bad else None,
    }
