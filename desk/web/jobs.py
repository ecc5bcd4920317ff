"""The first page: jobs, and where files are dropped."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from desk.web.context import desk_of

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response


def show(request: Request) -> Response:
    """Show the jobs, newest first, and by name the files in which nothing was understood."""
    from desk import understood
    from desk.web.arrange import about
    from record import before, jobs, media, queue

    desk = desk_of(request)
    found: list[dict[str, Any]] = []
    aside: list[dict[str, Any]] = []
    lost = []
    with desk.store.session(write=False) as session:
        doubtful = Counter(q.job for q in queue.waiting(session) if q.draft.doubts)
        for job in reversed(jobs.jobs(session, every=True)):
            made = {
                **about(job, desk),
                "day": before.day_of(session, job) or job.opened_at.date(),
                "waiting": job.waiting,
                "doubtful": doubtful[job.id],
                "state": "open" if job.is_open else f"closed by {job.closed_by}",
            }
            (aside if job.aside else found).append(made)
            if job.is_open and not job.aside:
                told = [queued.draft for queued in queue.drafts(session, job.id)]
                every = media.media(session, job.id)
                seen = media.observed(session, job.id)
                lost += [(job.id, one) for one in understood.lost(every, seen, told)]
    several = len({job["aircraft"] for job in found}) > 1
    return desk.page(
        request, "jobs.html", here="jobs", jobs=found, aside=aside, lost=lost, several=several
    )
