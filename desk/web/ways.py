"""The ways of the page: every address, what answers there, and what a request to it may say.

Each way names a schema for its body and one for its address (`desk.web.asks`). They are asked
before what answers is, which reads nothing else (`desk.web.sent`): so no value is used, and none
written, that was not checked.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from inspect import iscoroutinefunction
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.convertors import IntegerConvertor, register_url_convertor
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from desk.web import (
    aircraft,
    arrange,
    asks,
    begin,
    closing,
    correct,
    decide,
    front,
    help,
    keep,
    media,
    oil,
    pairing,
    papers,
    people,
    record,
    review,
    search,
    tasks,
    told,
    upload,
    words,
)
from desk.web.context import desk_of
from desk.web.doors import PAIRED_S, is_loopback
from desk.web.sent import body_of, words_of

Answers = Callable[[Request], Any]
Schema = type[asks.Asked]


class Number(IntegerConvertor):
    """A number in an address, as far as a record can have it; a larger one is no page."""

    regex = "[0-9]{1,9}"


register_url_convertor("int", Number())


class Way(Route):
    """A route with what a request to it may say.

    `address` is the schema of the values in its address, and `body` that of its JSON. Where a
    `file` may be sent in place of JSON, `file` is the schema of the address that comes with it.
    """

    def __init__(
        self,
        path: str,
        answers: Answers,
        method: str,
        *,
        address: Schema = asks.Plain,
        body: Schema = asks.Nothing,
        file: Schema | None = None,
    ) -> None:
        self.answers, self.address, self.body, self.file = answers, address, body, file
        super().__init__(path, partial(_asked, self), methods=[method])


async def _asked(way: Way, request: Request) -> Response:
    """Check what a request says, then have it answered."""
    state = request.scope["state"]
    kind = request.headers.get("content-type", "")
    # a way that takes a file alone takes it under any name of a kind
    lone = way.body is asks.Nothing
    as_file = way.file is not None and (lone or not kind.startswith("application/json"))
    state["wanted"] = words_of(request, way.file if as_file and way.file else way.address)
    if not as_file and not lone:
        state["said"] = await body_of(request, way.body)
    if iscoroutinefunction(way.answers):
        answer: Response = await way.answers(request)
        return answer
    return await run_in_threadpool(way.answers, request)


def get(path: str, answers: Answers, address: Schema = asks.Plain) -> Way:
    """Give a way that shows something."""
    return Way(path, answers, "GET", address=address)


def post(
    path: str, answers: Answers, body: Schema = asks.Nothing, *, file: Schema | None = None
) -> Way:
    """Give a way that does something."""
    return Way(path, answers, "POST", body=body, file=file)


def ways() -> list[Way]:
    """Give all of them."""
    return [
        get("/", front.show, asks.Front),
        get("/begin", begin.show),
        post("/begin", begin.make, asks.begun()),
        post("/models/fetch", begin.fetch),
        get("/task/{name}", tasks.show),
        get("/aircraft", aircraft.show),
        post("/aircraft", aircraft.change, asks.answers()),
        post("/aircraft/recurring", aircraft.recurs, asks.Recurs),
        post("/aircraft/reference", aircraft.refers, asks.Refers),
        post("/aircraft/meter", aircraft.meter, asks.Meter),
        get("/people", people.show, asks.People),
        post("/people", people.put, asks.Person),
        get("/words", words.show),
        post("/words", words.learn, asks.Pair),
        get("/keep", keep.show),
        post("/keep/plan", keep.plan, asks.Plan),
        post("/keep/backup", keep.backup),
        post("/keep/check", keep.check, asks.Against),
        post("/keep/recover", keep.recover),
        post("/keep/models", keep.models),
        post("/keep/export", keep.export, asks.Export),
        post("/keep/look", keep.look, asks.Folder),
        post("/keep/import", keep.bring, asks.Folder),
        get("/help", help.show),
        post("/help/try", help.try_, asks.Sentence),
        post("/help/hear", help.hear, file=asks.Sent),
        get("/torque", papers.torque, asks.Torque),
        get("/job/{job:int}/checklist", papers.checklist),
        get("/job/{job:int}/slip", papers.slip),
        get("/job/{job:int}/sums", papers.sums),
        get("/open/{key}", come_in),
        get("/job/{job:int}", review.show),
        post("/job/{job:int}/decide", decide.decide, asks.Decision),
        post("/job/{job:int}/add", decide.add, asks.Added),
        post("/job/{job:int}/read", decide.read_words, asks.Marked),
        get("/job/{job:int}/left", closing.left),
        post("/job/{job:int}/close", closing.close, asks.Closed),
        get("/job/{job:int}/arrange", arrange.show),
        post("/job/{job:int}/arrange", arrange.arrange, asks.Arranged),
        get("/draft/{draft:int}", decide.draft),
        get("/media/{media:int}/sound", media.sound, asks.Sound),
        get("/media/{media:int}/peaks", media.peaks),
        get("/media/{media:int}/photo", media.photo, asks.Picture),
        get("/draft/{draft:int}/crop", media.crop, asks.Crop),
        get("/record", record.show, asks.Paged),
        get("/due.ics", record.calendar),
        get("/record/book.pdf", record.book_pdf, asks.Days),
        get("/record/{job:int}", record.service),
        get("/record/{job:int}/entry.pdf", record.entry_pdf, asks.Paper),
        post("/record/{job:int}/correct", correct.correct_entry, asks.Corrected),
        post("/record/{job:int}/signed", record.signed, file=asks.SentBy),
        post("/record/{job:int}/defect", correct.defect, asks.Settled),
        get("/oil", oil.show),
        get("/oil/trend.svg", oil.drawn, asks.Drawn),
        post("/oil/add", oil.add, asks.report(), file=asks.report(asks.SentBy)),
        post("/oil/file", oil.file, file=asks.Table),
        post("/oil/look", oil.look, file=asks.Table),
        post("/oil/photo", oil.photo, file=asks.Sent),
        post("/oil/correct", oil.correct, asks.report()),
        get("/search", search.show, asks.Search),
        get("/intake/events", upload.events),
        get("/pair", pairing.pair),
        post("/pair/forget", pairing.forget),
        get("/phone", pairing.phone),
        get("/phone/desk.crt", pairing.authority),
        get("/phone/worker.js", pairing.worker),
        get("/phone/told", told.told, asks.Since),
        post("/upload", upload.begin, asks.Announced),
        get("/upload/{number}", upload.coming),
        post("/upload/{number}", upload.piece, file=asks.Piece),
        post("/upload/{number}/done", upload.done, asks.Finished),
    ]


async def come_in(request: Request) -> Response:
    """Trade a one-time link for a session, and leave the key out of the address."""
    desk = desk_of(request)
    here = is_loopback(request.client.host if request.client else "")
    held = request.cookies.get(desk.doors.cookie, "")
    entered = desk.doors.enter(request.path_params["key"], held)
    if entered is None or (entered[1] == "desk" and not here):
        words = "This link was used or is too old; ask the desk for another."
        return PlainTextResponse(words, 403) if here else Response(status_code=404)
    secret, role = entered
    response = RedirectResponse("/phone" if role == "phone" else "/", 303)
    # a phone stays paired when its page or the desk is closed
    lasts = int(PAIRED_S) if role == "phone" else None
    response.set_cookie(
        desk.doors.cookie,
        secret,
        max_age=lasts,
        httponly=True,
        secure=request.url.scheme == "https",
        samesite="strict",
        path="/",
    )
    return response
