"""The aircraft: its profile with what each line is for, the history of its changes, its meters."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool

from capture.errors import InputError
from desk import amending, asking
from desk.profile import quoted
from desk.web import forms
from desk.web.context import Desk, desk_of, fleet, home_desk
from desk.web.sent import said

if TYPE_CHECKING:
    from collections.abc import Sequence

    from starlette.requests import Request
    from starlette.responses import Response

RECURRING = ("what", "hours", "months", "last_hours", "last_date", "until_hours", "until_date")


def show(request: Request) -> Response:
    """Show what the profile says, line by line, with a place to say it otherwise."""
    desk = desk_of(request)
    registration = desk.settings.profile.registration
    home = home_desk(request).settings
    try:
        path = amending.profile_path(home, registration)
    except InputError:
        return desk.page(request, "aircraft.html", here="aircraft", path="", **_nothing(desk))
    said = amending.said(path)
    lines = [
        {
            "key": one.key,
            "ask": one.words(desk.settings.profile.units),
            "why": one.why,
            "where": one.where,
            "choices": list(one.choices),
            "value": amending.shown(one, said.get(one.key, "")),
            "later": one.later,
        }
        for one in asking.every()
    ]
    profile = desk.settings.profile
    return desk.page(
        request,
        "aircraft.html",
        here="aircraft",
        path=str(path),
        lines=lines,
        recurring=profile.recurring,
        references=profile.references,
        heard=profile.heard,
        changes=_changes(desk),
        fleet=[one for one in fleet(home_desk(request)) if one != registration],
    )


def _nothing(desk: Desk) -> dict[str, Any]:
    others = [one for one in fleet(desk) if one != desk.settings.profile.registration]
    empty: dict[str, Any] = dict.fromkeys(("lines", "recurring", "references", "heard"), ())
    return {**empty, "changes": [], "fleet": others}


def _changes(desk: Desk) -> list[dict[str, str]]:
    from datetime import datetime

    from record import profiles

    with desk.store.session(write=False) as session:
        found = profiles.history(session, desk.settings.profile.registration)
    return [
        {
            "at": f"{datetime.fromisoformat(one.at).astimezone(desk.settings.zone):%Y-%m-%d %H:%M}",
            "what": f"{one.key}: {one.before or 'not said'} → {one.after or 'not said'}",
            "by": one.by,
            "because": one.because,
        }
        for one in found
    ]


def _noted(
    home: Desk, registration: str, changes: Sequence[amending.Change], given: dict[str, str]
) -> None:
    """Put what was written into the journal, and go by it from now on."""
    from record import profiles

    told = [(one.key, one.before, one.after) for one in changes]
    with home.store.session() as session:
        profiles.note(session, registration, told, given.get("by", ""), given.get("because", ""))
    home.reload()


async def change(request: Request) -> Response:
    """Write what was said into the profile, in the name of a person, with the reason."""
    given = said(request)
    desk, home = desk_of(request), home_desk(request)
    made, wrong = asking.checked(given)
    if wrong:
        return forms.not_like_that(wrong)
    answers = {one.key: made.get(one.key, "") for one in asking.every() if one.key in given}
    registration = desk.settings.profile.registration

    def work() -> int:
        return len(_written(home, registration, answers, given))

    if not await run_in_threadpool(work):
        return forms.words("Nothing is said otherwise than before; nothing was written.")
    return forms.again()


def _written(
    home: Desk, registration: str, answers: dict[str, str], given: dict[str, str]
) -> tuple[amending.Change, ...]:
    from record import chain

    chain.person(given.get("by"))  # without a name nothing is changed
    changes = amending.change(home.settings, registration, answers)
    if changes:
        _noted(home, registration, changes, given)
    return changes


async def recurs(request: Request) -> Response:
    """Add a thing that recurs to the profile."""
    given = said(request)
    desk, home = desk_of(request), home_desk(request)
    if not given.get("what"):
        return forms.not_like_that({"what": "say what recurs"})
    lines = {k: given[k] for k in RECURRING if given.get(k)}
    lines["what"] = quoted(given["what"])
    await run_in_threadpool(
        _added, home, desk.settings.profile.registration, "recurring", lines, given
    )
    return forms.again()


async def refers(request: Request) -> Response:
    """Add a directive or bulletin to the profile, kept and never judged."""
    given = said(request)
    desk, home = desk_of(request), home_desk(request)
    if not given.get("text"):
        return forms.not_like_that({"text": "say which one"})
    lines = {"text": quoted(given["text"])}
    if given.get("date"):
        lines["date"] = given["date"]
    await run_in_threadpool(
        _added, home, desk.settings.profile.registration, "reference", lines, given
    )
    return forms.again()


def _added(
    home: Desk, registration: str, table: str, lines: dict[str, str], given: dict[str, str]
) -> None:
    from record import chain

    chain.person(given.get("by"))  # without a name nothing is changed
    made = amending.append(home.settings, registration, table, lines)
    _noted(home, registration, [made], given)


async def meter(request: Request) -> Response:
    """State that a meter was changed, so that hours are counted on past it."""
    from desk.meters import changed

    given = said(request)
    desk = desk_of(request)
    told = await run_in_threadpool(
        changed,
        _opened(desk),
        hour_meter=given.get("which") == "the hour meter",
        old=given.get("old", ""),
        new=given.get("new", ""),
        on=given.get("on", ""),
        by=given.get("by", ""),
        because=given.get("because", ""),
    )
    return forms.words(told)


def _opened(desk: Desk) -> Any:
    from desk.web.papers import opened

    return opened(desk)
