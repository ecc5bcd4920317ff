"""From everything that was heard and read of a job to its drafts: read, fuse, doubt, queue."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from capture.observed import Instant, PhotoText, Transcript
from desk import placing
from desk.answers import read_all
from desk.memos import read_memos
from desk.settings import Settings
from extract.values.catalogue import Catalogue
from extract.values.defects import FINDINGS
from extract.values.draft import Alternative, Draft, Evidence
from extract.values.known import Known
from extract.witness.fuse import fuse
from extract.witness.photo import read_photo
from record import arrange, checks, entries, jobs, media, queue
from record import before as earlier
from record.media import Media

# Words said this close to a photo may tell what the photo is of. Common practice, no source:
# people say what they snap as they snap it.
NEAR = timedelta(seconds=90)
# Of a date that nobody said: it is a day on which memos began, and no more is known.
OFFERED = "nobody said the date: it is the day of the memos, by the clock that dated them"
SURE_OF_OFFERED = 0.5
_CLOCKS = {
    "exif": "the camera's clock",
    "container": "the clock of the recorder",
    "name": "the time in its name",
    "spoken": "the time said in it",
    "person": "its clock as put right at the desk",
}


@dataclass(frozen=True, slots=True)
class Drafted:
    """How a job was drafted anew: the drafts, and their numbers in the queue."""

    ids: tuple[int, ...] = ()
    drafts: tuple[Draft, ...] = ()


@dataclass(frozen=True, slots=True)
class Material:
    """What a job is drafted from: what was heard and read of it, and what is known before it."""

    memos: tuple[Transcript, ...]
    photos: tuple[PhotoText, ...]
    known: Known
    aircraft: str | None


@dataclass(frozen=True, slots=True)
class Read:
    """What was read from a job's material, which takes seconds and needs no record."""

    material: Material
    drafts: tuple[Draft, ...]


def read(session: Any, job: int, settings: Settings, catalogue: Catalogue) -> Read:
    """Read a job's material while nobody else has to wait: `session` need not be open to write."""
    return read_material(session, job, material(session, job, settings), catalogue)


def material(session: Any, job: int, settings: Settings) -> Material:
    """Give what a job is drafted from, as `session` sees it; nothing is read of it yet."""
    return _material(session, job, media.media(session, job, every=False), settings)


def read_material(session: Any, job: int | None, found: Material, catalogue: Catalogue) -> Read:
    """Read what a job is drafted from; `job` is None where there is none of it yet."""
    return Read(found, _each(session, job, found, catalogue))


def again(
    session: Any, job: int, settings: Settings, catalogue: Catalogue, before: Read | None = None
) -> Drafted:
    """Draft a job anew from everything that was heard and read of it, and queue that.

    Also offers its kind, while no person has said it. A job that is closed or set aside is left as
    it is. `session` is the record's, open to write; `before` was read outside of it, and holds
    where the job's material is still the same.
    """
    found = jobs.get(session, job)
    if not found.is_open or found.aside:
        return Drafted()
    made = draft(session, job, settings, catalogue, before)
    ids = queue.put(session, job, made)
    arrange.put_away(session, job, ids, lambda one: OFFERED in one.doubts)
    names = {q.draft.name for q in queue.drafts(session, job) if q.state != "rejected"}
    if told := kind_of(names, catalogue):
        jobs.offer(session, job, *told)
    return Drafted(tuple(ids), made)


def draft(
    session: Any, job: int, settings: Settings, catalogue: Catalogue, before: Read | None = None
) -> tuple[Draft, ...]:
    """Give the drafts of a job, one for each field and position; `session` is the record's."""
    everything = media.media(session, job, every=False)
    return of_media(session, job, everything, settings, catalogue, before=before)


def of_media(
    session: Any,
    job: int | None,
    everything: Sequence[Media],
    settings: Settings,
    catalogue: Catalogue,
    coming: Sequence[Transcript | PhotoText] = (),
    before: Read | None = None,
) -> tuple[Draft, ...]:
    """Give what these memos and photos of a job tell, as they were heard and read.

    `coming` are such as are on their way and of no job yet; `job` is None where there is none.
    """
    now = _material(session, job, everything, settings, coming)
    memos, photos = now.memos, now.photos
    known, aircraft = now.known, now.aircraft
    same = before is not None and before.material == now
    read = before.drafts if before is not None and same else _each(session, job, now, catalogue)
    seen: dict[str, Transcript | PhotoText] = {
        **{one.media: one for one in memos},
        **{one.media: one for one in photos},
    }
    strange = {
        m.name: placing.stranger(m, seen.get(m.name), settings, aircraft) for m in everything
    }
    read = tuple(d.with_doubt(strange.get(d.media, "")) for d in read)
    made = fuse(read, catalogue, known)
    made = tuple(whole(with_photo(one, photos), known) for one in made)
    dated = job is not None and entries.entries(session, job, "service_date")
    if made and not dated and not any(one.name == "service_date" for one in made):
        made = (*made, *offered_date(everything))
    return checks.add_doubts(session, made, known, job=job, aircraft=aircraft, catalogue=catalogue)


def _material(
    session: Any,
    job: int | None,
    everything: Sequence[Media],
    settings: Settings,
    coming: Sequence[Transcript | PhotoText] = (),
) -> Material:
    own = settings.profile.registration or None
    aircraft = own if job is None else jobs.get(session, job).aircraft
    memos = [t for one in everything if (t := media.transcript_of(session, one.id))]
    photos = [p for one in everything if (p := media.photo_text_of(session, one.id))]
    memos += [one for one in coming if isinstance(one, Transcript)]
    photos += [one for one in coming if isinstance(one, PhotoText)]
    sure = [m.began.at for m in everything if m.began and not jobs.is_weak(m.began)]
    sure += [at.at for one in coming if (at := _at(one)) and not jobs.is_weak(at)]
    on = min(sure).date() if sure else None
    profile = settings.profile_of(aircraft).known(on)
    known = earlier.known(session, profile, on, job=job, aircraft=aircraft)
    return Material(tuple(memos), tuple(photos), known, aircraft)


def _at(one: Transcript | PhotoText) -> Instant | None:
    return one.began if isinstance(one, Transcript) else one.taken


def offered_date(everything: Sequence[Media]) -> tuple[Draft, ...]:
    """Give the day of the memos as a doubtful draft, where their clocks are good for a day.

    Without a memo the photos' will do. Where they are of several days, the last is offered (work is
    dated by the day of its end, 14 CFR 43.9(a)(2)) and the others are its alternatives.
    """
    sure = [m for m in everything if m.began and not jobs.is_weak(m.began)]
    sure = [m for m in sure if m.kind == "memo"] or sure
    days: dict[date, Media] = {}
    for one in sure:
        days.setdefault(one.began.at.date(), one)  # type: ignore[union-attr]
    if not days:
        return ()
    day = max(days)
    of = days[day]
    clock = _CLOCKS.get(of.began.source if of.began else "", "its clock")
    others = tuple(
        Alternative(other, 0.3, f"the day of {one.name}")
        for other, one in sorted(days.items())
        if other != day
    )
    doubts = (OFFERED, *(("the memos are of more than one day",) if others else ()))
    heard = f"the day of {of.name}, by {clock}"
    at = of.began.at if of.began else None
    return (
        Draft(
            "service_date",
            day,
            None,
            None,
            of.name,
            None,
            None,
            at,
            heard,
            SURE_OF_OFFERED,
            doubts,
            others,
        ),
    )


def kind_of(names: Iterable[str], catalogue: Catalogue) -> tuple[str, str] | None:
    """Give the kind of job that drafted fields tell of, and why; None where nothing tells.

    A kind comes into question by a field that only such work has; of several, the one that has a
    place for the most of what was said.
    """
    said = set(names)
    best: tuple[int, str, str] | None = None
    for kind in catalogue.jobs.values():
        marks = [name for name in kind.marks if name in said]
        covered = len(said & {*kind.required, *kind.usual, *kind.marks})
        if marks and (best is None or covered > best[0]):
            told = " and ".join(catalogue.fields[name].label for name in marks[:2])
            best = covered, kind.name, f"{told} {'was' if len(marks) == 1 else 'were'} said"
    return best[1:] if best else None


def _each(
    session: Any, job: int | None, material: Material, catalogue: Catalogue
) -> tuple[Draft, ...]:
    known, aircraft = material.known, material.aircraft

    def reading(memos: Sequence[Transcript], photos: Sequence[PhotoText]) -> list[Draft]:
        made = read_memos(memos, catalogue, known)
        for seen in photos:
            made += read_photo(seen, catalogue, known, said_near(seen, material.memos))
        return made

    def doubting(drafts: Sequence[Draft]) -> Sequence[Draft]:
        made = fuse(drafts, catalogue, known)
        return checks.add_doubts(
            session, made, known, job=job, aircraft=aircraft, catalogue=catalogue
        )

    return tuple(read_all(material.memos, material.photos, catalogue, reading, doubting))


def whole(draft: Draft, known: Known) -> Draft:
    """Complete the end of a part number from the profile's, with a doubt; what was said stays."""
    said, expected = draft.value, known.filter_part_number
    if draft.name != "filter_part_number" or not expected or not isinstance(said, str):
        return draft
    number = expected.upper()
    if not said.startswith("-") or said == number or not number.endswith(said):
        return draft
    short = Alternative(said, draft.confidence, "as it was said")
    others = tuple(a for a in draft.alternatives if a.value != number)
    made = replace(draft, value=number, alternatives=(short, *others))
    return made.with_doubt(f"only {said} was said; the rest is the profile's {expected}")


def with_photo(draft: Draft, photos: Iterable[PhotoText]) -> Draft:
    """Give a finding with the photo taken nearest to its words, within a minute and a half."""
    said = draft.said_at
    if draft.name not in FINDINGS or said is None:
        return draft
    apart = [(abs(p.taken.at - said), p) for p in photos if p.taken is not None]
    gap, photo = min(apart, key=lambda one: one[0], default=(NEAR * 2, None))
    if photo is None or gap > NEAR or any(e.media == photo.media for e in draft.also):
        return draft
    wide, high = photo.size
    whole = ((0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high))
    way = "after" if photo.taken and photo.taken.at >= said else "before"
    told = f"the nearest photo, {round(gap.total_seconds())} s {way}"
    at = photo.taken.at if photo.taken else None
    return replace(draft, also=(*draft.also, Evidence(photo.media, told, None, None, at, whole)))


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
