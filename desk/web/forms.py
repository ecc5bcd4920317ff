"""The file that a form of a page sent, and the answers that `form.js` understands."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from capture.errors import CowlnoteError
from desk.web.doors import MAX_BODY
from desk.web.inbox import named
from desk.web.sent import bytes_of, wanted

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from starlette.requests import Request
    from starlette.responses import Response

Made = TypeVar("Made")


def page_of(request: Request) -> int:
    """Give which page of a list is asked for, from 1."""
    return max(1, int(wanted(request).get("page", "1")))


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
    given = wanted(request)
    name = named(given.get("name", "file"), request.headers.get("content-type", ""))

    def done() -> Made:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / (Path(name).name or "file")
            path.write_bytes(held)
            try:
                return work(path, given)
            except CowlnoteError as error:
                if error.where == path:  # who sent it knows it by its name alone
                    error.where = path.name
                raise

    return await run_in_threadpool(done)
