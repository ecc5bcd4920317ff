"""Decisions from the page, each in the name of a person, each naming what that person saw."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from capture.errors import InputError
from desk.web import asks, shown
from desk.web.asked import asked, entry_named, known_of, seen_of, twice
from desk.web.context import Desk, desk_of
from desk.web.review import cards
from desk.web.sent import figure, said
from record.errors import RefusedError

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response


def draft(request: Request) -> Response:
    """Give a draft as it stands now: another page may have decided it."""
    return JSONResponse(_shown(desk_of(request), request.path_params["draft"]))


def _shown(desk: Desk, number: int) -> dict[str, Any]:
    """Give a draft's card, and those of its slot, which a decision on it may have changed."""
    from record import queue

    with desk.store.session(write=False) as session:
        queued = queue.get(session, number)
        alike = cards(session, desk, queued.job, queued.draft.slot)
    others = [card for other, card in alike.items() if other != number]
    return {**alike.get(number, shown.gone(queued)), "others": others}


async def decide(request: Request) -> Response:
    """Confirm, amend, reject or take back one draft, in the name of a person.

    Where it is refused the answer says how the draft stands now, and what would be needed.
    """
    body = said(request)
    desk, job = desk_of(request), request.path_params["job"]
    number = body.get("id")
    if not isinstance(number, int) or isinstance(number, bool):
        raise InputError("no draft was named", todo="load the page again")

    def work() -> Response:
        try:
            _decide(desk, job, number, body)
        except RefusedError as error:
            return asked(desk, error, draft=_known(desk, number))
        return JSONResponse(_shown(desk, number))

    return await run_in_threadpool(work)


def _known(desk: Desk, number: int) -> dict[str, Any] | None:
    try:
        return _shown(desk, number)
    except RefusedError:
        return None


def _decide(desk: Desk, job: int, number: int, body: dict[str, Any]) -> None:
    from record import queue

    seen, by = seen_of(body), str(body.get("by", ""))
    because = str(body.get("because", ""))
    told: dict[str, Any] = {"replaces": entry_named(body)}
    with desk.store.session() as session:
        queued = queue.get(session, number)
        if queued.job != job:
            raise InputError(f"draft {number} is not of job {job}", todo="load the page again")
        told["known"] = known_of(desk, session, job)
        match body.get("act"):
            case "confirm":
                told |= {"because": because, "seen": {number: seen}, "catalogue": desk.catalogue}
                queue.confirm(session, [number], by, **told)
            case "amend":
                text = str(body.get("value", ""))
                told["although"] = twice(queued.draft.name, text, body, desk.catalogue)
                queue.amend(session, number, text, by, because, desk.catalogue, seen=seen, **told)
            case "reject":
                queue.reject(session, number, by, because, seen=seen, catalogue=desk.catalogue)
            case "undo":
                queue.undo(session, number, by, seen=seen, catalogue=desk.catalogue)
            case other:
                raise InputError(f"there is no such decision: {other}")


async def add(request: Request) -> Response:
    """Enter a value that a person typed and nobody spoke; into a closed job as a late entry."""
    body = said(request)
    desk, job = desk_of(request), request.path_params["job"]

    def work() -> Response:
        from record import queue
        from record.entries import decisions

        position = str(body.get("position") or "").strip() or None
        number = figure(position or "", asks.MOST_NUMBER)
        place = position if number is None else number
        name, text, by = (str(body.get(key, "")) for key in ("name", "value", "by"))
        told: dict[str, Any] = {
            "because": str(body.get("because", "")),
            "although": twice(name, text, body, desk.catalogue),
            "replaces": entry_named(body),
        }
        try:
            with desk.store.session() as session:
                told["known"] = known_of(desk, session, job)
                entry = queue.add(session, job, name, text, by, place, desk.catalogue, **told)
                made = decisions(session, job)
        except RefusedError as error:
            return asked(desk, error)
        return JSONResponse({"draft": next(d.draft for d in made if d.id == entry.decision)})

    return await run_in_threadpool(work)


async def read_words(request: Request) -> Response:
    """Read the words that a person marked as a value of a field; nothing is decided by it."""
    body = said(request)
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
