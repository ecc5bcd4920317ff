"""Decisions from the page, each in the name of a person."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from capture.errors import InputError
from desk.web import shown
from desk.web.context import Desk, desk_of
from desk.web.review import entered
from desk.web.sent import body_of

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response


def draft(request: Request) -> Response:
    """Give a draft as it stands now: another page may have decided it."""
    return JSONResponse(_shown(desk_of(request), request.path_params["draft"]))


def _shown(desk: Desk, number: int) -> dict[str, Any]:
    from record import queue

    with desk.store.session(write=False) as session:
        queued = queue.get(session, number)
        value = entered(session, queued.job).get(number)
    return shown.draft(queued, desk.catalogue, value, desk.settings.profile.known())


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
    return _shown(desk, number)


async def add(request: Request) -> Response:
    """Enter a value that a person typed and nobody spoke."""
    body = await body_of(request)
    desk, job = desk_of(request), request.path_params["job"]

    def work() -> int | None:
        from record import queue
        from record.entries import decisions

        position = str(body.get("position", "")).strip() or None
        place = int(position) if position and position.isdigit() else position
        name, text, by = (str(body.get(key, "")) for key in ("name", "value", "by"))
        with desk.store.session() as session:
            entry = queue.add(session, job, name, text, by, place, desk.catalogue)
            made = decisions(session, job)
        return next(d.draft for d in made if d.id == entry.decision)

    return JSONResponse({"draft": await run_in_threadpool(work)})


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
                return shown.typed(name, found.value, desk.catalogue, found.said)
    raise InputError(f"no {field.label} can be read in “{words}”", todo="type it with E")
