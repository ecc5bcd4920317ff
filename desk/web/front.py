"""The front page: what waits, what is due, what stands open, the last backup; and taking in."""

from __future__ import annotations

from collections import Counter
from datetime import datetime
from typing import TYPE_CHECKING, Any

from starlette.responses import RedirectResponse

from desk import backups, defects, dues, ledger, standing
from desk.web import forms
from desk.web.begin import lacking
from desk.web.context import Desk, desk_of, fleet, home_desk
from desk.web.papers import opened
from desk.web.sent import wanted

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

MOST = 20  # jobs on one page


def show(request: Request) -> Response:
    """Show in one glance what is to be done, then the jobs, and where files are dropped."""
    home, desk = home_desk(request), desk_of(request)
    rows = _jobs(desk, forms.page_of(request))
    if not home.settings.has_profile and not rows["jobs"] and "later" not in wanted(request):
        return RedirectResponse("/begin", 303)
    found = ledger.open_ledger(opened(desk))
    profile = desk.settings.profile
    now = datetime.now(profile.zone)
    every = dues.all_due(found, profile, now.date())
    told, bad = backups.told(home.settings.home, now)
    return desk.page(
        request,
        "front.html",
        here="jobs",
        due=dues.rows(every)[:4],
        past=any(one.past for one in every),
        standing=standing.open_heads(found, desk.catalogue, profile.known()),
        defects=[defects.line(one) for one in defects.standing(x.service for x in found.lines)],
        awaited=ledger.awaited(found),
        backup=told,
        backup_bad=bad,
        models=lacking(home),
        fetching=bool((task := home.tasks.get("models")) and task.going),
        fleet=[one for one in fleet(home) if one != profile.registration],
        has_profile=home.settings.has_profile,
        **rows,
    )


def _jobs(desk: Desk, page: int) -> dict[str, Any]:
    """Give one page of the jobs, newest first, and by name the files that gave nothing."""
    from desk.web.arrange import about
    from record import before, jobs, queue

    with desk.store.session(write=False) as session:
        every = list(reversed(jobs.jobs(session, every=True)))
        counted = [job for job in every if not job.aside]
        last = max(1, -(-len(counted) // MOST))
        at = min(page, last)
        waiting = queue.waiting(session)
        doubtful = Counter(q.job for q in waiting if q.draft.doubts)
        made = [
            {
                **about(job, desk),
                "day": before.day_of(session, job) or job.opened_at.date(),
                "waiting": job.waiting,
                "doubtful": doubtful[job.id],
                "state": "open" if job.is_open else f"closed by {job.closed_by}",
            }
            for job in counted[(at - 1) * MOST : at * MOST]
        ]
        lost = _lost(session, [job for job in counted if job.is_open])
    return {
        "jobs": made,
        "aside": [about(job, desk) for job in every if job.aside],
        "lost": lost,
        "several": len({job["aircraft"] for job in made}) > 1,
        "waiting": len(waiting),
        "doubtful": sum(doubtful.values()),
        "first": next((q.job for q in waiting if q.draft.doubts), waiting[0].job if waiting else 0),
        "at": at,
        "last": last,
    }


def _lost(session: Any, running: list[Any]) -> list[tuple[int, Any]]:
    from desk import understood
    from record import media, queue

    lost = []
    for job in running:
        told = [queued.draft for queued in queue.drafts(session, job.id)]
        seen = media.observed(session, job.id)
        lost += [(job.id, one) for one in understood.lost(media.media(session, job.id), seen, told)]
    return lost
