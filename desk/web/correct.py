"""Corrections, also after the job was closed, and what became of a defect."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from capture.errors import InputError
from desk.web import asks
from desk.web.asked import asked, known_of, seen_of, twice
from desk.web.context import Desk, desk_of
from desk.web.sent import figure, said
from record.errors import RefusedError, StaleError

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response


async def defect(request: Request) -> Response:
    """Say what became of a defect, in the name of a person; what it was before stays."""
    body = said(request)
    desk = desk_of(request)
    ref, state, by, because, until, where = (
        str(body.get(key) or "") for key in ("defect", "state", "by", "because", "until", "in")
    )
    into = figure(where, asks.MOST_NUMBER)
    if where != "new" and into is None:
        raise InputError("no job was named", todo="load the page again")

    def work() -> None:
        from record import defects

        with desk.store.session() as session:
            number = defects.new_job(session, ref) if into is None else into
            defects.settle(session, ref, state, by, because, until=until, job=number)

    await run_in_threadpool(work)
    return JSONResponse({})


async def correct_entry(request: Request) -> Response:
    """Correct an entry, or withdraw it, in the name of a person; the old one stays to be seen.

    Where it is refused the answer says what would be needed.
    """
    body = said(request)
    desk, job = desk_of(request), request.path_params["job"]

    def work() -> Response:
        try:
            _correct(desk, job, body)
        except RefusedError as error:
            return asked(desk, error)
        return JSONResponse({})

    return await run_in_threadpool(work)


def _correct(desk: Desk, job: int, body: dict[str, Any]) -> None:
    from record import correct, entries

    seen, number = seen_of(body), str(body.get("entry", ""))
    by, because = str(body.get("by", "")), str(body.get("because", ""))
    told: dict[str, Any] = {"seen": seen, "catalogue": desk.catalogue}
    with desk.store.session() as session:
        found = {str(e.id): e for e in entries.entries(session, job)}
        if number not in found:
            raise StaleError("that entry no longer counts", todo="load the page again")
        if body.get("withdraw"):
            correct.withdraw(session, int(number), by, because, **told)
            return
        text = str(body.get("value", ""))
        told["although"] = twice(found[number].name, text, body, desk.catalogue)
        told["known"] = known_of(desk, session, job)
        correct.correct(session, int(number), text, by, because, **told)
