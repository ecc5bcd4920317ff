"""The record: services in the order of time, one service with its evidence, the entry to print."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.responses import Response

from desk import papers
from desk.web import shown
from desk.web.context import Desk, desk_of

if TYPE_CHECKING:
    from starlette.requests import Request

    from record.service import Service

# What one line says of a service, where it is confirmed.
SUMMARY = ("tach_time", "oil_added", "oil_grade", "filter_part_number", "metal_found", "leak_check")


def show(request: Request) -> Response:
    """Show all services, newest first."""
    from record import jobs
    from record import service as services

    desk = desk_of(request)
    with desk.store.session(write=False) as session:
        found = [
            (job, services.service(session, job.id, desk.catalogue)) for job in jobs.jobs(session)
        ]
    found.sort(key=lambda pair: (str(pair[1].on or pair[0].opened_at.date()), pair[0].id))
    lines = [
        {
            "id": job.id,
            "day": service.on or job.opened_at.date(),
            "kind": _kind(desk, service),
            "waiting": job.waiting,
            "summary": "; ".join(
                f"{papers.label_of(name, None, desk.catalogue)} "
                f"{papers.value_of(entry, desk.catalogue)}"
                for name in SUMMARY
                if (entry := service.entry(name))
            ),
        }
        for job, service in reversed(found)
    ]
    return desk.page(request, "record.html", here="record", jobs=lines, due=[])


def _kind(desk: Desk, service: Service) -> str:
    kind = desk.catalogue.jobs.get(service.job.kind)
    return kind.label if kind else service.job.kind


def _service(request: Request) -> tuple[Desk, Service]:
    from record import service as services

    desk = desk_of(request)
    with desk.store.session(write=False) as session:
        return desk, services.service(session, request.path_params["job"], desk.catalogue)


def service(request: Request) -> Response:
    """Show one service: its confirmed values, each a link to its evidence, and the draft entry."""
    desk, found = _service(request)
    rows: list[dict[str, Any]] = []
    for entry in found.entries.values():
        decision = found.decision(entry)
        rows.append(
            {
                "label": papers.label_of(entry.name, entry.position, desk.catalogue),
                "shown": papers.value_of(entry, desk.catalogue),
                "note": "amended" if decision.action in ("amend", "correct") else "",
                "heard": f"“{entry.heard}”" if entry.media else entry.heard,
                "at": shown.clock(entry.said_at),
                "by": entry.by,
                "href": f"/job/{entry.job}"
                + (f"#draft-{decision.draft}" if decision.draft else ""),
            }
        )
    return desk.page(
        request,
        "service.html",
        here="record",
        job={
            "id": found.job.id,
            "label": _kind(desk, found),
            "day": found.on or found.job.opened_at.date(),
        },
        missing=[papers.label_of(name, None, desk.catalogue) for name in found.missing],
        entries=rows,
        entry=papers.logbook_entry(found, desk.settings.profile, desk.catalogue),
    )


def entry_pdf(request: Request) -> Response:
    """Give the draft logbook entry on paper: an A5 page, or the width of a logbook sticker."""
    from desk.paper_pdf import entry_pdf as drawn

    desk, found = _service(request)
    size = "sticker" if request.query_params.get("size") == "sticker" else "A5"
    text = papers.logbook_entry(found, desk.settings.profile, desk.catalogue)
    name = f"entry-job-{found.job.id}-{size.lower()}.pdf"
    return Response(
        drawn(text, size),
        media_type="application/pdf",
        headers={"content-disposition": f'inline; filename="{name}"'},
    )
