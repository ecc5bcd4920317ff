"""The first page: jobs, and where files are dropped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from desk.web.context import desk_of

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response


def show(request: Request) -> Response:
    """Show the jobs, newest first."""
    from record import jobs, queue, service

    desk = desk_of(request)
    with desk.store.session(write=False) as session:
        found = []
        for job in reversed(jobs.jobs(session)):
            waiting = queue.waiting(session, job.id)
            kind = desk.catalogue.jobs.get(job.kind)
            found.append(
                {
                    "id": job.id,
                    "day": service.day_of(session, job) or job.opened_at.date(),
                    "kind": kind.label if kind else job.kind,
                    "waiting": len(waiting),
                    "doubtful": sum(bool(q.draft.doubts) for q in waiting),
                    "state": "open" if job.is_open else f"closed by {job.closed_by}",
                }
            )
    return desk.page(request, "jobs.html", here="jobs", jobs=found)
