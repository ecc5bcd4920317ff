"""The page's application: routes, errors as one page or one sentence, and how it is served."""

from __future__ import annotations

import mimetypes

from starlette.applications import Starlette
from starlette.convertors import IntegerConvertor, register_url_convertor
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from capture.errors import CowlnoteError, ExitCode
from desk.web import (
    aircraft,
    arrange,
    begin,
    closing,
    correct,
    decide,
    front,
    help,
    keep,
    media,
    oil,
    pairing,
    papers,
    people,
    record,
    review,
    search,
    tasks,
    told,
    upload,
    words,
)
from desk.web.context import HERE, Desk, desk_of
from desk.web.doors import PAIRED_S, Guard, is_loopback

STATUS = {
    ExitCode.INPUT: 400,
    ExitCode.REFUSED: 409,
    ExitCode.STORE: 503,
    ExitCode.INTEGRITY: 503,
    ExitCode.MODEL: 503,
}


class Number(IntegerConvertor):
    """A number in an address, as far as a record can have it; a larger one is no page."""

    regex = "[0-9]{1,9}"


register_url_convertor("int", Number())


def create_app(desk: Desk) -> Starlette:
    """Make the application for an open home."""
    mimetypes.add_type("text/javascript", ".js")
    app = Starlette(
        routes=[
            Route("/", front.show),
            Route("/begin", begin.show, methods=["GET"]),
            Route("/begin", begin.make, methods=["POST"]),
            Route("/models/fetch", begin.fetch, methods=["POST"]),
            Route("/task/{name}", tasks.show),
            Route("/aircraft", aircraft.show, methods=["GET"]),
            Route("/aircraft", aircraft.change, methods=["POST"]),
            Route("/aircraft/recurring", aircraft.recurs, methods=["POST"]),
            Route("/aircraft/reference", aircraft.refers, methods=["POST"]),
            Route("/aircraft/meter", aircraft.meter, methods=["POST"]),
            Route("/people", people.show, methods=["GET"]),
            Route("/people", people.put, methods=["POST"]),
            Route("/words", words.show, methods=["GET"]),
            Route("/words", words.learn, methods=["POST"]),
            Route("/keep", keep.show),
            Route("/keep/plan", keep.plan, methods=["POST"]),
            Route("/keep/backup", keep.backup, methods=["POST"]),
            Route("/keep/check", keep.check, methods=["POST"]),
            Route("/keep/recover", keep.recover, methods=["POST"]),
            Route("/keep/models", keep.models, methods=["POST"]),
            Route("/keep/export", keep.export, methods=["POST"]),
            Route("/keep/look", keep.look, methods=["POST"]),
            Route("/keep/import", keep.bring, methods=["POST"]),
            Route("/help", help.show),
            Route("/help/try", help.try_, methods=["POST"]),
            Route("/help/hear", help.hear, methods=["POST"]),
            Route("/torque", papers.torque),
            Route("/job/{job:int}/checklist", papers.checklist),
            Route("/job/{job:int}/slip", papers.slip),
            Route("/job/{job:int}/sums", papers.sums),
            Route("/open/{key}", come_in),
            Route("/job/{job:int}", review.show),
            Route("/job/{job:int}/decide", decide.decide, methods=["POST"]),
            Route("/job/{job:int}/add", decide.add, methods=["POST"]),
            Route("/job/{job:int}/read", decide.read_words, methods=["POST"]),
            Route("/job/{job:int}/left", closing.left),
            Route("/job/{job:int}/close", closing.close, methods=["POST"]),
            Route("/job/{job:int}/arrange", arrange.show, methods=["GET"]),
            Route("/job/{job:int}/arrange", arrange.arrange, methods=["POST"]),
            Route("/draft/{draft:int}", decide.draft),
            Route("/media/{media:int}/sound", media.sound),
            Route("/media/{media:int}/peaks", media.peaks),
            Route("/media/{media:int}/photo", media.photo),
            Route("/draft/{draft:int}/crop", media.crop),
            Route("/record", record.show),
            Route("/due.ics", record.calendar),
            Route("/record/book.pdf", record.book_pdf),
            Route("/record/{job:int}", record.service),
            Route("/record/{job:int}/entry.pdf", record.entry_pdf),
            Route("/record/{job:int}/correct", correct.correct_entry, methods=["POST"]),
            Route("/record/{job:int}/signed", record.signed, methods=["POST"]),
            Route("/record/{job:int}/defect", correct.defect, methods=["POST"]),
            Route("/oil", oil.show),
            Route("/oil/trend.svg", oil.drawn),
            Route("/oil/add", oil.add, methods=["POST"]),
            Route("/oil/file", oil.file, methods=["POST"]),
            Route("/oil/look", oil.look, methods=["POST"]),
            Route("/oil/photo", oil.photo, methods=["POST"]),
            Route("/oil/correct", oil.correct, methods=["POST"]),
            Route("/search", search.show),
            Route("/intake/events", upload.events),
            Route("/pair", pairing.pair),
            Route("/pair/forget", pairing.forget, methods=["POST"]),
            Route("/phone", pairing.phone),
            Route("/phone/desk.crt", pairing.authority),
            Route("/phone/worker.js", pairing.worker),
            Route("/phone/told", told.told),
            Route("/upload", upload.begin, methods=["POST"]),
            Route("/upload/{number}", upload.coming, methods=["GET"]),
            Route("/upload/{number}", upload.piece, methods=["POST"]),
            Route("/upload/{number}/done", upload.done, methods=["POST"]),
            Mount("/static", StaticFiles(directory=HERE / "static")),
        ],
        middleware=[Middleware(Guard, doors=desk.doors)],
        exception_handlers={
            CowlnoteError: _in_words,
            ClientDisconnect: _gone,
            HTTPException: _not_here,
            OSError: _disk,
            Exception: _fault,
        },
    )
    app.state.desk = desk
    return app


async def come_in(request: Request) -> Response:
    """Trade a one-time link for a session, and leave the key out of the address."""
    desk = desk_of(request)
    here = is_loopback(request.client.host if request.client else "")
    held = request.cookies.get(desk.doors.cookie, "")
    entered = desk.doors.enter(request.path_params["key"], held)
    if entered is None or (entered[1] == "desk" and not here):
        words = "This link was used or is too old; ask the desk for another."
        return PlainTextResponse(words, 403) if here else Response(status_code=404)
    secret, role = entered
    response = RedirectResponse("/phone" if role == "phone" else "/", 303)
    # a phone stays paired when its page or the desk is closed
    lasts = int(PAIRED_S) if role == "phone" else None
    response.set_cookie(
        desk.doors.cookie,
        secret,
        max_age=lasts,
        httponly=True,
        secure=request.url.scheme == "https",
        samesite="strict",
        path="/",
    )
    return response


def _wants_page(request: Request) -> bool:
    return request.method == "GET" and "text/html" in request.headers.get("accept", "")


def _answer(request: Request, status: int, words: str) -> Response:
    if _wants_page(request) and request.scope["state"].get("role") == "desk":
        return desk_of(request).page(request, "error.html", status, words=words)
    return PlainTextResponse(words, status)


async def _in_words(request: Request, error: Exception) -> Response:
    assert isinstance(error, CowlnoteError)  # noqa: S101  (Starlette hands over what was named)
    return _answer(request, STATUS.get(error.code, 500), str(error))


async def _not_here(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 404
    return _answer(request, status, "There is no such page." if status == 404 else "Not like that.")


async def _gone(request: Request, error: Exception) -> Response:
    return Response(status_code=400)  # the network went away in the middle; nobody reads this


async def _disk(request: Request, error: Exception) -> Response:
    why = getattr(error, "strerror", None) or type(error).__name__
    return _answer(request, 503, f"The desk's disk cannot be read or written ({why}).")


async def _fault(request: Request, error: Exception) -> Response:
    words = f"A fault in the program ({type(error).__name__}); nothing was changed."
    return _answer(request, 500, words)
