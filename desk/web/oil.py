"""The oil page: reports in, the metals in words and drawn, the filter beside them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, Response

from capture.errors import InputError
from desk import laboratory, trends
from desk.ledger import Ledger, open_ledger
from desk.web import asks, forms
from desk.web.context import Desk, desk_of
from desk.web.papers import opened
from desk.web.sent import figure, said, wanted
from record import verdict
from record.rules import metals

if TYPE_CHECKING:
    from starlette.requests import Request

    from record.reports import LabReport


def ledger_of(desk: Desk) -> Ledger:
    """Gather services and reports for a page."""
    return open_ledger(opened(desk))


def show(request: Request) -> Response:
    """Show what the reports say, and whom to ask; then where one is entered."""
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
        symbols=[{"symbol": s, "name": one.name} for s, one in metals().items()],
        numbers=[one.id for one in ledger.reports],
        labs=sorted({one.report.lab for one in ledger.reports}),
    )


def drawn(request: Request) -> Response:
    """Give the metals drawn, as SVG, one or more panels across; 404 while there is no report."""
    from desk.plots import svg

    desk = desk_of(request)
    ledger = ledger_of(desk)
    found = trends.trends(ledger)
    if not found:
        return Response(status_code=404)
    title = f"{desk.settings.profile.registration}: metals in the oil".lstrip(": ")
    asked = wanted(request).get("across", "2")
    across = int(asked) if asked in ("1", "2", "4") else 2
    drawing = svg(found, title, trends.filters(ledger), across=across)
    return Response(drawing, media_type="image/svg+xml")


def _report(given: dict[str, str], source: str = "typed") -> LabReport:
    figures = {s: given[s] for s in metals() if given.get(s)}
    if not figures:
        raise InputError("no figure was given", todo="type at least one, in ppm as printed")
    lab, date, hours, tach, number, note = (
        given.get(key, "") for key in ("lab", "date", "hours", "tach", "number", "note")
    )
    return laboratory.made(figures, lab, date, hours, tach, number, note, source)


async def add(request: Request) -> Response:
    """Enter a report that was typed; with a photo, that is kept as where the figures came from."""
    desk = desk_of(request)

    def enter(given: dict[str, str], source: str) -> str:
        done = laboratory.enter(opened(desk), [_report(given, source)], given.get("by", ""))
        return ". ".join(laboratory.entered_text(done))

    def with_photo(path: Path, given: dict[str, str]) -> str:
        _report(given)  # what cannot be entered is said before the photo is kept
        kept = desk.vault.keep(path)
        return enter(given, f"photo {kept.name} {kept.sha256}")

    if request.headers.get("content-type", "").startswith("application/json"):
        given = said(request)
        return forms.words(await run_in_threadpool(enter, given, "typed"))
    return forms.words(await forms.laid(request, with_photo))


async def correct(request: Request) -> Response:
    """Put a right report in the place of a wrong one; the wrong one stays, with the reason."""
    given = said(request)
    desk = desk_of(request)
    number = figure(given.get("id", ""), asks.MOST_NUMBER)
    if number is None:
        raise InputError("no report was named", todo="choose the one that is wrong")

    def work() -> str:
        done = laboratory.correct(
            opened(desk),
            number,
            _report(given),
            given.get("by", ""),
            given.get("because", ""),
        )
        return ". ".join(laboratory.entered_text([done]))

    return forms.words(await run_in_threadpool(work))


async def file(request: Request) -> Response:
    """Enter the reports of a CSV file, all or none."""
    desk = desk_of(request)

    def work(path: Path, given: dict[str, str]) -> str:
        reports = laboratory.from_csv(path, given.get("lab", ""))
        done = laboratory.enter(opened(desk), reports, given.get("by", ""))
        return ". ".join(laboratory.entered_text(done))

    return forms.words(await forms.laid(request, work))


async def look(request: Request) -> Response:
    """Say what a CSV file would become. Nothing is recorded."""

    def work(path: Path, given: dict[str, str]) -> str:
        reports = laboratory.from_csv(path, given.get("lab", ""))
        return ". ".join(line for one in reports for line in laboratory.report_text(one))

    return forms.words(await forms.laid(request, work))


async def photo(request: Request) -> Response:
    """Read the figures off a photo of a printed report; nothing is entered by it."""
    desk = desk_of(request)

    def work(path: Path, _given: dict[str, str]) -> dict[str, Any]:
        from desk.reports import read_photo

        figures, left = read_photo(path, desk.settings)
        words = "Look at the paper beside each figure, put right what is wrong, then enter it."
        if not figures:
            words = (
                "No figure could be read. Type the report, or take the photo anew: closer, flat."
            )
        return {"words": words, "figures": figures, "left": list(left)}

    return JSONResponse(await forms.laid(request, work))
