"""What a page sent: JSON of a bounded size and depth, with values that can be stored."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from capture.errors import InputError
from desk.web.asks import LARGEST

if TYPE_CHECKING:
    from starlette.requests import Request

    from desk.web.asks import Asked

MOST = 64 * 1024  # bytes of JSON
DEEPEST = 12  # lists and objects in one another


async def bytes_of(request: Request, most: int) -> bytes:
    """Give the body of a request. Raises InputError where it is longer than `most` bytes."""
    parts, size = [], 0
    async for part in request.stream():
        size += len(part)
        if size > most:
            raise InputError("that is more than one request may hold")
        parts.append(part)
    return b"".join(parts)


def said(request: Request) -> dict[str, Any]:
    """Give what the body of a request said, as its schema let it through."""
    made: dict[str, Any] = request.scope["state"]["said"]
    return made


def wanted(request: Request) -> dict[str, Any]:
    """Give what the address of a request said, as its schema let it through.

    Of a request that no schema was asked about, an error's, it is nothing.
    """
    made: dict[str, Any] = request.scope["state"].get("wanted", {})
    return made


def words_of(request: Request, kind: type[Asked]) -> dict[str, Any]:
    """Give the values in the address of a request, checked by a schema. Raises InputError."""
    made = dict(request.query_params)
    if not _fits(made):
        raise InputError("the address cannot be read", todo="load the page again")
    return _checked(made, kind)


async def body_of(request: Request, kind: type[Asked]) -> dict[str, Any]:
    """Give the JSON object of a request, its values checked by a schema.

    Only what the schema asks for is given, by the names of the request; what was not sent is not
    in it. Raises InputError for anything else.
    """
    try:
        made = json.loads(await bytes_of(request, MOST), parse_constant=_no_number)
        fits = isinstance(made, dict) and _fits(made)
    except (ValueError, RecursionError):  # no JSON; nested without end
        fits = False
    if not fits:
        raise InputError("that cannot be read", todo="load the page again")
    return _checked(made, kind)


def _checked(made: dict[str, Any], kind: type[Asked]) -> dict[str, Any]:
    try:
        return kind.model_validate(made).model_dump(by_alias=True, exclude_unset=True)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
    name = str(first["loc"][0])[:40] if first["loc"] else "the request"
    if first["type"] == "string_too_long":
        most = first["ctx"]["max_length"]
        raise InputError(f"{name}: longer than {most} characters", todo="shorten it")
    raise InputError(f"{name}: that cannot be read", todo="load the page again")


def _no_number(word: str) -> float:
    raise ValueError(word)  # NaN and Infinity are no JSON (RFC 8259, section 6)


def _fits(value: Any, deep: int = 0) -> bool:
    """Say whether a value can be stored and counted with: text is text, numbers are in reach."""
    if isinstance(value, str):
        return _is_text(value)
    if isinstance(value, int | float):
        return math.isfinite(value) and abs(value) <= LARGEST
    if isinstance(value, list):
        return deep < DEEPEST and all(_fits(one, deep + 1) for one in value)
    if isinstance(value, dict):
        return deep < DEEPEST and all(
            _fits(one, deep + 1) for pair in value.items() for one in pair
        )
    return True


def _is_text(value: str) -> bool:
    """Say whether text can be written as UTF-8: half of a pair of surrogates cannot."""
    try:
        value.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return "\0" not in value


def figure(text: str, most: int) -> int | None:
    """Read a whole number in ASCII figures, as an address carries it; None for anything else."""
    fits = text.isascii() and text.isdecimal() and len(text) <= len(str(most))
    return int(text) if fits and int(text) <= most else None
