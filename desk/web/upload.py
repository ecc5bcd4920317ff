"""Files from the page and from the phone, and how the intake goes."""

from __future__ import annotations

import asyncio
import json
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, StreamingResponse

from capture.errors import InputError
from desk.web import arriving
from desk.web.asks import LARGEST
from desk.web.context import desk_of
from desk.web.doors import MAX_BODY
from desk.web.inbox import by_time, named
from desk.web.sent import bytes_of, figure, said, wanted

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

    from starlette.requests import Request
    from starlette.responses import Response

    from desk.web.inbox import Coming

LOOK_S = 0.25  # how often the events are looked at


def _told(coming: Coming, *, safe: bool = False) -> dict[str, Any]:
    return {
        "id": coming.id,
        "key": coming.key,
        "have": coming.have,
        "size": coming.size,
        "safe": safe,
    }


def _sender(request: Request) -> str:
    """Give the name of the phone that a request is from; empty for the desk itself."""
    state = request.scope["state"]
    return str(state.get("name", "")) if state.get("role") == "phone" else ""


def _own(request: Request) -> Coming:
    """Give the file that a request is about, which must be the sender's own."""
    coming = desk_of(request).inbox.coming(request.path_params["number"])
    if _sender(request) not in ("", coming.sender):
        raise InputError("no such file is on its way", todo="send it again")
    return coming


def _moment(ms: object) -> float | None:
    fits = isinstance(ms, int | float) and not isinstance(ms, bool) and 0 < ms < 1e14
    return float(ms) if fits else None  # type: ignore[arg-type]


async def begin(request: Request) -> Response:
    """Announce a file: its name and size; gives the number under which its pieces come.

    A memo that is still being spoken has no `size` yet, and `began` in the place of a name. With a
    `key` of the sender's own the same file is announced once, however often it is said.
    """
    body = said(request)
    size, key, kind = body.get("size"), body.get("key", ""), str(body.get("type", ""))
    began, modified = _moment(body.get("began")), _moment(body.get("modified"))
    desk, sender = desk_of(request), _sender(request)
    name = body.get("name") or (began and by_time(began, kind, desk.settings.zone))
    grows = size is None and bool(sender) and bool(key)
    sized = type(size) is int or grows
    if not isinstance(name, str) or not isinstance(key, str) or not sized:
        raise InputError("a file needs a name and a size", todo="send it again")
    name = named(name, kind)

    def announce() -> dict[str, Any]:
        arriving.keep_left_off(desk)
        if sender and key and (sent := desk.live.talk(sender).journal.by_key(key)):
            return {"id": "", "key": key, "have": sent.size, "size": sent.size, "safe": True}
        coming = desk.inbox.begin(name, size, modified or began, key=key, sender=sender)
        return _told(coming, safe=desk.inbox.kept(coming.id))

    return JSONResponse(await run_in_threadpool(announce))


async def coming(request: Request) -> Response:
    """Say how much of a file is here, so that a sender goes on from there."""
    found = await run_in_threadpool(_own, request)
    return JSONResponse(_told(found, safe=desk_of(request).inbox.kept(found.id)))


async def piece(request: Request) -> Response:
    """Take the next piece of a file; a memo that is being spoken is heard as it comes."""
    at = wanted(request).get("at", "")
    begin = figure(at, LARGEST)
    if begin is None:
        raise InputError("a piece must say where it begins")
    held = await bytes_of(request, MAX_BODY)
    desk, number = desk_of(request), request.path_params["number"]

    def add() -> Coming:
        _own(request)
        made = desk.inbox.add(number, begin, held)
        if made.sender and made.size is None:
            arriving.grew(desk, made)
        return made

    made = await run_in_threadpool(add)
    return JSONResponse(_told(made, safe=desk.inbox.kept(number)))


async def done(request: Request) -> Response:
    """Keep a file that is here whole. The answer is sent when it is safe on the disk."""
    body = said(request)
    size = body.get("size")
    desk, number = desk_of(request), request.path_params["number"]

    def keep() -> dict[str, Any]:
        _own(request)
        return arriving.keep(desk, number, size if type(size) is int else None)

    answer = await run_in_threadpool(keep)
    # by this number a page tells the end of the run that reads the file from an earlier one
    return JSONResponse({**answer, "run": desk.runner.wake()})


async def events(request: Request) -> Response:
    """Tell how the intake stands and how it goes on, as server-sent events."""
    runner = desk_of(request).runner

    async def stream() -> AsyncIterator[str]:
        seen = 0
        yield ": here\n\n"
        while not runner.ended() and not await request.is_disconnected():
            for number, kind, content in runner.since(seen):
                seen = number
                yield f"id: {number}\nevent: {kind}\ndata: {json.dumps(content)}\n\n"
            await asyncio.sleep(LOOK_S)

    return StreamingResponse(stream(), media_type="text/event-stream")
