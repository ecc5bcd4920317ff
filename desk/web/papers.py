"""Papers of a job to look at and print: checklist, slip, sums; and a torque in three units."""

from __future__ import annotations

from typing import TYPE_CHECKING

from desk import lookup
from desk.opening import Opened
from desk.web.context import Desk, desk_of
from desk.web.sent import wanted

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response


def _paper(
    request: Request, desk: Desk, title: str, lines: list[str], about: str, name: str
) -> Response:
    job = request.path_params.get("job")
    return desk.page(
        request,
        "paper.html",
        here="record",
        job=job,
        title=title,
        lines=lines,
        about=about,
        key=name,
    )


def opened(desk: Desk) -> Opened:
    """Give the desk's record with what is needed to read it, as a command has it."""
    return Opened(desk.settings, desk.catalogue, desk.store)


def checklist(request: Request) -> Response:
    """Show what a job calls for: entered, waiting, or never said; bad news first."""
    from desk.checked import checklist_of

    desk = desk_of(request)
    lines = checklist_of(opened(desk), request.path_params["job"])
    about = "What this kind of work calls for, and what of it is entered, waits or was never said."
    return _paper(request, desk, "Checklist", lines, about, "checklist")


def slip(request: Request) -> Response:
    """Show the slip that goes with the oil sample of a job."""
    from desk.ledger import job_slip

    desk = desk_of(request)
    lines = job_slip(opened(desk), request.path_params["job"])
    about = "To go with the oil sample. What is not confirmed is left for you to write."
    return _paper(request, desk, "Sample slip", lines, about, "slip")


def sums(request: Request) -> Response:
    """Show every sum that a job's confirmed values allow, with its source."""
    from desk.sums import sums_text

    desk = desk_of(request)
    line = lookup.line_of(opened(desk), request.path_params["job"])
    about = "Each with its span and where the formula comes from; confirmed values alone."
    return _paper(request, desk, "Sums", sums_text(line, desk.settings.profile), about, "sums")


def torque(request: Request) -> Response:
    """Show a torque in three units, and what the wrench must show with an adapter on it."""
    from capture.errors import InputError
    from desk.sums import torque_lines

    desk, asked = desk_of(request), wanted(request)
    given = {k: asked.get(k, "").strip() for k in ("wanted", "unit", "length", "adapter", "way")}
    lines, wrong = [], ""
    if given["wanted"]:
        try:
            lines = torque_lines(
                given["wanted"],
                given["unit"] or "ft-lb",
                given["length"],
                given["adapter"],
                given["way"] or "in line",
            )
        except InputError as error:
            wrong = str(error)
    return desk.page(request, "torque.html", here="record", given=given, lines=lines, wrong=wrong)
