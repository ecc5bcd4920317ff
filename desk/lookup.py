"""What a command or a page means by a job: the one named, else the newest."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from record.errors import RefusedError

if TYPE_CHECKING:
    from desk.opening import Opened
    from record.history import Line
    from record.jobs import Job
    from record.service import Service


def newest(jobs: Sequence[Job]) -> int:
    """Give the newest job by when its files began. Raises RefusedError where there is none."""
    if not jobs:
        raise RefusedError("there is no job yet", todo="take something in with `cowlnote intake`")
    return max(jobs, key=lambda job: (job.first or job.opened_at, job.id)).id


def line_of(here: Opened, job: int | None, *, sampled: bool = False) -> Line:
    """Give a job in its place among the others: the one named, else the newest."""
    from desk.ledger import open_ledger
    from record.history import is_oil_change

    lines = open_ledger(here).lines
    if job is None:
        found = [one for one in lines if not sampled or is_oil_change(one.service)]
        if not found:
            raise RefusedError("there is no such job yet", todo="take something in first")
        return found[-1]
    for one in lines:
        if one.service.job.id == job:
            return one
    raise RefusedError(f"there is no job {job}", todo="see `cowlnote jobs`")


def service_of(here: Opened, number: int | None) -> Service:
    """Give what is confirmed of a job: the one named, else the newest."""
    from record import jobs
    from record.service import service

    with here.store.session(write=False) as session:
        found = number if number is not None else newest(jobs.jobs(session))
        return service(session, found, here.catalogue)
