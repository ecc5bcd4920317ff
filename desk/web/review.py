"""Review: the job's story in the order it happened, each draft beside its evidence."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from capture.errors import InputError
from desk.web import shown
from desk.web.context import Desk, desk_of
from desk.web.sent import body_of

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
        entered = _entered(session, number)
        pieces = [
            _piece(session, m, [q for q in drafts if q.draft.media == m.name], entered, desk)
            for m in media.media(session, number)
        ]
        known = {m["name"] for m in pieces}
        typed = [q for q in drafts if q.draft.media not in known]
    if typed:
        pieces.append(_by_hand(typed, entered, desk))
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


def _entered(session: Any, job: int) -> dict[int, Value]:
    """Give what the record has for each decided draft."""
    from record.entries import decisions, entries

    of = {d.id: d.draft for d in decisions(session, job) if d.draft is not None}
    return {
        of[e.decision]: e.value
        for e in entries(session, job)
        if e.decision in of and e.value is not None
    }


def _piece(
    session: Any, media: Media, drafts: list[Queued], entered: dict[int, Value], desk: Desk
) -> dict[str, Any]:
    from record.media import photo_text_of, transcript_of

    began = media.began
    made: dict[str, Any] = {
        "id": media.id,
        "name": media.name,
        "kind": media.kind,
        "at": shown.clock(began.at if began else None),
        "at_iso": began.at.isoformat() if began else "",
        "doubt": media.reason or (began.doubt if began else "no time is known for it"),
        "duration": 0,
        "drafts": [shown.draft(q, desk.catalogue, entered.get(q.id)) for q in _in_order(drafts)],
    }
    if media.kind == "photo":
        seen = photo_text_of(session, media.id)
        return made | {"subject": seen.subject if seen else ""}
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


def _by_hand(drafts: list[Queued], entered: dict[int, Value], desk: Desk) -> dict[str, Any]:
    cards = [shown.draft(q, desk.catalogue, entered.get(q.id)) for q in drafts]
    return {
        "id": 0,
        "name": "Typed at the desk",
        "kind": "typed",
        "at": "",
        "at_iso": "",
        "doubt": "",
        "duration": 0,
        "drafts": cards,
    }


def _in_order(drafts: list[Queued]) -> list[Queued]:
    return sorted(drafts, key=lambda q: (q.draft.start or 0.0, q.id))


async def decide(request: Request) -> Response:
    """Confirm, amend, reject or take back one draft, in the name of a person."""
    body = await body_of(request)
    return JSONResponse(await run_in_threadpool(_decide, desk_of(request), body))


def _decide(desk: Desk, body: dict[str, Any]) -> dict[str, Any]:
    from record import queue

    number, by = body.get("id"), str(body.get("by", ""))
    if not isinstance(number, int):
        raise InputError("no draft was named", todo="load the page again")
    because = str(body.get("because", ""))
    with desk.store.session() as session:
        match body.get("act"):
            case "confirm":
                queue.confirm(session, [number], by)
            case "amend":
                text = str(body.get("value", ""))
                queue.amend(session, number, text, by, because, desk.catalogue)
            case "reject":
                queue.reject(session, number, by, because)
            case "undo":
                queue.undo(session, number, by)
            case other:
                raise InputError(f"there is no such decision: {other}")
        queued = queue.get(session, number)
        entered = _entered(session, queued.job).get(number)
    return shown.draft(queued, desk.catalogue, entered)


async def add(request: Request) -> Response:
    """Enter a value that a person typed and nobody spoke."""
    body = await body_of(request)
    desk, job = desk_of(request), request.path_params["job"]

    def work() -> None:
        from record import queue

        position = str(body.get("position", "")).strip() or None
        place = int(position) if position and position.isdigit() else position
        name, text, by = (str(body.get(key, "")) for key in ("name", "value", "by"))
        with desk.store.session() as session:
            queue.add(session, job, name, text, by, place, desk.catalogue)

    await run_in_threadpool(work)
    return JSONResponse({})


async def read_words(request: Request) -> Response:
    """Read the words that a person marked as a value of a field; nothing is decided by it."""
    body = await body_of(request)
    return JSONResponse({"value": await run_in_threadpool(_read, desk_of(request), body)})


def _read(desk: Desk, body: dict[str, Any]) -> str:
    from extract.read import read_sentence

    name, words = str(body.get("name", "")), str(body.get("words", ""))[:400]
    field = desk.catalogue.fields.get(name)
    if field is None:
        raise InputError(f"there is no field {name}")
    for sentence in (words, f"{field.label} {words}"):
        for found in read_sentence(sentence, desk.catalogue):
            if found.name == name:
                return shown.typed(name, found.value, desk.catalogue)
    raise InputError(f"no {field.label} can be read in “{words}”", todo="type it with E")
