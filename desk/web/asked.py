"""What a decision sends along, and what it is answered where more is needed for it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.responses import JSONResponse

from capture.errors import InputError
from desk.papers import label_of, value_of
from record import typed
from record.errors import DoubtedError, RefusedError, ReplacesError
from record.seen import Seen
from record.values import same

if TYPE_CHECKING:
    from starlette.responses import Response

    from desk.web.context import Desk
    from extract.values.catalogue import Catalogue
    from extract.values.known import Known


def seen_of(body: dict[str, Any]) -> Seen:
    """Read what was shown to who decides. Raises InputError where a page did not say it."""
    seen = Seen.from_json(body.get("shown"))
    if seen is None:
        raise InputError("it was not told what was shown", todo="load the page again")
    return seen


def known_of(desk: Desk, session: Any, job: int) -> Known:
    """Give what the profile of a job's aircraft tells, which values are weighed against."""
    from record import jobs

    return desk.settings.profile_of(jobs.get(session, job).aircraft).known()


def entry_named(body: dict[str, Any]) -> tuple[int, ...]:
    """Read the number of the entry that is to be replaced, if one was named."""
    number = body.get("replaces")
    return (number,) if isinstance(number, int) and not isinstance(number, bool) else ()


def twice(name: str, text: str, body: dict[str, Any], catalogue: Catalogue) -> str:
    """Give the reason for a doubtful value, which must have been typed twice alike.

    Raises InputError where the two differ.
    """
    although, first = str(body.get("although", "")), body.get("first")
    if not although.strip():
        return ""
    if not isinstance(first, str) or not same(
        typed.value(name, first, catalogue).value, typed.value(name, text, catalogue).value
    ):
        raise InputError(f"first it was {first or 'nothing'}, then {text}", todo="type it anew")
    return although


def asked(desk: Desk, error: RefusedError, draft: dict[str, Any] | None = None) -> Response:
    """Answer a refusal: the words, how the draft stands now, and what would be needed.

    `asks` has `doubts` where a value must be given again with a reason, and `replaces` where the
    entry that would be replaced must be named with a reason; it is null where nothing helps.
    """
    asks: dict[str, Any] | None = None
    words = str(error)
    if isinstance(error, DoubtedError):
        asks = {"value": error.value, "doubts": list(error.doubts)}
        words = f"{error.what}."
    elif isinstance(error, ReplacesError):
        asks = {"replaces": _entry(desk, error.entry)}
        words = f"{error.what}."
    return JSONResponse({"words": words, "asks": asks, "draft": draft}, 409)


def _entry(desk: Desk, number: int) -> dict[str, Any]:
    from record import entries

    with desk.store.session(write=False) as session:
        entry = entries.get(session, number)
        draft = entries.origin(session, entry)
    return {
        "entry": number,
        "label": label_of(entry.name, entry.position, desk.catalogue),
        "shown": value_of(entry, desk.catalogue),
        "by": entry.by,
        "heard": entry.heard,
        "media": entry.media,
        "href": f"/job/{entry.job}#draft-{draft}" if draft else f"/job/{entry.job}",
    }
