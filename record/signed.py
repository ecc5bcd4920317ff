"""The page as it was signed by hand, kept as a photo with its job, also after that was closed."""

from __future__ import annotations

from sqlmodel import Session

from capture.observed import Instant, Kept
from record import chain, entries, jobs, media
from record.entries import Entry
from record.errors import RefusedError
from record.values import dump, iso, pack, utc

FIELD = "signed_page"


def attach(session: Session, job: int, kept: Kept, taken: Instant | None, by: str) -> Entry:
    """Keep a photo as the signed page of a job, in the name of a person; it is not read.

    A job may have several pages, each with its number. Raises RefusedError: no name, no such job, a
    photo of another job, or one that is there already.
    """
    by = chain.person(by)
    jobs.get(session, job)
    photo = media.note(session, kept, taken, page_of=job)
    if photo.job != job:
        raise RefusedError(
            f"{photo.name} was taken in already, not with job {job}", todo="take the page anew"
        )
    pages = entries.entries(session, job, FIELD, every=True)
    if any(e.media == photo.name and e.counts for e in pages):
        raise RefusedError(f"{photo.name} is a signed page of job {job} already")
    place = max((p for e in pages if isinstance(p := e.position, int)), default=0) + 1
    because = "the page as signed"
    decision = chain.decide(session, job, "attach", by, because=because, media=(photo.name,))
    kind, value = pack(photo.name)
    at = photo.began.at if photo.began else None
    row = chain.enter(
        session,
        job_id=job,
        decision_id=decision.id,
        supersedes=None,
        name=FIELD,
        position=dump(place),
        kind=kind,
        value=value,
        unit=None,
        said=None,
        media=photo.name,
        start_s=None,
        end_s=None,
        said_at=iso(at),
        said_utc=utc(at),
        heard="the page as signed, not read",
        by=by,
        at=decision.at,
        text=f"signed page {photo.name}",
    )
    return entries.entry_of(row, evidence=decision.evidence)
