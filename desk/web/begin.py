"""First start: what `begin` asks, on a page; and the speech models, fetched by one button."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from desk import asking, profile
from desk.web import forms
from desk.web.context import home_desk
from desk.web.sent import said

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from desk.web.context import Desk
    from desk.web.tasks import Tell


def show(request: Request) -> Response:
    """Ask what `begin` asks, each question with what it is for and where the answer stands."""
    desk = home_desk(request)
    settings = desk.settings
    here = settings.zone if settings.has_profile else profile.local_zone(os.environ)
    asked = [
        {
            "key": one.key,
            "ask": one.words(settings.profile.units),
            "why": one.why,
            "where": one.where,
            "choices": list(one.choices),
        }
        for one in asking.questions()
    ]
    return desk.page(
        request,
        "begin.html",
        here="aircraft",
        another=settings.has_profile,
        zone=here.key,
        questions=asked,
        where=str(settings.home / profile.PROFILE_NAME),
    )


async def make(request: Request) -> Response:
    """Write the profile from the answers, or say which will not do and write nothing."""
    given = said(request)
    desk = home_desk(request)
    made, wrong = asking.checked(given)
    registration = given.get("registration", "")
    if not registration:
        wrong["registration"] = "the registration is needed"
    try:
        zone = ZoneInfo(given.get("zone") or desk.settings.zone.key)
    except (KeyError, ValueError, OSError):
        wrong["zone"] = "no such time zone; write it as America/Chicago"
    if wrong:
        return forms.not_like_that(wrong)
    name = asking.file_for(desk.settings, registration)
    await run_in_threadpool(profile.begin, desk.settings.home, registration, zone, made, name)
    desk.reload()
    return forms.go(f"/aircraft?aircraft={registration}" if "/" in name else "/")


async def fetch(request: Request) -> Response:
    """Begin to fetch the speech models: the only thing here that reaches a network."""
    desk = home_desk(request)

    def work(tell: Tell) -> list[str]:
        from capture import models

        made = models.get(desk.settings.models_dir, tell)
        desk.runner.wake()  # what came in meanwhile can be heard now
        return [f"{', '.join(made)}: there and right" if made else "all models are right"]

    return JSONResponse(desk.tasks.begin("models", work).to_json())


def lacking(desk: Desk) -> dict[str, object] | None:
    """Give which models are not there, how much is to be fetched in MB, and from where; or None."""
    from capture import models

    folder = desk.settings.models_dir
    missing = [one for one in models.needed() if not models.has(folder, one.name)]
    if not missing:
        return None
    size = sum(file.size for one in missing for file in one.files if file.parts)
    packages = sorted({part.package for m in missing for f in m.files for part in f.parts})
    return {
        "names": [one.name for one in missing],
        "megabytes": round(size / 1e6),
        "sources": [f"{one.source} ({one.licence})" for one in missing],
        "packages": packages,
    }
