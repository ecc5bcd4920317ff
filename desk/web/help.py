"""Help: how to speak so that it understands, by sentences that can be tried; keys; doubts."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from capture.errors import InputError
from desk import say, trial
from desk.web import forms
from desk.web.context import desk_of, home_desk
from desk.web.sent import said

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from extract.values.draft import Draft

MOST = 600  # characters of a sentence that is tried


@cache
def _data() -> dict[str, Any]:
    path = Path(__file__).parent.parent / "data" / "help.toml"
    return tomllib.loads(path.read_text("utf-8"))


def show(request: Request) -> Response:
    """Show how to speak, the keys, and what the doubts mean."""
    return home_desk(request).page(request, "help.html", here="help", **_data())


async def try_(request: Request) -> Response:
    """Say what a sentence would become. Nothing is recorded."""
    given = said(request)
    desk = desk_of(request)
    text = given.get("text", "")[:MOST]
    drafts = await run_in_threadpool(trial.try_sentence, text, desk.settings, desk.catalogue)
    return JSONResponse({"text": text, "drafts": [_shown(one, desk.catalogue) for one in drafts]})


async def hear(request: Request) -> Response:
    """Say what a recording would become. It is not kept, and nothing is recorded."""
    desk = desk_of(request)

    def work(path: Path, _given: dict[str, str]) -> tuple[Draft, ...]:
        if desk.ear is None or desk.eye is None:
            raise InputError("this desk has no ear", todo="type the sentence instead")
        return trial.try_input(str(path), desk.settings, desk.catalogue, desk.ear, desk.eye)

    drafts = await forms.laid(request, work)
    heard = " / ".join(dict.fromkeys(one.heard for one in drafts))
    return JSONResponse({"text": heard, "drafts": [_shown(one, desk.catalogue) for one in drafts]})


def _shown(draft: Draft, catalogue: Any) -> dict[str, Any]:
    return {
        "label": say.about(draft.name, draft.position, catalogue),
        "shown": say.shown(draft.name, draft.value, draft.unit, catalogue),
        "doubts": [str(doubt) for doubt in draft.doubts],
        "others": [
            say.shown(draft.name, one.value, draft.unit, catalogue) for one in draft.alternatives
        ],
    }
