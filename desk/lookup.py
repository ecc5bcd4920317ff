"""What a command means when it names no job."""

from __future__ import annotations

from collections.abc import Sequence

from record.errors import RefusedError
from record.jobs import Job


def newest(jobs: Sequence[Job]) -> int:
    """Give the newest job by when its files began. Raises RefusedError where there is none."""
    if not jobs:
        raise RefusedError("there is no job yet", todo="take something in with `cowlnote intake`")
    return max(jobs, key=lambda job: (job.first or job.opened_at, job.id)).id
