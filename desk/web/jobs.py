"""The first page: jobs, and where files are dropped."""

from __future__ import annotations

from collections import Counter
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
        doubtful = Counter(q.job for q in queue.waiting(session) if q.draft.doubts)
        for job in reversed(jobs.jobs(session)):
            kind = desk.catalogue.jobs.get(job.kind)
            found.append(
                {
                    "id": job.id,
                    "day": service.day_of(session, job) or job.opened_at.date(),
                    "kind": kind.label if kind else job.kind,
                    "waiting": job.waiting,
                    "doubtful": doubtful[job.id],
                    "state": "open" if job.is_open else f"closed by {job.closed_by}",
                }
            )
    return desk.page(request, "jobs.html", here="jobs", jobs=found)
