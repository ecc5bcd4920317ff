"""From everything that was heard and read of a job to its drafts: read, fuse, doubt."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta
from typing import Any

from capture.observed import PhotoText, Transcript
from desk.profile import Profile
from extract.read import read_memo
from extract.values.catalogue import Catalogue
from extract.values.draft import Draft
from extract.values.known import Known
from extract.witness.fuse import fuse
from extract.witness.photo import read_photo
from record import checks, media, service

# Words said this close to a photo may tell what the photo is of. Common practice, no source:
# people say what they snap as they snap it.
NEAR = timedelta(seconds=90)


def draft(session: Any, job: int, profile: Profile, catalogue: Catalogue) -> tuple[Draft, ...]:
    """Give the drafts of a job, one for each field and position; `session` is the record's."""
    everything = media.media(session, job)
    memos = [t for one in everything if (t := media.transcript_of(session, one.id))]
    photos = [p for one in everything if (p := media.photo_text_of(session, one.id))]
    began = min((one.began.at for one in everything if one.began), default=None)
    on = began.date() if began else None
    aircraft = profile.registration or None
    known = service.known(session, profile.known(on), on, job=job, aircraft=aircraft)
    made = fuse(_each(memos, photos, catalogue, known), catalogue, known)
    return checks.add_doubts(session, made, known, job=job, aircraft=aircraft, catalogue=catalogue)


def _each(
    memos: Sequence[Transcript], photos: Sequence[PhotoText], catalogue: Catalogue, known: Known
) -> tuple[Draft, ...]:
    made: list[Draft] = []
    for heard in memos:
        made += read_memo(heard, catalogue, known)
    for seen in photos:
        made += read_photo(seen, catalogue, known, said_near(seen, memos))
    return tuple(made)


def said_near(photo: PhotoText, memos: Iterable[Transcript]) -> tuple[str, ...]:
    """Give the words said within a minute and a half of the moment a photo was taken."""
    if photo.taken is None:
        return ()
    return tuple(
        word.text
        for memo in memos
        for word in memo.words
        if (said := memo.moment(word.start_s)) and abs(said - photo.taken.at) <= NEAR
    )
