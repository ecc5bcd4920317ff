"""The book: one paper over the years, from confirmed values alone, for a purchaser or a mechanic.

Totals, services, oil used and compressions as pictures, defects and how they ended, what was done
in each job, photos. Nothing is signed in it, and it takes the place of no logbook.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from capture.errors import InputError
from desk import defects, ledger, logbook, papers, particulars
from record.compute import Interval, in_units
from record.history import Line, figure, is_oil_change
from record.shop import short

if TYPE_CHECKING:
    from desk.evidence import PathOf
    from desk.ledger import Ledger
    from desk.opening import Opened
    from desk.profile import Profile
    from extract.values.catalogue import Catalogue
    from record.service import Service

NOTICE = (
    "Made from the values that named persons confirmed; what nobody confirmed is not in it. It is "
    "no logbook and approves nothing: the signed entries count, and the maker's current "
    "instructions and local rules come first."
)
PAGE = "signed_page"


@dataclass(frozen=True, slots=True)
class Book:
    """A book in its parts.

    `totals` are pairs of label and value; `services` lines in columns; `used` is the oil used
    before each change (day, in `unit` an hour) and `held` the compressions (day, psi) by cylinder;
    `found` tells the defects; `jobs` are heading and text of each job; `seal` is the head of the
    record that it was made from.
    """

    title: str
    totals: tuple[tuple[str, str], ...]
    services: tuple[str, ...]
    used: tuple[tuple[date, Interval], ...]
    unit: str
    held: dict[int, tuple[tuple[date, Decimal], ...]]
    found: tuple[str, ...]
    jobs: tuple[tuple[str, str], ...]
    left_out: tuple[str, ...]
    seal: str


def within(found: Ledger, start: date | None, end: date | None) -> Ledger:
    """Give a ledger with the services from one day to another, both included; none undated.

    Raises InputError where the days run backwards, or no service lies between them.
    """
    if start and end and start > end:
        raise InputError(f"{start} lies after {end}", todo="name the earlier day with --from")
    lines = tuple(
        line
        for line in found.lines
        if (on := line.service.on) is not None
        and (start is None or on >= start)
        and (end is None or on <= end)
        and line.service.entries
    )
    if not lines:
        raise InputError("no confirmed service lies between these days", todo="see `history`")
    return ledger.Ledger(lines, found.reports)


def book_of(found: Ledger, part: Ledger, profile: Profile, catalogue: Catalogue, seal: str) -> Book:
    """Make the book of `part`, the services of a period, out of all that are `found`."""
    services = [line.service for line in part.lines]
    first, last = services[0].on, services[-1].on
    aircraft = profile.registration or "aircraft not named"
    undated = [line.service.job.id for line in found.lines if line.service.on is None]
    return Book(
        title=f"{aircraft}, {first} to {last}",
        totals=tuple(_totals(part.lines, profile)),
        services=tuple(ledger.history_text(part, catalogue, profile.units)),
        used=tuple(_used(part.lines, profile)),
        unit=profile.units.own("qt"),
        held=_held(services),
        found=tuple(_found(services)),
        jobs=tuple(_job(service, profile, catalogue) for service in services),
        left_out=tuple(f"job {number} has no date and is left out" for number in undated),
        seal=seal,
    )


def _totals(lines: Sequence[Line], profile: Profile) -> Iterator[tuple[str, str]]:
    services = [line.service for line in lines]
    yield "Jobs", str(len(lines))
    changes = [s for s in services if is_oil_change(s)]
    yield "Oil changes", str(len(changes))
    read = [line.carried for line in lines if line.carried is not None]
    if len(read) > 1:
        meter = lines[0].meter.name
        yield f"Hours by {meter}", f"{short(max(read) - min(read), 1)} h"
    added = sum((figure(s, "oil_added") or Decimal(0) for s in services), Decimal(0))
    yield "Oil put in", f"{short(profile.units.value(added, 'qt'), 2)} {profile.units.own('qt')}"
    for label, value, why in particulars.facts(services[-1], profile):
        if value or (why and label != "Data used"):
            yield label, value.replace("\u00a0", " ") or f"not known ({why})"


def _used(lines: Sequence[Line], profile: Profile) -> Iterator[tuple[date, Interval]]:
    for line in lines:
        if line.oil is not None and line.oil.per_hour is not None and line.service.on is not None:
            yield line.service.on, in_units(line.oil.per_hour, "qt", profile.units)


def _held(services: Sequence[Service]) -> dict[int, tuple[tuple[date, Decimal], ...]]:
    made: dict[int, list[tuple[date, Decimal]]] = {}
    for service in services:
        for (name, place), entry in service.entries.items():
            if name == "cylinder_compression" and isinstance(entry.value, Decimal) and service.on:
                made.setdefault(int(place or 0), []).append((service.on, entry.value))
    return {place: tuple(points) for place, points in sorted(made.items())}


def _found(services: Sequence[Service]) -> Iterator[str]:
    seen = set()
    for service in services:
        for defect in service.defects:
            if defect.ref not in seen:
                seen.add(defect.ref)
                yield from defects.lines([defect], every=True)


def _job(service: Service, profile: Profile, catalogue: Catalogue) -> tuple[str, str]:
    entry = logbook.entry_of(service, profile, catalogue)
    by = " and ".join(dict.fromkeys(e.by for e in service.entries.values()))
    said = [*entry.work, *entry.found]
    said += [f"OPEN: {told}" for told in entry.open]
    said += [f"Not confirmed: {entry.missing}"] if entry.missing else []
    pages = [papers.value_of(e, catalogue) for e in service.entries.values() if e.name == PAGE]
    said += [f"Signed page: {', '.join(pages)}."] if pages else []
    said.append(f"Entered by {by}.")
    heading = f"{service.on}, job {service.job.id}: {entry.title}"
    return heading, " ".join(said).replace("\u00a0", " ")


@dataclass(frozen=True, slots=True)
class Made:
    """A book that was drawn: its title and the PDF."""

    title: str
    pdf: bytes


def written_book(
    here: Opened,
    path_of: PathOf,
    start: date | None = None,
    end: date | None = None,
    *,
    photos: bool = True,
) -> Made:
    """Draw the book of an open record from one day to another, both included.

    Raises InputError where the days run backwards, or no service lies between them.
    """
    from desk import evidence
    from desk.book_pdf import book_pdf
    from record import heads

    found = ledger.open_ledger(here)
    part = within(found, start, end)
    with here.store.session(write=False) as session:
        head = heads.shown(*heads.of_record(session))
    made = book_of(found, part, here.settings.profile, here.catalogue, head)
    services = [line.service for line in part.lines]
    pictures = evidence.photos(services, path_of) if photos else []
    return Made(made.title, book_pdf(made, pictures))
