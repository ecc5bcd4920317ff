"""The sound and pictures that values came from, cut out to lie beside the papers.

Cuts carry no position and no other data of the file; a file that is gone or altered is named.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from capture.errors import AlteredError, CowlnoteError
from desk.papers import label_of, value_of
from record.entries import named
from record.media import source

if TYPE_CHECKING:
    from extract.values.catalogue import Catalogue
    from extract.values.draft import Draft, Evidence
    from record.entries import Entry
    from record.media import Media
    from record.service import Service

AROUND_S = 0.5  # of the memo before and after the words that state a value
PX = 1440
PathOf = Callable[[str], Path]  # from a file's SHA-256 to where it lies


@dataclass(frozen=True, slots=True)
class Cut:
    """A piece of a memo (WAV) or of a photo (JPEG): a name for its file, its bytes, what it is."""

    name: str
    content: bytes
    told: str


def cuts(service: Service, entry: Entry, path_of: PathOf) -> Iterator[Cut]:
    """Give what one value came from: its words in the memo, its place in the photo, and so on.

    Of a file that is gone or altered it gives the name and why, with no name of a cut.
    """
    stem = "-".join(filter(None, (entry.name, _plain(entry.position))))
    seen: list[tuple[str, float | None, float | None, object]] = [
        (entry.media, entry.start, entry.end, None)
    ]
    if (draft := _draft(service, entry)) is not None:
        witnesses: tuple[Draft | Evidence, ...] = (draft, *draft.also)
        seen = [(w.media, w.start, w.end, w.quad) for w in witnesses]
    rests = service.decision(entry).rests
    for number, (name, start, end, quad) in enumerate(seen):
        told = named(name, rests.get(name))
        found = source(service.media, name, rests.get(name))
        if found is None:
            continue
        try:
            content, ending = _cut(found, path_of(found.sha256), start, end, quad)
        except AlteredError as error:
            yield Cut("", b"", f"{told}: {error.what}")
            continue
        except (CowlnoteError, OSError):
            continue
        more = f"-{number + 1}" if number else ""
        yield Cut(f"{stem}{more}.{ending}", content, told)


def _draft(service: Service, entry: Entry) -> Draft | None:
    decision = service.decision(entry)
    decided = (q.draft for q in service.decided if q.id == decision.draft)
    return next((d for d in decided if d.media == entry.media), None)


def _cut(
    found: Media, path: Path, start: float | None, end: float | None, quad: object
) -> tuple[bytes, str]:
    if found.kind == "photo":
        from capture.photo import crop, thumbnail

        return (crop(path, quad) if quad else thumbnail(path, PX)), "jpg"  # type: ignore[arg-type]
    from capture.audio import clip

    return clip(path, max(0.0, (start or 0.0) - AROUND_S), (end or 0.0) + AROUND_S), "wav"


def _plain(position: object) -> str:
    return "" if position is None else re.sub(r"[^a-z0-9]+", "_", str(position).lower())


def photos(services: Iterable[Service], path_of: PathOf, px: int = 900) -> list[tuple[bytes, str]]:
    """Give the photos of jobs as small upright JPEGs, each with name, hash and when it was taken.

    One that is gone or altered is named, and has no bytes.
    """
    from capture.photo import thumbnail

    made = []
    for service in services:
        for one in service.media:
            if one.kind != "photo":
                continue
            at = f", {one.began.at:%Y-%m-%d %H:%M}" if one.began else ""
            told = f"{named(one.name, one.sha256)}{at}"
            try:
                made.append((thumbnail(path_of(one.sha256), px), told))
            except AlteredError as error:
                made.append((b"", f"{told}: {error.what}"))
            except (CowlnoteError, OSError):
                continue
    return made


def beside(service: Service, catalogue: Catalogue, path_of: PathOf) -> dict[str, bytes]:
    """Give the cuts of a job's values by file name, and `index.html`, each by its value."""
    made: dict[str, bytes] = {}
    rows = []
    for entry in service.entries.values():
        shown = []
        for cut in cuts(service, entry, path_of):
            if cut.name:
                made[cut.name] = cut.content
            shown.append(_shown(cut))
        label = html.escape(label_of(entry.name, entry.position, catalogue))
        value = html.escape(value_of(entry, catalogue))
        heard = html.escape(entry.heard)
        rows.append(
            f"<tr><td>{label}<td>{value}<td>“{heard}”<br>{''.join(shown)}<td>"
            f"{html.escape(entry.by)}, {entry.at:%Y-%m-%d %H:%M}"
        )
    if not made:
        return {}
    title = f"Job {service.job.id}: values and what they came from"
    page = (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>{title}</title>'
        f"<h1>{title}</h1><table><tr><th>What<th>Value<th>Said or seen<th>Entered by"
        f"{''.join(rows)}</table></html>\n"
    )
    return {**made, "index.html": page.encode()}


def _shown(cut: Cut) -> str:
    told = html.escape(cut.told)
    if not cut.name:
        return f"<strong>{told}</strong> "
    if cut.name.endswith(".wav"):
        return f'<audio controls src="{cut.name}"></audio> {told} '
    return f'<img src="{cut.name}" alt="{told}" style="max-width:30em"> {told} '
