"""Sound, waveforms and pictures for the page; what is made of them lies in the home's cache."""

from __future__ import annotations

import json
import mimetypes
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.exceptions import HTTPException
from starlette.responses import FileResponse, Response

from capture.errors import AlteredError
from desk.web.context import Desk, desk_of
from desk.web.sent import figure, wanted

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.requests import Request

    from extract.values.draft import Draft, Evidence
    from record.media import Media

# What browsers play as it is; anything else is turned into WAV once.
PLAYED = frozenset({".mp3", ".wav", ".ogg", ".oga", ".opus", ".flac", ".m4a", ".mp4", ".webm"})
PEAKS = 1200  # points of a waveform, about one a pixel
KEEP = {"cache-control": "private, max-age=86400"}  # bytes that never change
SIZES = (320, 720, 1440)


def _media(desk: Desk, number: int, kind: str) -> Media:
    from record import media

    with desk.store.session(write=False) as session:
        found = media.get(session, number)
    if found.kind != kind:
        raise HTTPException(404)
    return found


def _proved(desk: Desk, found: Media) -> Path:
    """Give where an original lies, read to its last byte; one that is altered is named."""
    try:
        return desk.vault.proved(found.sha256)
    except AlteredError as error:
        raise AlteredError(error.what, found.name, "run `cowlnote check`") from error


def _cached(desk: Desk, name: str, make: Callable[[], bytes]) -> Path:
    """Give a file of the cache that is what it was made of its original, to the last byte."""
    return desk.derived.file(desk.settings.home / "cache", name, make)


def sound(request: Request) -> Response:
    """Give a memo's sound, seekable; with `wav`, as what every browser plays."""
    desk = desk_of(request)
    found = _media(desk, request.path_params["media"], "memo")
    path = _proved(desk, found)
    ending = Path(found.original).suffix.lower()
    if ending in PLAYED and "wav" not in wanted(request):
        guessed = mimetypes.guess_type(f"memo{ending}")[0] or "audio/mpeg"
        return FileResponse(path, media_type=guessed.replace("video/", "audio/"), headers=KEEP)

    def wav() -> bytes:
        from capture.audio import RATE, clip, decode

        samples = decode(path)
        return clip(samples, 0.0, len(samples) / RATE)

    made = _cached(desk, f"{found.sha256}.wav", wav)
    return FileResponse(made, media_type="audio/wav", headers=KEEP)


def peaks(request: Request) -> Response:
    """Give the loudest sample of each of about a thousand stretches of a memo, 0 to 1, as JSON."""
    desk = desk_of(request)
    found = _media(desk, request.path_params["media"], "memo")
    path = _proved(desk, found)

    def make() -> bytes:
        import numpy as np

        from capture.audio import decode

        samples = np.abs(decode(path))
        if not samples.size:
            return b"[]"
        starts = np.linspace(0, samples.size, min(PEAKS, samples.size), endpoint=False, dtype=int)
        loud = np.maximum.reduceat(samples, starts)
        return json.dumps([round(float(x), 3) for x in loud]).encode()

    made = _cached(desk, f"{found.sha256}.peaks.json", make)
    return FileResponse(made, media_type="application/json", headers=KEEP)


def photo(request: Request) -> Response:
    """Give a photo, upright, small enough for the page and without where it was taken."""
    from capture.photo import thumbnail

    desk = desk_of(request)
    found = _media(desk, request.path_params["media"], "photo")
    px = asked if (asked := figure(wanted(request).get("px", ""), 9999)) in SIZES else SIZES[0]
    path = _proved(desk, found)
    made = _cached(desk, f"{found.sha256}.{px}.jpg", lambda: thumbnail(path, px))
    return FileResponse(made, media_type="image/jpeg", headers=KEEP)


def crop(request: Request) -> Response:
    """Give the part of a photo that a draft was read from, or that witnesses it (`of` names it)."""
    from capture.photo import crop as cut
    from record import media, queue

    desk = desk_of(request)
    with desk.store.session(write=False) as session:
        queued = queue.get(session, request.path_params["draft"])
        draft, of = queued.draft, wanted(request).get("of", queued.draft.media)
        witnesses: tuple[Draft | Evidence, ...] = (*draft.also, draft)
        seen = {w.media: w.quad for w in witnesses if w.quad is not None}
        sealed = queued.decision.rests.get(of) if queued.decision else None
        found = media.find_media(session, of, queued.job, sealed)
    if found is None or of not in seen:
        raise HTTPException(404)
    return Response(cut(_proved(desk, found), seen[of]), media_type="image/jpeg")
