"""What a page sent: JSON of a bounded size."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from capture.errors import InputError

if TYPE_CHECKING:
    from starlette.requests import Request

MOST = 64 * 1024  # bytes of JSON


async def bytes_of(request: Request, most: int) -> bytes:
    """Give the body of a request. Raises InputError where it is longer than `most` bytes."""
    parts, size = [], 0
    async for part in request.stream():
        size += len(part)
        if size > most:
            raise InputError("that is more than one request may hold")
        parts.append(part)
    return b"".join(parts)


async def body_of(request: Request) -> dict[str, Any]:
    """Give the JSON object of a request. Raises InputError for anything else."""
    try:
        made = json.loads(await bytes_of(request, MOST))
    except ValueError:
        made = None
    if not isinstance(made, dict):
        raise InputError("that cannot be read", todo="load the page again")
    return made
