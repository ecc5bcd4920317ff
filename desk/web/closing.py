"""Closing from the page: what is left is listed first, and goes into the record with the reason."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from capture.errors import InputError
from desk import findings
from desk.web.context import Desk, desk_of
from desk.web.sent import said

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response


def left(request: Request) -> Response:
    """Give what keeps a job from being whole: adverse with its caution, missing, waiting."""
    return JSONResponse(_left(desk_of(request), request.path_params["job"]))


def _left(desk: Desk, job: int) -> dict[str, Any]:
    from record import adverse, closing
    from record.service import service

    known = desk.settings.profile.known()
    with desk.store.session(write=False) as session:
        found = service(session, job, desk.catalogue)
    bad = [
        *adverse.entered(found, desk.catalogue, known),
        *adverse.waiting(found.waiting, desk.catalogue, known),
    ]
    listed = closing.left(found, desk.catalogue, known)
    return {
        "lines": list(listed.lines),
        "told": str(listed),
        "adverse": [
            {**findings.card(b.finding), "shown": findings.shown(b, desk.catalogue)} for b in bad
        ],
    }


async def close(request: Request) -> Response:
    """Close a job in the name of a person: from then on its decisions stand."""
    body = said(request)
    desk, job = desk_of(request), request.path_params["job"]
    seen = body.get("seen")
    if not isinstance(seen, list):
        raise InputError("what is left in the job was not shown", todo="load the page again")

    def work() -> None:
        from record import closing

        with desk.store.session() as session:
            closing.close(
                session,
                job,
                str(body.get("by", "")),
                str(body.get("because", "")),
                catalogue=desk.catalogue,
                known=desk.settings.profile.known(),
                seen=tuple(map(str, seen)),
            )

    await run_in_threadpool(work)
    return JSONResponse({})
