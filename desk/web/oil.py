"""The oil page: laboratory reports, the metals in words and drawn, the filter beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.responses import Response

from desk import trends
from desk.ledger import Ledger, open_ledger
from desk.opening import Opened
from desk.web.context import Desk, desk_of
from record import verdict

if TYPE_CHECKING:
    from starlette.requests import Request


def ledger_of(desk: Desk) -> Ledger:
    """Gather services and reports for a page."""
    return open_ledger(Opened(desk.settings, desk.catalogue, desk.store))


def show(request: Request) -> Response:
    """Show what the reports say, and whom to ask."""
    desk = desk_of(request)
    ledger = ledger_of(desk)
    found = trends.trends(ledger)
    return desk.page(
        request,
        "oil.html",
        here="oil",
        metals=trends.table(found) if found else [],
        told=trends.told(found),
        reports=trends.report_rows(ledger.reports) if ledger.reports else [],
        filters=trends.filter_rows(ledger),
        foot=verdict.FOOT,
    )


def drawn(request: Request) -> Response:
    """Give the metals drawn, as SVG, one or two panels across; 404 while there is no report."""
    from desk.plots import svg

    desk = desk_of(request)
    ledger = ledger_of(desk)
    found = trends.trends(ledger)
    if not found:
        return Response(status_code=404)
    title = f"{desk.settings.profile.registration}: metals in the oil".lstrip(": ")
    across = 1 if request.query_params.get("across") == "1" else 2
    drawing = svg(found, title, trends.filters(ledger), across=across)
    return Response(drawing, media_type="image/svg+xml")
