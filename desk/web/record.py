"""The record: services in the order of time, one service with its evidence, the entry to print."""

from __future__ import annotations

import json
from datetime import datetime
from typing import TYPE_CHECKING, Any

from starlette.responses import Response

from desk import defects, dues, evidence, findings, ledger, logbook, papers, standing
from desk.opening import Opened
from desk.sums import sums_text
from desk.web import forms, shown
from desk.web.context import Desk, desk_of, fleet
from desk.web.sent import wanted
from record.media import source
from record.seen import of_entry

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.requests import Request

    from record.entries import Entry
    from record.service import Service

# What one line says of a service, where it is confirmed.
SUMMARY = ("tach_time", "oil_added", "oil_grade", "filter_part_number", "metal_found", "leak_check")
MOST = 30  # services on one page
NOTES = {"amend": "amended", "correct": "corrected", "add": "typed", "late": "late entry, typed"}


def show(request: Request) -> Response:
    """Show all services, newest first, and when the next oil change is due."""
    desk = desk_of(request)
    profile = desk.settings.profile
    registration, asked = profile.registration, "aircraft" in wanted(request)
    known = profile.known()
    found = ledger.open_ledger(_opened(desk))
    every = dues.all_due(found, profile, datetime.now(profile.zone).date())
    due = next(one for one in every if one.what == dues.OIL)
    last = max(1, -(-len(found.lines) // MOST))
    at = min(forms.page_of(request), last)
    lines = [
        {
            "id": line.service.job.id,
            "day": _day(line.service),
            "kind": _kind(desk, line.service),
            "waiting": line.service.job.waiting,
            "closed_by": line.service.job.closed_by,
            "waits": standing.waiting_text(line),
            "bad": shown.bad(line.service, desk.catalogue, known),
            "hours": f"{line.hours.show('h', 1)} on the oil" if line.hours else "",
            "values": [
                {
                    "label": papers.label_of(name, None, desk.catalogue),
                    "shown": papers.value_of(entry, desk.catalogue),
                    "mark": _mark(desk, entry),
                    "href": _evidence(line.service, entry),
                }
                for name in SUMMARY
                if (entry := line.service.entry(name))
            ],
        }
        for line in list(reversed(found.lines))[(at - 1) * MOST : at * MOST]
    ]
    left = standing.standing_heads(found, desk.catalogue, known)
    said = [*dues.due_text(due, profile), *left]
    past = any(one.past for one in every) or bool(left)
    return desk.page(
        request,
        "record.html",
        here="record",
        jobs=lines,
        due=said,
        past=past,
        listed=dues.rows(every) if len(every) > 1 else [],
        references=profile.references,
        calendar=f"/due.ics?{request.url.query}" if request.url.query else "/due.ics",
        fleet=[one for one in fleet(desk) if one != profile.registration],
        at=at,
        last=last,
        pages=f"/record?aircraft={registration}&page=" if asked else "/record?page=",
    )


def calendar(request: Request) -> Response:
    """Give what is due as an iCalendar file."""
    from desk.ics import calendar as written

    desk = desk_of(request)
    profile = desk.settings.profile
    now = datetime.now(profile.zone)
    every = dues.all_due(ledger.open_ledger(_opened(desk)), profile, now.date())
    return Response(
        written(every, profile, now),
        media_type="text/calendar",
        headers={"content-disposition": 'attachment; filename="due.ics"'},
    )


def _before(desk: Desk, found: Service, entry: Entry) -> list[str]:
    """Give the adverse values that an entry took the place of, each with its word."""
    from record import adverse

    known = desk.settings.profile.known()
    return [
        f"{papers.value_of(old, desk.catalogue)} ({bad.word})"
        for old, bad in adverse.before(found, entry, desk.catalogue, known)
    ]


def _mark(desk: Desk, entry: Entry) -> str:
    from record.adverse import finding_of

    known = desk.settings.profile.known()
    found = finding_of(entry.name, entry.value, desk.catalogue, known)
    return f"{findings.MARK} {findings.WORDS[found.stands]}" if found else ""


def _opened(desk: Desk) -> Opened:
    return Opened(desk.settings, desk.catalogue, desk.store)


def _day(service: Service) -> Any:
    return service.on or service.job.opened_at.date()


def _kind(desk: Desk, service: Service) -> str:
    return _label(desk, service.job.kind)


def _label(desk: Desk, name: str) -> str:
    kind = desk.catalogue.jobs.get(name)
    return kind.label if kind else name


def _evidence(service: Service, entry: Entry) -> str:
    """Give the address of the draft that an entry came from, through what it corrected."""
    every = {e.id: e for e in (*service.entries.values(), *service.replaced)}
    at: Entry | None = entry
    while at is not None:
        decision = service.decision(at)
        if decision.draft is not None:
            return f"/job/{entry.job}#draft-{decision.draft}"
        at = every.get(at.supersedes or 0)
    return f"/job/{entry.job}"


def _service(request: Request) -> tuple[Desk, Service]:
    from record import service as services

    desk = desk_of(request)
    with desk.store.session(write=False) as session:
        return desk, services.service(session, request.path_params["job"], desk.catalogue)


def service(request: Request) -> Response:
    """Show one service: its confirmed values, each a link to its evidence, and the draft entry."""
    desk, found = _service(request)
    lines = ledger.open_ledger(_opened(desk)).lines
    sums = [
        told
        for line in lines
        if line.service.job.id == found.job.id
        for told in sums_text(line, desk.settings.profile)[2:]
    ]
    drafted = {q.draft.name for q in found.waiting}
    signed = [
        source(found.media, e.media, e.sha256)
        for e in found.entries.values()
        if e.name == "signed_page"
    ]
    return desk.page(
        request,
        "service.html",
        here="record",
        job={
            "id": found.job.id,
            "label": _kind(desk, found),
            "day": _day(found),
            "waiting": found.job.waiting,
            "aside": found.job.aside,
            "closed_by": found.job.closed_by,
            "closed_at": shown.clock(
                found.job.closed_at.astimezone(desk.settings.zone) if found.job.closed_at else None
            ),
        },
        fields=list(desk.catalogue.fields.values()),
        bad=shown.bad(found, desk.catalogue, desk.settings.profile.known()),
        why_closed=[d for d in found.decisions if d.action == "close" and d.because],
        missing=_labels(desk, [n for n in found.missing if n not in drafted]),
        undecided=_labels(desk, [n for n in found.missing if n in drafted]),
        entries=[_row(desk, found, entry) for entry in found.entries.values()],
        replaced=[_old(desk, found, entry) for entry in found.replaced if entry.value is not None],
        pages=[page.id for page in signed if page is not None],
        sums=sums,
        defects=[
            {"ref": d.ref, "shown": defects.line(d), "words": d.words}
            for d in found.defects
            if d.state != "cleared"
        ],
        running=_running(desk, found),
        entry=papers.logbook_entry(found, desk.settings.profile, desk.catalogue),
    )


def _running(desk: Desk, found: Service) -> list[dict[str, Any]]:
    """Give the open jobs of the same aircraft in which something may be put right, newest first."""
    from record import jobs

    with desk.store.session(write=False) as session:
        its = [j for j in jobs.jobs(session, found.job.aircraft) if j.is_open]
    return [{"id": j.id, "label": _label(desk, j.kind)} for j in reversed(its)]


def _labels(desk: Desk, names: list[str]) -> list[str]:
    return [papers.label_of(name, None, desk.catalogue) for name in names]


def _row(desk: Desk, found: Service, entry: Entry) -> dict[str, Any]:
    decision = found.decision(entry)
    return {
        "id": entry.id,
        "label": papers.label_of(entry.name, entry.position, desk.catalogue),
        "shown": papers.value_of(entry, desk.catalogue),
        "mark": _mark(desk, entry),
        "before": _before(desk, found, entry),
        "note": NOTES.get(decision.action, ""),
        "because": decision.because,
        "heard": f"“{entry.heard}”" if entry.media else entry.heard,
        "at": shown.clock(entry.said_at),
        "source": entry.source,
        "by": entry.by,
        "href": _evidence(found, entry),
        "seen": json.dumps(of_entry(entry, desk.catalogue).to_json()),
    }


def _old(desk: Desk, found: Service, entry: Entry) -> dict[str, Any]:
    later = next((e for e in _all(found) if e.id == entry.superseded_by), None)
    made = _row(desk, found, entry)
    return made | {
        "later_by": later.by if later else "",
        "why": found.decision(later).because if later else "",
        "when": shown.clock(later.at.astimezone(desk.settings.zone)) if later else "",
    }


def _all(found: Service) -> list[Entry]:
    return [*found.entries.values(), *found.replaced]


def entry_pdf(request: Request) -> Response:
    """Give the draft logbook entry on paper: an A5 page, or the width of a logbook sticker."""
    from desk.paper_pdf import entry_pdf as drawn

    desk, found = _service(request)
    size = "sticker" if wanted(request).get("size") == "sticker" else "A5"
    entry = logbook.entry_of(found, desk.settings.profile_of(found.job.aircraft), desk.catalogue)
    asked = "photos" in wanted(request) and size != "sticker"
    photos = evidence.photos([found], desk.vault.proved) if asked else []
    name = f"entry-job-{found.job.id}-{size.lower()}.pdf"
    return Response(
        drawn(entry, size, photos=photos),
        media_type="application/pdf",
        headers={"content-disposition": f'inline; filename="{name}"'},
    )


def book_pdf(request: Request) -> Response:
    """Give the book over the years, of the days in the address, or of all."""
    from datetime import date

    from capture.errors import InputError
    from desk.book import written_book

    desk = desk_of(request)
    asked = (wanted(request).get(key, "") for key in ("from", "to"))
    try:
        start, end = (date.fromisoformat(day) if day else None for day in asked)
    except ValueError:
        raise InputError("a day is written 2026-03-14", todo="mend the address") from None
    made = written_book(_opened(desk), desk.vault.proved, start, end)
    return Response(
        made.pdf,
        media_type="application/pdf",
        headers={"content-disposition": 'inline; filename="book.pdf"'},
    )


async def signed(request: Request) -> Response:
    """Keep the photo of the signed page with its job, also after that was closed."""
    from desk import signing

    desk, job = desk_of(request), request.path_params["job"]

    def work(path: Path, given: dict[str, str]) -> str:
        entry = signing.keep(_opened(desk), desk.vault, path, job, given.get("by", ""))
        return f"{entry.value} kept as signed page {entry.position}"

    return forms.words(await forms.laid(request, work))
