"""Closing a job from the command line: what is left is listed first, then it takes a reason."""

from __future__ import annotations

from desk import findings, say
from desk.opening import Opened
from record import adverse, closing, jobs
from record.errors import RefusedError
from record.service import service


def close_job(here: Opened, number: int | None, by: str, because: str) -> None:
    """List what keeps a job from being whole, and close it where nothing does or a reason is given.

    Raises RefusedError: no such job, several open and none named, no name, no reason.
    """
    with here.store.session(write=False) as session:
        job = number if number is not None else _only(jobs.jobs(session))
        found = service(session, job, here.catalogue)
        known = here.settings.profile_of(found.job.aircraft).known()
        left = closing.left(found, here.catalogue, known)
        bad = [
            *adverse.entered(found, here.catalogue, known),
            *adverse.waiting(found.waiting, here.catalogue, known),
        ]
    if left.lines and found.job.is_open:
        say.lines(findings.lines(bad, here.catalogue))
        say.lines((*left.missing, *left.waiting))
    with here.store.session() as session:
        closing.close(
            session,
            job,
            by,
            because,
            catalogue=here.catalogue,
            known=known,
            seen=left.lines,
        )
    aircraft = f", {found.job.aircraft}" if found.job.aircraft else ""
    why = f"; {left} at the time, closed because: {because.strip()}" if left.lines else ""
    say.line(f"job {job}{aircraft} closed by {by}{why}")


def _only(every: list[jobs.Job]) -> int:
    open_ = [job.id for job in every if job.is_open]
    if len(open_) == 1:
        return open_[0]
    if not open_:
        raise RefusedError("no job is open", todo="see `cowlnote jobs`")
    raise RefusedError(f"jobs {', '.join(map(str, open_))} are open", todo="say which with --job")
