"""What a form of a page sent, as text, and the answers that `form.js` understands."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from capture.errors import InputError
from desk.web.doors import MAX_BODY
from desk.web.inbox import named
from desk.web.sent import body_of, bytes_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from starlette.requests import Request
    from starlette.responses import Response

Made = TypeVar("Made")
MOST = 4000  # characters of one field


async def texts(request: Request) -> dict[str, str]:
    """Give the fields of a form as text, trimmed. Raises InputError for anything else."""
    return plain(await body_of(request))


def plain(body: Mapping[str, Any]) -> dict[str, str]:
    """Give what was sent as text by name. Raises InputError for what is no text, or too much."""
    for name, value in body.items():
        if not isinstance(value, str) or len(value) > MOST or "\x00" in value:
            raise InputError(f"{name[:40]}: that cannot be read", todo="load the page again")
    return {name: value.strip() for name, value in body.items()}


def page_of(request: Request) -> int:
    """Give which page of a list is asked for, from 1; the first where it is not said in figures."""
    text = request.query_params.get("page", "1")
    return int(text) if text.isdecimal() and int(text[:6]) > 0 and len(text) < 7 else 1


def go(to: str) -> Response:
    """Answer that it is done, and where the page goes on."""
    return JSONResponse({"to": to})


def words(told: str) -> Response:
    """Answer that it is done, in words to show beside the form."""
    return JSONResponse({"words": told})


def again() -> Response:
    """Answer that it is done; the page loads itself anew."""
    return JSONResponse({})


def not_like_that(wrong: Mapping[str, str]) -> Response:
    """Answer which fields will not do, each with its words; nothing was changed."""
    many = "one answer will" if len(wrong) == 1 else f"{len(wrong)} answers will"
    return JSONResponse(
        {"words": f"{many} not do; nothing was written yet.", "wrong": dict(wrong)}, 422
    )


async def laid(request: Request, work: Callable[[Path, dict[str, str]], Made]) -> Made:
    """Lay a file that was sent in a folder of its own; give what `work` makes of path and fields.

    The fields stand in the address, the file's name among them; the folder is gone afterwards.
    """
    held = await bytes_of(request, MAX_BODY)
    given = plain(dict(request.query_params))
    name = named(given.get("name", "file"), request.headers.get("content-type", ""))

    def done() -> Made:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / (Path(name).name or "file")
            path.write_bytes(held)
            return work(path, given)

    return await run_in_threadpool(done)
