"""What came of a phone's own files: what is read back to it, and what is still to say."""

from __future__ import annotations

import asyncio
import time
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse

from desk.web.context import desk_of
from desk.web.sent import wanted

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from desk.readback.talk import Talk
    from desk.web.context import Desk

LOOK_S = 0.2  # how often it is looked whether there is something to tell
LONGEST_S = 25.0  # a phone asks again after so long at most
MANY = 200  # files of which it is said that they are safe


async def told(request: Request) -> Response:
    """Tell a phone what came after item `since`, at once or within `wait` seconds."""
    desk, state = desk_of(request), request.scope["state"]
    if state.get("role") != "phone":
        raise HTTPException(404)
    since = int(wanted(request).get("since", "0"))
    until = time.monotonic() + min(int(wanted(request).get("wait", "0")), LONGEST_S)
    talk = await run_in_threadpool(desk.live.talk, state["name"])
    await run_in_threadpool(talk.standing)
    stands, problem = talk.state, desk.live.problem
    while time.monotonic() < until and not desk.runner.ended():
        if talk.journal.at != since or talk.state is not stands or desk.live.problem != problem:
            break
        if await request.is_disconnected():
            break
        await asyncio.sleep(LOOK_S)
    return JSONResponse(await run_in_threadpool(_body, desk, talk, state["name"], since))


def _body(desk: Desk, talk: Talk, phone: str, since: int) -> dict[str, Any]:
    at = talk.journal.at
    items = talk.journal.since(since) if since else talk.heard_already()
    safe = [
        {"key": one.key, "name": one.name, "have": one.size, "safe": True}
        for one in list(talk.journal.sent.values())[-MANY:]
    ]
    coming = [
        {"key": one.key, "name": one.name, "have": one.have, "safe": False}
        for one in desk.inbox.of(phone)
    ]
    return {
        "at": at,
        "told": [item.to_json() for item in items if item.n <= at],
        **talk.standing(),
        "received": [*safe, *coming],
        "problem": desk.live.problem,
    }
