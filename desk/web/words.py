"""Words: what was misheard as what, by what was decided; one is learned by a yes, a value never."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool

from desk import lessons as learning
from desk import say
from desk.web import forms
from desk.web.context import Desk, home_desk
from desk.web.sent import said

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response


def _found(desk: Desk) -> learning.Lessons:
    from record import lessons as rows

    profile = desk.settings.profile
    with desk.store.session(write=False) as session:
        memos = rows.memos(session, profile.registration or None)
    return learning.lessons(memos, profile)


def show(request: Request) -> Response:
    """Show the pairs of words, those that can be learned first, and what people put right."""
    desk = home_desk(request)
    found = _found(desk)
    return desk.page(
        request,
        "words.html",
        here="words",
        pairs=[_pair(one) for one in found.pairs],
        amended=[_amended(desk, memo, put) for memo, put in found.amended[-50:]],
        has_profile=desk.settings.has_profile,
    )


def _pair(one: learning.Lesson) -> dict[str, Any]:
    return {
        "heard": one.heard,
        "meant": one.meant,
        "learned": one.learned,
        "offered": one.offered,
        "hindrance": one.hindrance,
        "evidence": learning.evidence(one),
        "rejected": bool(one.rejected),
    }


def _amended(desk: Desk, memo: str, put: Any) -> dict[str, str]:
    was = say.shown(put.name, put.value, put.unit, desk.catalogue)
    now = "nothing"
    if put.entered is not None:
        now = say.shown(put.name, put.entered, put.unit, desk.catalogue)
    return {
        "label": say.about(put.name, put.position, desk.catalogue),
        "was": was,
        "now": now,
        "by": put.by,
        "heard": put.heard,
        "where": f"{memo} {say.clock(put.start)}",
    }


async def learn(request: Request) -> Response:
    """Learn one pair of words: the yes is the press of its button, or the words typed."""
    given = said(request)
    desk = home_desk(request)

    def work() -> None:
        text = f"{given.get('heard', '')}={given.get('meant', '')}"
        learning.learn(desk.settings, learning.pair_of(text, desk.settings.profile))
        desk.reload()

    await run_in_threadpool(work)
    return forms.again()
