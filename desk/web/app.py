"""The page's application: routes, errors as one page or one sentence, and how it is served."""

from __future__ import annotations

import mimetypes

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from capture.errors import CowlnoteError, ExitCode
from desk.web.context import HERE, Desk, desk_of
from desk.web.doors import Guard
from desk.web.ways import ways

STATUS = {
    ExitCode.INPUT: 400,
    ExitCode.REFUSED: 409,
    ExitCode.STORE: 503,
    ExitCode.INTEGRITY: 503,
    ExitCode.MODEL: 503,
}


def create_app(desk: Desk) -> Starlette:
    """Make the application for an open home."""
    mimetypes.add_type("text/javascript", ".js")
    app = Starlette(
        routes=[
            *ways(),
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
