"""Which job a memo or photo belongs to: by when it was, and by the aircraft that it names.

Knows no screen and no engine. A time that is too weak to tell the day never opens a job where
others of the batch have one, and a registration that is not the home's own is followed: values of
another aircraft must not wait among this one's.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from capture.observed import PhotoText, Transcript
from desk.settings import Settings
from extract.exact import registration
from record import jobs
from record import media as rows
from record.media import Media

# A note without a registration is of the aircraft last named, if that was not longer ago than this.
# Common practice, no source: people name the aircraft when they begin, and not again.
HOLDS = timedelta(hours=3)


@dataclass(frozen=True, slots=True)
class Named:
    """The registrations that a memo or photo names: whether the home's own is among them."""

    own: bool = False
    others: tuple[str, ...] = ()


def named(seen: Transcript | PhotoText | None, settings: Settings) -> Named:
    """Give which aircraft a memo or photo names. Any hearing that has the own one is believed."""
    own = settings.profile.registration
    if not own or seen is None:
        return Named()
    home = registration.normal_form(own)
    if isinstance(seen, PhotoText):
        found = {m for r in seen.readings for m in registration.printed(r.text, own)}
        said, marks = home in found, tuple(sorted(found - {home}))
    else:
        hearings = [[w.text for w in hearing.words] for hearing in seen.hearings]
        said, marks = registration.told(hearings, own)
    return Named(said, tuple(settings.profile_of(mark).registration for mark in marks))


def stranger(
    media: Media, seen: Transcript | PhotoText | None, settings: Settings, aircraft: str | None
) -> str:
    """Say which aircraft a memo or photo names that is not the one of its job; empty for none."""
    found = named(seen, settings)
    own = settings.profile.registration
    names = {*found.others, *((own,) if found.own else ())}
    here = registration.normal_form(aircraft or own)
    they = sorted(name for name in names if registration.normal_form(name) != here)
    if not they:
        return ""
    how = "says" if media.kind == "memo" else "shows"
    return f"it {how} {', '.join(they)}, and this job is of {aircraft or own}"


def _registration(session: Any, job: int) -> str | None:
    return jobs.get(session, job).aircraft


def place(
    session: Any,
    batch: Sequence[Media],
    settings: Settings,
    tell: Callable[[str], None],
    *,
    job: int | None = None,
    kind: str | None = None,
) -> list[Media]:
    """Join what is of no job yet to its job; give what was joined. `tell` is told what is unsure.

    `job` names the job for all of them; `kind` is that of a new job. Raises RefusedError for a job
    that is closed or not there.
    """
    homeless = [media for media in batch if media.job is None]
    homeless.sort(key=lambda m: (jobs.is_weak(m.began), m.began.at.timestamp() if m.began else 0.0))
    sure: list[tuple[datetime, int]] = []
    if job is not None:
        jobs.job_for(session, None, job=job)  # it must be there and open
        of = {}
        for media in homeless:
            if words := stranger(
                media, _seen(session, media), settings, _registration(session, job)
            ):
                tell(f"{media.name}: {words}")
    else:
        of = _aircraft(session, homeless, settings, tell)
    for media in homeless:
        if job is not None:
            number = job
        elif media.began and not jobs.is_weak(media.began):
            at = media.began.at
            number = jobs.job_for(session, at, kind=kind, aircraft=of[media.id])
            sure.append((at, number))
        else:
            number = _weak(session, media, sure, of[media.id], kind, tell)
        rows.join(session, media.id, number)
    return homeless


def _weak(
    session: Any,
    media: Media,
    sure: Sequence[tuple[datetime, int]],
    aircraft: str | None,
    kind: str | None,
    tell: Callable[[str], None],
) -> int:
    """Place what has no time good for a day: with the others of the batch, the nearest of them."""
    at = media.began.at if media.began else None
    alike = [(when, n) for when, n in sure if jobs.get(session, n).aircraft == aircraft]
    if not alike:
        return jobs.job_for(session, at, kind=kind, aircraft=aircraft)
    number = min(alike, key=lambda one: abs(one[0] - at))[1] if at else alike[-1][1]
    if len({n for _, n in alike}) > 1:
        tell(
            f"{media.name}: its time does not tell its day; put with job {number}, "
            f"`cowlnote move` puts it elsewhere"
        )
    return number


def _aircraft(
    session: Any, batch: Sequence[Media], settings: Settings, tell: Callable[[str], None]
) -> dict[int, str | None]:
    """Say of which aircraft each is, in the order of time; what is not the home's own is told."""
    own = settings.profile.registration or None
    made: dict[int, str | None] = {}
    last: tuple[datetime, str | None] | None = None
    for media in _in_order(batch):
        found = named(_seen(session, media), settings)
        at = media.began.at if media.began and not jobs.is_weak(media.began) else None
        follows = last is not None and at is not None and at - last[0] <= HOLDS
        made[media.id] = last[1] if follows and last else own
        if found.others:
            they = ", ".join(found.others)
            how = "says" if media.kind == "memo" else "shows"
            if found.own:
                tell(f"{media.name}: {how} {they} as well as {own}; look at what was said of which")
            else:
                made[media.id] = found.others[0]
                tell(f"{media.name}: {how} {they}, not {own}; its values wait under {they}")
        elif follows and made[media.id] != own and not found.own:
            tell(f"{media.name}: names no aircraft; put with {made[media.id]}, named before it")
        if found.own:
            made[media.id] = own
        if at is not None and (found.own or found.others or follows):
            last = at, made[media.id]
    return made


def _in_order(batch: Iterable[Media]) -> list[Media]:
    return sorted(batch, key=lambda m: m.began.at.timestamp() if m.began else 0.0)


def _seen(session: Any, media: Media) -> Transcript | PhotoText | None:
    if media.kind == "photo":
        return rows.photo_text_of(session, media.id)
    return rows.transcript_of(session, media.id)
