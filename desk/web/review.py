"""Review: the job's story in the order it happened, each draft beside its evidence."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from capture.observed import PhotoText
from desk.papers import label_of
from desk.particulars import US
from desk.web import shown
from desk.web.asked import known_of
from desk.web.context import Desk, desk_of, home_desk

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.requests import Request
    from starlette.responses import Response

    from capture.observed import Transcript
    from extract.values.catalogue import Catalogue
    from extract.values.draft import Draft, Evidence, Position
    from record.media import Media
    from record.queue import Queued


PHOTO = (480, 324)  # the most that a photo takes of the page, in its pixels


def show(request: Request) -> Response:
    """Show a job: its media in order, and all its drafts."""
    import json

    from desk import placing, understood
    from desk.web.arrange import about, kinds
    from record import before, jobs, media, queue
    from record import service as services

    desk, number = desk_of(request), request.path_params["job"]
    with desk.store.session(write=False) as session:
        job = jobs.get(session, number)
        day = before.day_of(session, job) or job.opened_at.date()
        drafts = [q for q in queue.drafts(session, number) if q.state != "retracted"]
        made = cards(session, desk, number)
        standing = services.service(session, number, desk.catalogue)
        every, observed = media.media(session, number), media.observed(session, number)
    drafts = _by_content(drafts, every)
    known = desk.settings.profile.known()
    lost = understood.lost(every, observed, [queued.draft for queued in drafts])
    why = {one.id: one.why for one in lost}
    strange = {
        m.id: placing.stranger(m, observed.get(m.id), desk.settings, job.aircraft) for m in every
    }

    def made_of(queued: Queued) -> dict[str, Any]:
        return made[queued.id]

    of: dict[str, list[Queued]] = {}
    for queued in drafts:
        of.setdefault(queued.draft.media, []).append(queued)
    spans = _spans(drafts)
    pieces = [
        _piece(m, observed.get(m.id), of.pop(m.name, []), spans.get(m.name, []), made_of)
        for m in every
    ]
    witnessed = _used(drafts, desk.catalogue)
    for piece in pieces:
        piece["used"] = witnessed.get(piece["name"], [])
        piece["lost"] = why.get(piece["id"], "")
        piece["strange"] = strange.get(piece["id"], "")
    if of:
        pieces.append(_by_hand([made_of(q) for typed in of.values() for q in typed]))
    told = [
        {**d, "media": str(p["id"]), "order": order}
        for order, (p, d) in enumerate((p, d) for p in pieces for d in p["drafts"])
    ]
    own = home_desk(request).settings.profile.registration
    return desk.page(
        request,
        "review.html",
        job={
            **about(job, desk),
            "day": day,
            "closed_by": job.closed_by,
            "mind": kind.heed if (kind := desk.catalogue.jobs.get(job.kind)) else (),
            "us": desk.settings.profile_of(job.aircraft).paper.country == US,
            "not_of": own if own and job.aircraft and job.aircraft != own else "",
        },
        kinds=kinds(desk),
        lost=lost,
        pieces=pieces,
        bad=shown.bad(standing, desk.catalogue, known),
        fields=list(desk.catalogue.fields.values()),
        drafts_json=Markup(json.dumps(told).replace("<", "\\u003c")),  # noqa: S704  (no < is left)
    )


def cards(
    session: Any, desk: Desk, job: int, slot: tuple[str, Position] | None = None
) -> dict[int, dict[str, Any]]:
    """Give each draft of a job, of one slot if named, as its card shows it now, by its number.

    What waits is weighed anew against what is known by now. What was typed and taken back has none.
    """
    from desk.readback.beside import Beside
    from record import entries, queue
    from record.judge import Judge

    known = known_of(desk, session, job)
    judge = Judge(session, job, desk.catalogue, known)
    every = [e for e in entries.entries(session, job, every=True) if not e.undone]
    made = {e.decision: e for e in every}
    stands = {e.slot: e for e in every}
    found = {}
    beside = Beside.of(desk.settings.home, session, [job], desk.catalogue)
    for queued in queue.drafts(session, job):
        draft = queued.draft
        if queued.state == "retracted" or slot not in (None, draft.slot):
            continue
        mine, now = (
            made.get(queued.decision.id) if queued.decision else None,
            stands.get(draft.slot),
        )
        later = now if mine and now and now.id != mine.id else None
        other = now if now and now.value is not None and now.value != draft.value else None
        seen = queued.seen(desk.catalogue, judge)
        old = None if queued.decision else other
        told = beside.said(draft, job)
        found[queued.id] = shown.draft(queued, desk.catalogue, seen, later, old, known, told)
    return found


def _piece(
    media: Media,
    seen: Transcript | PhotoText | None,
    drafts: list[Queued],
    spans: list[tuple[float, float]],
    made_of: Callable[[Queued], dict[str, Any]],
) -> dict[str, Any]:
    began = media.began
    made: dict[str, Any] = {
        "id": media.id,
        "name": media.name,
        "kind": media.kind,
        "at": shown.clock(began.at if began else None),
        "at_iso": began.at.isoformat() if began else "",
        "doubt": began.doubt if began else "no time is known for it",
        "aside": media.aside,
        "failed": media.reason if media.state == "failed" else "",
        "waits": media.state == "kept",
        "duration": 0,
        "drafts": [made_of(q) for q in sorted(drafts, key=lambda q: (q.draft.start or 0.0, q.id))],
        "speech": [],
        "words": [],
        "subject": "",
        "size": _fitted(4, 3),
    }
    if isinstance(seen, PhotoText):
        # a photo's place is kept while it loads, so that nothing moves under the eye
        return made | {"subject": seen.subject, "size": _fitted(*seen.size)}
    if seen is None:
        return made
    scale = 1000 / (seen.duration_s or 1)
    return made | {
        "duration": seen.duration_s,
        "speech": [(round(a * scale, 1), round((b - a) * scale, 1)) for a, b in seen.speech],
        "words": [
            {
                "text": w.text,
                "s": round(w.start_s, 2),
                "e": round(w.end_s, 2),
                "said": any(w.end_s > a and w.start_s < b for a, b in spans),
            }
            for w in seen.words
        ],
    }


def _by_content(drafts: list[Queued], every: list[Media]) -> list[Queued]:
    """Give drafts with their files as they are called now: by the hashes that were decided on."""
    called = {one.sha256: one.name for one in every}
    made = []
    for queued in drafts:
        rests = queued.decision.rests if queued.decision else {}
        now = {name: called.get(sha256, name) for name, sha256 in rests.items()}
        draft = queued.draft
        also = tuple(replace(w, media=now.get(w.media, w.media)) for w in draft.also)
        draft = replace(draft, media=now.get(draft.media, draft.media), also=also)
        made.append(replace(queued, draft=draft))
    return made


def _used(drafts: list[Queued], catalogue: Catalogue) -> dict[str, list[dict[str, Any]]]:
    """Give the drafts that each file witnesses beside the one that they stand with, by its name."""
    found: dict[str, list[dict[str, Any]]] = {}
    for queued in drafts:
        draft = queued.draft
        label = label_of(draft.name, draft.position, catalogue)
        for name in {w.media for w in draft.also} - {draft.media}:
            found.setdefault(name, []).append({"id": queued.id, "label": label})
    return found


def _fitted(wide: int, high: int) -> tuple[int, int]:
    share = min(PHOTO[0] / max(wide, 1), PHOTO[1] / max(high, 1))
    return round(max(wide, 1) * share), round(max(high, 1) * share)


def _spans(drafts: list[Queued]) -> dict[str, list[tuple[float, float]]]:
    """Give the seconds from which values were read, by memo, those of further witnesses too."""
    found: dict[str, list[tuple[float, float]]] = {}
    for queued in drafts:
        witnesses: tuple[Draft | Evidence, ...] = (queued.draft, *queued.draft.also)
        for one in witnesses:
            if one.start is not None and one.end is not None:
                found.setdefault(one.media, []).append((one.start, one.end))
    return found


def _by_hand(drafts: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "id": 0,
        "name": "Typed at the desk",
        "aside": False,
        "lost": "",
        "strange": "",
        "kind": "typed",
        "at": "",
        "at_iso": "",
        "doubt": "",
        "failed": "",
        "waits": False,
        "duration": 0,
        "drafts": drafts,
        "used": [],
    }
