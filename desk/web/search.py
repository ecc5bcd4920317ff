"""Find spoken notes and entries by word, day and field; the clip plays from its second."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from desk.papers import label_of
from desk.web import shown
from desk.web.context import desk_of

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

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
    asked = {
        key: request.query_params.get(key, "")[:200] for key in ("q", "since", "until", "field")
    }
    field = asked["field"] if asked["field"] in desk.catalogue.fields else None
    hits = []
    if asked["q"].strip() or field:
        since, until = _day(asked["since"]), _day(asked["until"])
        with desk.store.session(write=False) as session:
            numbers = {m.sha256: m.id for m in media.media(session)}
            found = find(session, asked["q"], since, until, field, limit=MOST)
        for hit in reversed(found):
            text = hit.text
            if hit.field:
                label = label_of(hit.field, hit.position, desk.catalogue)
                text = f"{label}: {hit.value} {hit.unit or ''} “{hit.text}”"
            hits.append(
                {
                    "text": text,
                    "media": hit.media,
                    "media_id": numbers.get(hit.sha256 or ""),
                    "job": hit.job,
                    "start": hit.second,
                    "end": hit.end,
                    "at": shown.clock(hit.said_at),
                }
            )
    return desk.page(
        request,
        "hits.html" if request.query_params.get("part") else "search.html",
        here="search",
        hits=hits,
        more=len(hits) == MOST,
        fields=list(desk.catalogue.fields.values()),
        q=asked["q"],
        since=asked["since"],
        until=asked["until"],
        field=asked["field"],
    )
