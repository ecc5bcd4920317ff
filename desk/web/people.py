"""People: who decides here, what each says of themselves, and what each decided."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool

from desk import people
from desk.web import forms
from desk.web.context import Desk, home_desk
from desk.web.sent import said, wanted

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

MOST = 50  # decisions on one page


def show(request: Request) -> Response:
    """Show everyone who decided or said that they will, and one person's decisions if asked for."""
    from record import people as rows

    desk = home_desk(request)
    cards = people.cards(desk.settings.home)
    name = wanted(request).get("name", "")
    page = forms.page_of(request)
    with desk.store.session(write=False) as session:
        found = rows.people(session)
        its = rows.decided(session, name, page=page, most=MOST) if name else []
    known = {one.name: one for one in found}
    listed = [_row(desk, known.get(n), cards.get(n), n) for n in dict.fromkeys((*known, *cards))]
    many = known[name].decisions if name in known else 0
    return desk.page(
        request,
        "people.html",
        here="people",
        people=listed,
        roles=people.ROLES,
        name=name,
        at=page,
        last=max(1, -(-many // MOST)),
        decided=[
            {
                "job": one.job,
                "draft": one.draft,
                "action": one.action,
                "at": _local(desk, one.at),
                "because": one.because,
                "although": one.although,
            }
            for one in its
        ],
    )


def _row(desk: Desk, person: Any, card: people.Card | None, name: str) -> dict[str, Any]:
    return {
        "name": name,
        "role": card.role if card else "",
        "certificate": card.certificate if card else "",
        "decisions": person.decisions if person else 0,
        "last": _local(desk, person.last)[:10] if person else "",
    }


def _local(desk: Desk, moment: str) -> str:
    try:
        return f"{datetime.fromisoformat(moment).astimezone(desk.settings.zone):%Y-%m-%d %H:%M}"
    except ValueError:
        return moment


async def put(request: Request) -> Response:
    """Add a person, or what one says of themselves."""
    given = said(request)
    card = people.Card(*(given.get(k, "") for k in ("name", "role", "certificate")))
    await run_in_threadpool(people.put, home_desk(request).settings.home, card)
    return forms.again()


def names(desk: Desk) -> list[str]:
    """Give the names to choose from, those of the file first; none where it cannot be read."""
    from capture.errors import CowlnoteError
    from record import people as rows

    try:
        with desk.store.session(write=False) as session:
            found = [one.name for one in rows.people(session)]
        return list(dict.fromkeys((*people.cards(desk.settings.home), *found)))
    except CowlnoteError:
        return []
