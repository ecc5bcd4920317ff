"""Rows of kept media, what was heard and read in them, and what is still to be heard or read."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlmodel import Session, col, delete, select

from capture.observed import (
    Instant,
    Kept,
    PhotoText,
    Transcript,
    Word,
    photo_from_json,
    to_json,
    transcript_from_json,
)
from record.errors import StoreError
from record.tables import MediaRow, SegmentRow, TranscriptRow
from record.values import dump, iso, moment, now, utc

SAME_BATCH = timedelta(days=2)  # two files of one name within this are told apart by their names
PAUSE_S = 1.0  # a pause this long ends a segment, as does a full stop
LONGEST = 40  # words in a segment at most


@dataclass(frozen=True, slots=True)
class Media:
    """A memo or photo of the record.

    `name` is what drafts call it: the file's own name (`original`), unless two different files of
    one batch share a name. `state` is kept, heard (or read, for a photo) or failed; `reason` then
    says why. `job` is None until it is joined to one. What is `aside` is kept and not counted.
    """

    id: int
    sha256: str
    name: str
    original: str
    size: int
    kind: str
    modified: datetime
    began: Instant | None
    state: str
    reason: str
    job: int | None
    aside: bool = False


def note(
    session: Session, kept: Kept, instant: Instant | None, *, page_of: int | None = None
) -> Media:
    """Make the row of a kept file, or give the row it already has, unchanged.

    A new file that is a `page_of` a job is of that job at once, and is never read.
    """
    row = session.exec(select(MediaRow).where(MediaRow.sha256 == kept.sha256)).first()
    if row is None:
        row = MediaRow(
            sha256=kept.sha256,
            name=_name(session, kept, instant),
            original=kept.name,
            size=kept.size,
            kind=kept.kind,
            modified=kept.modified.isoformat(),
            **_began(instant),
        )
        if page_of is not None:
            row.job_id, row.state = page_of, "heard"
        session.add(row)
        session.flush()
    return media_of(row)


def _name(session: Session, kept: Kept, instant: Instant | None) -> str:
    twins = session.exec(select(MediaRow).where(MediaRow.name == kept.name)).all()
    for twin in twins:
        then = moment(twin.began)
        if not (then and instant) or abs(then - instant.at) < SAME_BATCH:
            return own_name(kept.name, kept.sha256)
    return kept.name


def own_name(name: str, sha256: str) -> str:
    """Give a file's name with the beginning of its hash, by which it is told from its namesake."""
    stem, dot, ending = name.rpartition(".")
    return f"{stem or ending} ({sha256[:8]}){dot}{ending if stem else ''}"


def _began(instant: Instant | None) -> dict[str, Any]:
    if instant is None:
        return dict.fromkeys(("began", "began_utc", "began_source", "began_uncertainty_s"))
    return {
        "began": iso(instant.at),
        "began_utc": utc(instant.at),
        "began_source": instant.source,
        "began_uncertainty_s": instant.uncertainty_s,
        "began_doubt": instant.doubt,
    }


def media_of(row: MediaRow) -> Media:
    """Give the frozen value of a row."""
    at = moment(row.began)
    source, off = row.began_source or "file", row.began_uncertainty_s or 0.0
    began = Instant(at, source, off, row.began_doubt) if at else None
    return Media(
        row.id or 0,
        row.sha256,
        row.name,
        row.original,
        row.size,
        row.kind,
        datetime.fromisoformat(row.modified),
        began,
        row.state,
        row.reason,
        row.job_id,
        row.aside,
    )


def _row(session: Session, media_id: int) -> MediaRow:
    row = session.get(MediaRow, media_id)
    if row is None:
        raise StoreError(f"the record has no media {media_id}")
    return row


def get(session: Session, media_id: int) -> Media:
    """Give one memo or photo. Raises StoreError when there is none of that number."""
    return media_of(_row(session, media_id))


def find_media(
    session: Session, name: str, job: int | None = None, sha256: str | None = None
) -> Media | None:
    """Give the newest memo or photo that drafts call `name`, of one job if named.

    Where a decision sealed its hash it is found by that alone.
    """
    if sha256 is not None:
        sealed = session.exec(select(MediaRow).where(MediaRow.sha256 == sha256)).first()
        return media_of(sealed) if sealed else None
    query = select(MediaRow).where(MediaRow.name == name).order_by(col(MediaRow.id).desc())
    row = session.exec(query if job is None else query.where(MediaRow.job_id == job)).first()
    return media_of(row) if row else None


def source(every: Iterable[Media], name: str, sha256: str | None) -> Media | None:
    """Give the file of a name that a decision rests on: by its hash, where that was sealed."""
    return next((m for m in every if (m.sha256 == sha256 if sha256 else m.name == name)), None)


def media(session: Session, job: int | None = None, *, every: bool = True) -> list[Media]:
    """Give media in the order in which they began, of one job if named; not `every`: that count."""
    query = select(MediaRow).order_by(col(MediaRow.began_utc), col(MediaRow.id))
    if not every:
        query = query.where(col(MediaRow.aside).is_(False))
    rows = session.exec(query if job is None else query.where(MediaRow.job_id == job))
    return [media_of(row) for row in rows]


def hashes(session: Session) -> set[str]:
    """Give the SHA-256 of every memo and photo of the record."""
    return set(session.exec(select(MediaRow.sha256)))


def join(session: Session, media_id: int, job: int) -> None:
    """Say of which job a memo or photo is."""
    row = _row(session, media_id)
    if row.job_id != job:
        row.job_id = job
        session.add(row)
        session.flush()


def homeless(session: Session) -> list[Media]:
    """Give the media that are of no job yet: a run was ended before it came to that."""
    return [m for m in media(session) if m.job is None]


def unheard(session: Session, job: int | None = None) -> list[Media]:
    """Give the media not yet heard or read; those that failed are not among them."""
    return [m for m in media(session, job) if m.state == "kept"]


def set_failed(session: Session, media_id: int, reason: str) -> None:
    """Note that a file cannot be heard or read, and why."""
    row = _row(session, media_id)
    row.state, row.reason = "failed", reason
    session.add(row)
    session.flush()


def set_began(session: Session, media_id: int, instant: Instant) -> None:
    """Put right when a memo or photo began, and with it the time of every word said in it."""
    row = _row(session, media_id)
    for key, value in _began(instant).items():
        setattr(row, key, value)
    session.add(row)
    for segment in session.exec(select(SegmentRow).where(SegmentRow.media_id == media_id)):
        _date(segment, instant)
        session.add(segment)
    session.flush()


def _date(segment: SegmentRow, began: Instant | None) -> None:
    said = began.at + timedelta(seconds=segment.start_s or 0) if began else None
    segment.said_at, segment.said_utc = iso(said), utc(said)


def keep_transcript(session: Session, media_id: int, transcript: Transcript) -> None:
    """Keep a memo as heard, in place of an earlier hearing, and make its words searchable."""
    engine = ", ".join(dict.fromkeys(h.model for h in transcript.hearings))
    lines = [
        SegmentRow(
            media_id=media_id,
            start_s=words[0].start_s,
            end_s=words[-1].end_s,
            text=" ".join(w.text for w in words),
        )
        for words in _segments(transcript.words)
    ]
    _keep(session, media_id, transcript, "memo", engine, lines)


def keep_photo_text(session: Session, media_id: int, photo_text: PhotoText) -> None:
    """Keep a photo as read, in place of an earlier reading, and make its lines searchable."""
    lines = [SegmentRow(media_id=media_id, text=r.text) for r in photo_text.readings if r.text]
    _keep(session, media_id, photo_text, "photo", photo_text.reader, lines)


def _keep(
    session: Session,
    media_id: int,
    observed: Transcript | PhotoText,
    kind: str,
    engine: str,
    lines: list[SegmentRow],
) -> None:
    row = _row(session, media_id)
    session.exec(delete(TranscriptRow).where(col(TranscriptRow.media_id) == media_id))
    session.exec(delete(SegmentRow).where(col(SegmentRow.media_id) == media_id))
    body = dump(to_json(observed))
    session.add(
        TranscriptRow(media_id=media_id, kind=kind, engine=engine, made_at=now(), body=body)
    )
    began = media_of(row).began
    for line in lines:
        _date(line, began)
        session.add(line)
    row.state, row.reason = "heard", ""
    session.add(row)
    session.flush()


def _segments(words: tuple[Word, ...]) -> Iterator[list[Word]]:
    part: list[Word] = []
    for word in words:
        if part and (
            word.start_s - part[-1].end_s >= PAUSE_S
            or part[-1].text.endswith((".", "?", "!"))
            or len(part) >= LONGEST
        ):
            yield part
            part = []
        part.append(word)
    if part:
        yield part


def transcript_of(session: Session, media_id: int) -> Transcript | None:
    """Give a memo as heard, begun when the record now says it began; None if not yet heard."""
    body = _body(session, media_id, "memo")
    if body is None:
        return None
    now_ = get(session, media_id)
    heard = transcript_from_json(json.loads(body))
    return Transcript(now_.name, heard.duration_s, heard.hearings, heard.speech, now_.began)


def photo_text_of(session: Session, media_id: int) -> PhotoText | None:
    """Give a photo as read, taken when the record now says it was; None if not yet read."""
    body = _body(session, media_id, "photo")
    if body is None:
        return None
    now_ = get(session, media_id)
    seen = photo_from_json(json.loads(body))
    return PhotoText(now_.name, seen.size, seen.subject, seen.readings, seen.reader, now_.began)


def observed(session: Session, job: int) -> dict[int, Transcript | PhotoText]:
    """Give what was heard and read in all media of a job, by their numbers, at one go.

    As `transcript_of` and `photo_text_of`, but with the times of the hearing; see `Media.began`.
    """
    query = select(TranscriptRow.media_id, TranscriptRow.kind, TranscriptRow.body)
    query = query.join(MediaRow, col(MediaRow.id) == TranscriptRow.media_id)
    return {
        number: transcript_from_json(json.loads(body))
        if kind == "memo"
        else photo_from_json(json.loads(body))
        for number, kind, body in session.exec(query.where(MediaRow.job_id == job))
    }


def _body(session: Session, media_id: int, kind: str) -> str | None:
    query = select(TranscriptRow.body).where(TranscriptRow.media_id == media_id)
    return session.exec(query.where(TranscriptRow.kind == kind)).first()
