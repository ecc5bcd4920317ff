"""Where a job's memos and photos belong, put right on the page in the name of a person."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from capture.errors import InputError
from desk.web import shown
from desk.web.context import Desk, desk_of, fleet
from desk.web.sent import said

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from desk.arranging import Act
    from record.jobs import Job
    from record.media import Media


def show(request: Request) -> Response:
    """Show a job's files, what can be done with them, and what was done."""
    from desk import arranging, understood
    from record import jobs, media, queue

    desk, number = desk_of(request), request.path_params["job"]
    with desk.store.session(write=False) as session:
        job = jobs.get(session, number)
        every = media.media(session, number)
        drafts = [queued.draft for queued in queue.drafts(session, number)]
        lost = understood.lost(every, media.observed(session, number), drafts)
        others = [j for j in jobs.jobs(session) if j.id != number and j.is_open]
        told = arranging.told(session, number)
    why = {one.id: one.why for one in lost}
    return desk.page(
        request,
        "arrange.html",
        here="jobs",
        job=about(job, desk),
        files=[_file(one, why.get(one.id, "")) for one in every],
        others=[about(one, desk) for one in others],
        kinds=kinds(desk),
        aircraft=fleet(desk),
        told=told,
    )


def about(job: Job, desk: Desk) -> dict[str, Any]:
    """Give a job as the page shows it: whose, of what kind and whether only offered, how it is."""
    kind = desk.catalogue.jobs.get(job.kind)
    return {
        "id": job.id,
        "aircraft": job.aircraft or "",
        "kind": job.kind,
        "label": kind.label if kind else job.kind,
        "offered": job.offered,
        "day": (job.first or job.opened_at).date(),
        "closed": not job.is_open,
        "aside": job.aside,
    }


def kinds(desk: Desk) -> list[dict[str, str]]:
    """Give the kinds of job, by name and label."""
    return [{"name": k.name, "label": k.label} for k in desk.catalogue.jobs.values()]


def _file(one: Media, why: str) -> dict[str, Any]:
    began = one.began
    return {
        "id": one.id,
        "name": one.name,
        "kind": one.kind,
        "at": shown.clock(began.at if began else None) or "no time is known",
        "doubt": began.doubt if began else "",
        "aside": one.aside,
        "why": one.reason if one.state == "failed" else why,
    }


async def arrange(request: Request) -> Response:
    """Move, split, join, set aside or take back, or say kind, aircraft or clock."""
    body = said(request)
    desk, job = desk_of(request), request.path_params["job"]

    def work() -> dict[str, Any]:
        from desk import arranging

        act = _act(desk, job, body)
        done = arranging.carry_out(desk.store, desk.settings, desk.catalogue, act)
        return {"jobs": list(done.jobs), "taken_back": done.taken_back}

    return JSONResponse(await run_in_threadpool(work))


def _act(desk: Desk, job: int, body: dict[str, Any]) -> Act:
    """Read what a person wants. Raises InputError for what the page cannot have sent."""
    from desk import arranging
    from desk.commands.take import shift_of
    from record import arrange, jobs

    by, because = str(body.get("by", "")), str(body.get("because", ""))
    files, to, what = _files(body), body.get("to"), str(body.get("value", ""))
    match body.get("act"):
        case "move" if to == "new":
            return lambda s: arrange.split(s, job, files, by, because)
        case "move" if isinstance(to, int):
            return lambda s: arrange.move(s, files, to, by, because)
        case "join" if isinstance(to, int):
            return lambda s: arrange.join(s, job, to, by, because)
        case "kind":
            kind = arranging.a_kind(what, desk.catalogue)
            return lambda s: arrange.set_kind(s, job, kind, by, because)
        case "aircraft":
            found = desk.settings.profile_of(what.strip().upper()).registration
            return lambda s: arrange.set_aircraft(s, job, found, by, because)
        case "clock":
            shift = shift_of(what, "the shift")
            return lambda s: arrange.shift_clock(s, files, shift, by, because)
        case "aside" | "back" as act:
            do = arrange.aside if act == "aside" else arrange.back
            if not files:
                return lambda s: do(s, job, by, because)

            def each(session: Any) -> arrange.Done:
                jobs.get(session, job)
                done = [do(session, job, by, because, number) for number in files]
                return arrange.Done((job,), sum(one.taken_back for one in done))

            return each
    raise InputError("that cannot be done", todo="load the page again")


def _files(body: dict[str, Any]) -> list[int]:
    files = body.get("files", [])
    if not isinstance(files, list) or not all(type(one) is int for one in files):
        raise InputError("the files cannot be read", todo="load the page again")
    return files
