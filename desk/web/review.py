"""Review: the job's story in the order it happened, each draft beside its evidence."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from desk.web import shown
from desk.web.context import Desk, desk_of

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from extract.draft import Value
    from record.media import Media
    from record.queue import Queued


def show(request: Request) -> Response:
    """Show a job: its media in order, and all its drafts."""
    import json

    from record import jobs, media, queue
    from record import service as services

    desk, number = desk_of(request), request.path_params["job"]
    with desk.store.session(write=False) as session:
        job = jobs.get(session, number)
        day = services.day_of(session, job) or job.opened_at.date()
        drafts = queue.drafts(session, number)
        values = entered(session, number)
        of: dict[str, list[Queued]] = {}
        for queued in drafts:
            of.setdefault(queued.draft.media, []).append(queued)
        pieces = [
            _piece(session, m, of.get(m.name, []), values, desk)
            for m in media.media(session, number)
        ]
        known = {m["name"] for m in pieces}
        typed = [q for q in drafts if q.draft.media not in known]
    if typed:
        pieces.append(_by_hand(typed, values, desk))
    cards = [
        {**d, "media": str(p["id"]), "order": order}
        for order, (p, d) in enumerate((p, d) for p in pieces for d in p["drafts"])
    ]
    kind = desk.catalogue.jobs.get(job.kind)
    return desk.page(
        request,
        "review.html",
        job={
            "id": job.id,
            "label": kind.label if kind else job.kind,
            "day": day,
            "closed": not job.is_open,
            "closed_by": job.closed_by,
        },
        pieces=pieces,
        fields=list(desk.catalogue.fields.values()),
        drafts_json=Markup(json.dumps(cards).replace("<", "\\u003c")),  # noqa: S704  (no < is left)
    )


def entered(session: Any, job: int) -> dict[int, Value]:
    """Give what the record has for each decided draft."""
    from record.entries import decisions, entries

    of = {d.id: d.draft for d in decisions(session, job) if d.draft is not None}
    return {
        of[e.decision]: e.value
        for e in entries(session, job)
        if e.decision in of and e.value is not None
    }


def _piece(
    session: Any, media: Media, drafts: list[Queued], values: dict[int, Value], desk: Desk
) -> dict[str, Any]:
    from record.media import photo_text_of, transcript_of

    began = media.began
    made: dict[str, Any] = {
        "id": media.id,
        "name": media.name,
        "kind": media.kind,
        "at": shown.clock(began.at if began else None),
        "at_iso": began.at.isoformat() if began else "",
        "doubt": began.doubt if began else "no time is known for it",
        "failed": media.reason if media.state == "failed" else "",
        "waits": media.state == "kept",
        "duration": 0,
        "drafts": [shown.draft(q, desk.catalogue, values.get(q.id)) for q in _in_order(drafts)],
    }
    if media.kind == "photo":
        seen = photo_text_of(session, media.id)
        # a photo's place is kept while it loads, so that nothing moves under the eye
        wide, high = seen.size if seen and all(seen.size) else (4, 3)
        return made | {"subject": seen.subject if seen else "", "size": (wide, high)}
    heard = transcript_of(session, media.id)
    if heard is None:
        return made | {"speech": [], "words": []}
    spans = [(q.draft.start or 0.0, q.draft.end or 0.0) for q in drafts]
    scale = 1000 / (heard.duration_s or 1)
    return made | {
        "duration": heard.duration_s,
        "speech": [(round(a * scale, 1), round((b - a) * scale, 1)) for a, b in heard.speech],
        "words": [
            {
                "text": w.text,
                "s": round(w.start_s, 2),
                "e": round(w.end_s, 2),
                "said": any(w.end_s > a and w.start_s < b for a, b in spans),
            }
            for w in heard.words
        ],
    }


def _by_hand(drafts: list[Queued], values: dict[int, Value], desk: Desk) -> dict[str, Any]:
    cards = [shown.draft(q, desk.catalogue, values.get(q.id)) for q in drafts]
    return {
        "id": 0,
        "name": "Typed at the desk",
        "kind": "typed",
        "at": "",
        "at_iso": "",
        "doubt": "",
        "failed": "",
        "waits": False,
        "duration": 0,
        "drafts": cards,
    }


def _in_order(drafts: list[Queued]) -> list[Queued]:
    return sorted(drafts, key=lambda q: (q.draft.start or 0.0, q.id))
