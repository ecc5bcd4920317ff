"""Jobs and their files JSON-ready, as the command line gives them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from record.jobs import Job
    from record.media import Media


def job_json(job: Job) -> dict[str, Any]:
    """Give a job JSON-ready."""
    return {
        "id": job.id,
        "kind": job.kind,
        "kind_offered": job.offered,
        "aircraft": job.aircraft,
        "aside": job.aside,
        "first": job.first.isoformat() if job.first else None,
        "last": job.last.isoformat() if job.last else None,
        "waiting": job.waiting,
        "closed_by": job.closed_by,
        "closed_at": job.closed_at.isoformat() if job.closed_at else None,
    }


def media_json(one: Media) -> dict[str, Any]:
    """Give a memo or photo JSON-ready."""
    return {
        "file": one.name,
        "kind": one.kind,
        "began": one.began.at.isoformat() if one.began else None,
        "state": one.state,
        "aside": one.aside,
    }
