"""Files from the page and from the phone, and how the intake goes."""

from __future__ import annotations

import asyncio
import json
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, StreamingResponse

from capture.errors import InputError
from desk.web.context import desk_of
from desk.web.doors import MAX_BODY
from desk.web.inbox import named
from desk.web.sent import body_of, bytes_of

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

    from starlette.requests import Request
    from starlette.responses import Response

    from desk.web.inbox import Coming

LOOK_S = 0.25  # how often the events are looked at


def _told(coming: Coming) -> dict[str, Any]:
    return {"id": coming.id, "have": coming.have, "size": coming.size}


async def begin(request: Request) -> Response:
    """Announce a file: its name and size; gives the number under which its pieces come."""
    body = await body_of(request)
    name, size, modified = body.get("name"), body.get("size"), body.get("modified")
    if not isinstance(name, str) or type(size) is not int:
        raise InputError("a file needs a name and a size", todo="send it again")
    modified = modified if isinstance(modified, int | float) and modified > 0 else None
    inbox = desk_of(request).inbox
    name = named(name, str(body.get("type", "")))
    return JSONResponse(_told(await run_in_threadpool(inbox.begin, name, size, modified)))


async def coming(request: Request) -> Response:
    """Say how much of a file is here, so that a sender goes on from there."""
    inbox = desk_of(request).inbox
    return JSONResponse(_told(await run_in_threadpool(inbox.coming, request.path_params["number"])))


async def piece(request: Request) -> Response:
    """Take the next piece of a file."""
    at = request.query_params.get("at", "")
    if not at.isdigit():
        raise InputError("a piece must say where it begins")
    held = await bytes_of(request, MAX_BODY)
    inbox, number = desk_of(request).inbox, request.path_params["number"]
    return JSONResponse(_told(await run_in_threadpool(inbox.add, number, int(at), held)))


async def done(request: Request) -> Response:
    """Keep a file that is here whole. The answer is sent when it is safe on the disk."""
    desk, number = desk_of(request), request.path_params["number"]

    def keep() -> dict[str, Any]:
        from desk.observe import began_at
        from record import media

        kept = desk.inbox.finish(number)
        began = began_at(desk.vault.path(kept.sha256), kept, desk.settings.zone)
        with desk.store.session() as session:
            media.note(session, kept, began)
        return {"sha256": kept.sha256, "name": kept.name}

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
