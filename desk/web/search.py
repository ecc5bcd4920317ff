"""Find spoken notes and entries by word, day and field; the clip plays from its second."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from desk.papers import label_of
from desk.web import shown
from desk.web.context import Desk, desk_of
from desk.web.sent import wanted

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from record.search import Hit

MOST = 100


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def show(request: Request) -> Response:
    """Show what was found, the whole page or (with `part`) the results alone."""
    from record import media
    from record.search import find

    desk = desk_of(request)
    said = wanted(request)
    asked = {key: said.get(key, "")[:200] for key in ("q", "since", "until", "field")}
    field = asked["field"] if asked["field"] in desk.catalogue.fields else None
    since, until = _day(asked["since"]), _day(asked["until"])
    looked = bool(asked["q"].strip() or field or since or until)
    hits = []
    if looked:
        with desk.store.session(write=False) as session:
            numbers = {m.sha256: m.id for m in media.media(session)}
            zone = desk.settings.zone
            found = find(session, asked["q"], since, until, field, limit=MOST, zone=zone)
        hits = [_shown(hit, numbers, desk) for hit in reversed(found)]
    return desk.page(
        request,
        "hits.html" if said.get("part") else "search.html",
        here="search",
        hits=hits,
        more=len(hits) == MOST,
        wanted=looked,
        fields=list(desk.catalogue.fields.values()),
        q=asked["q"],
        since=asked["since"],
        until=asked["until"],
        field=asked["field"],
    )


def _shown(hit: Hit, numbers: dict[str, int], desk: Desk) -> dict[str, Any]:
    second = hit.second
    return {
        "label": label_of(hit.field, hit.position, desk.catalogue) if hit.field else "",
        "value": _value(hit, desk),
        "replaced": hit.replaced,
        "aside": hit.aside,
        "by": hit.by,
        "text": hit.text,
        "media": hit.media,
        "media_id": numbers.get(hit.sha256 or ""),
        "job": hit.job,
        "start": second,
        "end": hit.end,
        "second": "" if second is None else f"{int(second) // 60}:{int(second) % 60:02d}",
        "at": shown.clock(hit.said_at),
    }


def _value(hit: Hit, desk: Desk) -> str:
    field = desk.catalogue.fields.get(hit.field or "")
    if hit.value is None:
        return "withdrawn" if hit.field else ""
    if field is None:
        return f"{hit.value} {hit.unit or ''}".strip()
    return field.show(field.kind_object.load(hit.value))
