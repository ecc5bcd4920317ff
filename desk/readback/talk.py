"""One talk at the aircraft: what was sent, what is understood of it, and what is said back.

A talk is of one phone, or of the laptop's own microphone. It reads what that one sent and nothing
else of the record; of the rest of the job it knows only which fields somebody has said.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from capture.clocks import spoken_clock
from capture.observed import PhotoText, Transcript
from desk import drafting
from desk.readback import spoken, still, wording
from desk.readback.journal import Item, Journal
from desk.readback.news import Slot, Source, news, told
from desk.readback.wording import Line
from desk.settings import Settings
from extract.read import statements_of
from extract.talk.outline import VALUES
from extract.values.catalogue import Catalogue
from extract.values.draft import Draft
from record import before, jobs, media, readback
from record.media import Media
from record.store import Store

ONE_TALK = timedelta(hours=24)
FEW_A_SECOND, OVER_S = 0.5, 1.0  # fewer words a second of speech: a voice, and nothing understood


@dataclass(frozen=True, slots=True)
class Coming:
    """A memo or photo as far as it has come: the phone's `key` for it and what is known of it."""

    key: str
    seen: Transcript | PhotoText
    from_s: float = 0.0
    whole: bool = True


@dataclass
class Talk:
    """What one phone says and is told. `now` gives the time of day in the home's zone."""

    settings: Settings
    catalogue: Catalogue
    store: Store
    journal: Journal
    now: Callable[[], datetime]
    coming: dict[str, Coming] = field(default_factory=dict)
    state: dict[str, Any] = field(default_factory=dict)
    _lock: threading.RLock = field(default_factory=threading.RLock)

    def tell(self, one: Coming) -> list[Item]:
        """Read back what is new in a memo, while it is spoken or at its end, or in a photo."""
        with self._lock, self.store.session(write=False) as session:
            self.coming[one.key] = one
            job, own = self._job(session)
            drafts = self._drafts(session, job, own)
            sent = self.journal.by_key(one.key)
            full = any(sent and m.sha256 == sent.sha256 and m.state == "heard" for m in own)
            # what the full hearings have told already is not told again by the quick one
            since = None if full else Source(one.seen.media, one.from_s)
            lines = news(self._told(session, job), drafts, self.catalogue, since)
            made = []
            if isinstance(one.seen, PhotoText):
                made += self._photo(one, drafts, lines, job)
            elif lines:
                kind = "asked" if any(line.doubt for line in lines) else "understood"
                made.append(self._add(kind, one, job, lines))
            if isinstance(one.seen, Transcript):
                made += self._ended(one, job)
            self._stand(session, job, drafts)
            return made

    def again(self) -> list[Item]:
        """Tell what differs once the full hearings are there, and how everything stands."""
        with self._lock, self.store.session(write=False) as session:
            self._let_go(session)
            job, own = self._job(session)
            drafts = self._drafts(session, job, own)
            lines = news(self._told(session, job), drafts, self.catalogue, None)
            made = []
            for line in lines:
                kind = "changed" if line.was else "asked" if line.doubt else "understood"
                made.append(self._add(kind, self._source_of(line, drafts, own), job, [line]))
            self._stand(session, job, drafts)
            return made

    def note(self) -> None:
        """Note in the record what was read back since it was noted last."""
        with self._lock:
            lines = self.journal.unnoted()
            if lines:
                with self.store.session() as session:
                    readback.note(session, self.journal.phone, lines)
                self.journal.now_noted(lines)

    def standing(self) -> dict[str, Any]:
        """Give what is still to say, what is adverse and what is doubtful, as the phone is told."""
        with self._lock:
            if not self.state:
                with self.store.session(write=False) as session:
                    job, own = self._job(session)
                    self._stand(session, job, self._drafts(session, job, own))
            return dict(self.state)

    def heard_already(self) -> list[Item]:
        """Give what was told in this job, oldest first."""
        with self._lock, self.store.session(write=False) as session:
            job, _ = self._job(session)
            return self._items(session, job)

    def _job(self, session: Any) -> tuple[int | None, list[Media]]:
        """Give the open job of what was sent last, and what of it is this talk's own."""
        mine = [one for one in media.media(session) if one.sha256 in self.journal.sent]
        mine = [one for one in mine if not one.aside]
        placed = [one for one in mine if one.job is not None]
        job = placed[-1].job if placed else None
        if (job is not None and not (found := jobs.get(session, job)).is_open) or (
            job is not None and found.aside
        ):
            return None, []
        return job, [one for one in mine if one.job == job]

    def _drafts(self, session: Any, job: int | None, own: Sequence[Media]) -> tuple[Draft, ...]:
        heard = {one.sha256 for one in own if one.state == "heard"}
        coming = [
            one.seen
            for one in self.coming.values()
            if (sent := self.journal.by_key(one.key)) is None or sent.sha256 not in heard
        ]
        found = drafting.of_media(session, job, own, self.settings, self.catalogue, coming=coming)
        return tuple(one for one in found if drafting.OFFERED not in one.doubts)

    def _let_go(self, session: Any) -> None:
        """Forget the first hearing of what has been heard in full, or could not be."""
        every = media.media(session)
        # heard, and of a job by now: between the two it would be nowhere
        done = {m.sha256 for m in every if m.job is not None and m.state == "heard"}
        done |= {m.sha256 for m in every if m.state == "failed"}
        for key in list(self.coming):
            sent = self.journal.by_key(key)
            if sent is not None and sent.sha256 in done:
                del self.coming[key]

    def _items(self, session: Any, job: int | None) -> list[Item]:
        """Give what was told in a job, without what the intake then put into another.

        A photo by a camera whose clock is months off was told here, and is lost nowhere.
        """
        recent = self.now() - ONE_TALK
        sent = self.journal.sent
        away = {
            sent[m.sha256].key
            for m in media.media(session)
            if m.sha256 in sent and m.job not in (None, job)
        }
        return [
            item
            for item in self.journal.items
            if item.memo not in away
            and (item.job == job or (item.job is None and item.told_at >= recent))
        ]

    def _told(self, session: Any, job: int | None) -> dict[Slot, Line]:
        return told(self._items(session, job))

    def _add(self, kind: str, one: Coming | None, job: int | None, lines: Sequence[Line]) -> Item:
        said = None
        if one is not None and isinstance(one.seen, Transcript):
            said = one.seen.moment(one.from_s)
        elif one is not None:
            taken = one.seen.taken  # type: ignore[union-attr]
            said = taken.at if taken else None
        key = one.key if one is not None else ""
        return self.journal.add(kind, key, job, said, self.now(), lines)

    def _source_of(
        self, line: Line, drafts: Sequence[Draft], own: Sequence[Media]
    ) -> Coming | None:
        """Give the memo or photo that a line is of, by its phone's key."""
        place = line.place
        for draft in drafts:
            if draft.name == line.field and place in ("", str(draft.position)):
                for one in own:
                    sent = self.journal.sent.get(one.sha256)
                    if one.name == draft.media and sent is not None:
                        seen = Transcript(one.name, 0.0, (), (), one.began)
                        return Coming(sent.key, seen, draft.start or 0.0)
        return None

    def _photo(
        self, one: Coming, drafts: Sequence[Draft], lines: list[Line], job: int | None
    ) -> list[Item]:
        """Answer a photo: what it reads, that nothing was read, or that it is kept."""
        seen = one.seen
        assert isinstance(seen, PhotoText)  # noqa: S101  (the caller has looked)
        lines = [wording.of_photo(line, drafts, seen.media, self.catalogue) for line in lines]
        if not lines:
            lines = [_unread(seen, drafts)]
        return [self._add("photo", one, job, lines)]

    def _ended(self, one: Coming, job: int | None) -> list[Item]:
        """Say at the end of a memo that nothing was understood in it, or that the notes ended."""
        memo = one.seen
        assert isinstance(memo, Transcript)  # noqa: S101  (the caller has looked)
        ends = spoken.words()["ends"]["notes"]
        plain = " ".join(w.text.lower().strip(" ,.?!") for w in memo.words[-12:])
        if any(plain.endswith(end) for end in ends):
            if any(i.kind == "stopped" and i.memo == one.key for i in self.journal.items):
                return []
            return [self._add("stopped", one, job, [_sentence("stopped", "stopped_shown")])]
        if not one.whole or any(i.memo == one.key for i in self.journal.items):
            return []
        line = _nothing(memo, self.catalogue)
        return [self._add("nothing", one, job, [line])] if line else []

    def _stand(self, session: Any, job: int | None, drafts: Sequence[Draft]) -> None:
        """Reckon what is still to say and what stands against the work."""
        names = still.said_of(session, job, drafts)
        found = jobs.get(session, job) if job is not None else None
        aircraft = found.aircraft if found else self.settings.profile.registration or None
        profile = self.settings.profile_of(aircraft)
        day = found.first.date() if found and found.first else self.now().date()
        known = before.known(session, profile.known(day), day, job=job, aircraft=aircraft)
        kind = still.kind(session, job, names, self.catalogue, known)
        left = still.unsaid(kind, names, self.catalogue)
        bad = still.adverse(drafts, self.catalogue, known)
        asked = [line for d in drafts if (line := wording.line(d, self.catalogue)).doubt]
        label = self.catalogue.jobs[kind].label if kind else ""
        told = [part for part in (label, aircraft or "", day.isoformat()) if part]
        self.state = {
            "still": [one.to_json() for one in left],
            "adverse": [one.to_json() for one in bad],
            "doubtful": [
                {"field": line.field, "place": line.place, "text": line.text} for line in asked
            ],
            "all_said": still.all_said(kind, left, bad, len(asked)),
            "job": ", ".join(told) if drafts else "",
        }


def _sentence(say: str, text: str, **values: str) -> Line:
    return Line("", "", "", wording.sentence(text, **values), wording.sentence(say, **values))


def _nothing(memo: Transcript, catalogue: Catalogue) -> Line | None:
    """Say that nothing was understood in a memo, or that nothing in it can be entered.

    What was plainly talk of something else is shown and not spoken: who chats is not interrupted.
    """
    at = memo.moment(memo.speech[0][0]) if memo.speech else None
    speech_s = sum(end - start for start, end in memo.speech)
    if speech_s < OVER_S and not memo.words:
        return None  # a knock
    time = {
        "time": spoken.clock(at.hour, at.minute) if at else "",
        "shown": f"{at:%H:%M}" if at else "",
    }
    if len(memo.words) < FEW_A_SECOND * speech_s:
        return _timed("nothing", time)
    if (found := spoken_clock(memo.words)) is not None:
        clock = found[0]
        text = f"{clock:%H:%M}"
        return Line("", "", "", f"Time {text}", f"Time, {spoken.clock(clock.hour, clock.minute)}.")
    line = _timed("unread", time)
    elements = statements_of(memo.words, catalogue, None)._.outline
    return line if any(element.norm in VALUES for element in elements) else replace(line, say="")


def _timed(name: str, time: dict[str, str]) -> Line:
    return Line(
        "",
        "",
        "",
        wording.sentence(f"{name}_shown", time=time["shown"]),
        wording.sentence(name, time=time["time"]),
    )


def _unread(photo: PhotoText, drafts: Sequence[Draft]) -> Line:
    """Say of a photo that gave nothing new: what was looked for in it, or that it is kept."""
    if photo.subject in ("tach", "hobbs", "counter"):
        return _sentence("no_counter", "no_counter_shown")
    if photo.subject == "label":
        return _sentence("no_label", "no_label_shown")
    return Line("", "", "", wording.sentence("picture_shown"), "")
