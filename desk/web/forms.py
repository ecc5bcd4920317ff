"""What a form of a page sent, as text, and the answers that `form.js` understands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.responses import JSONResponse

from capture.errors import InputError
from desk.web.sent import body_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.requests import Request
    from starlette.responses import Response

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
