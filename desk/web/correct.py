"""Corrections, also after the job was closed, and what became of a defect."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from capture.errors import InputError
from desk.web.context import desk_of
from desk.web.sent import body_of

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response


async def defect(request: Request) -> Response:
    """Say what became of a defect, in the name of a person; what it was before stays."""
    body = await body_of(request)
    desk = desk_of(request)
    ref, state, by, because, until, where = (
        str(body.get(key, "")) for key in ("defect", "state", "by", "because", "until", "in")
    )
    if where != "new" and not where.isdecimal():
        raise InputError("no job was named", todo="load the page again")

    def work() -> None:
        from record import defects

        with desk.store.session() as session:
            number = int(where) if where != "new" else defects.new_job(session, ref)
            defects.settle(session, ref, state, by, because, until=until, job=number)

    await run_in_threadpool(work)
    return JSONResponse({})


async def correct(request: Request) -> Response:
    """Correct an entry, or withdraw it, in the name of a person; the old one stays to be seen."""
    body = await body_of(request)
    desk, job = desk_of(request), request.path_params["job"]
    number = str(body.get("entry", ""))

    def work() -> None:
        from record import entries

        by, because = str(body.get("by", "")), str(body.get("because", ""))
        with desk.store.session() as session:
            if number not in {str(e.id) for e in entries.entries(session, job)}:
                raise InputError("that entry no longer counts", todo="load the page again")
            if body.get("withdraw"):
                entries.withdraw(session, int(number), by, because)
            else:
                text = str(body.get("value", ""))
                entries.correct(session, int(number), text, by, because, desk.catalogue)

    await run_in_threadpool(work)
    return JSONResponse({})
