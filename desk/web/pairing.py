"""The phone's way in: the square that pairs it, the authority it can trust, and its page."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.responses import FileResponse, JSONResponse, Response

from desk.web.context import HERE, desk_of

if TYPE_CHECKING:
    from starlette.requests import Request

    from desk.web.context import Desk


def pair(request: Request) -> Response:
    """Show a one-time link for a phone, as a square to point its camera at."""
    import segno

    desk = desk_of(request)
    if not desk.address:
        raise HTTPException(404)
    link = f"{desk.phone_url}/open/{desk.doors.invite('phone')}"
    drawn = io.BytesIO()
    segno.make(link, error="m").save(
        drawn, kind="svg", scale=6, xmldecl=False, svgns=False, title="Link for the phone"
    )
    return desk.page(
        request,
        "pair.html",
        here="pair",
        qr=Markup(drawn.getvalue().decode()),  # noqa: S704  (drawn here, of a link made here)
        link=link,
        certificate=desk.certificate,
    )


def terminal_square(desk: Desk) -> str:
    """Give a one-time link for a phone as a square in half blocks, for a terminal."""
    import segno

    drawn = io.StringIO()
    link = f"{desk.phone_url}/open/{desk.doors.invite('phone')}"
    segno.make(link, error="m").terminal(drawn, border=2, compact=True)
    return drawn.getvalue().rstrip("\n")


def forget(request: Request) -> Response:
    """Unpair every phone: one was lost, or lent to somebody."""
    return JSONResponse({"phones": desk_of(request).doors.forget_phones()})


def phone(request: Request) -> Response:
    """Show the phone its targets."""
    desk, role = desk_of(request), request.scope["state"]["role"]
    return desk.page(request, "phone.html", certificate=desk.certificate, role=role)


def worker(request: Request) -> Response:
    """Give the script that lets the phone's page open without a network."""
    # from here, and not from the other scripts' folder, it may speak for the phone's page
    return FileResponse(HERE / "static" / "worker.js", headers={"service-worker-allowed": "/phone"})


def authority(request: Request) -> Response:
    """Give the phone the desk's authority, in the form in which it takes one to trust."""
    certificate = desk_of(request).certificate
    if certificate is None:
        raise HTTPException(404)
    return Response(
        certificate.authority,
        media_type="application/x-x509-ca-cert",
        headers={"content-disposition": 'attachment; filename="cowlnote-desk.crt"'},
    )
