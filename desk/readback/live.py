"""What arrives is heard or read, and read back, at once: memos in one thread, photos in another.

It only tells. What it hears is not entered and not drafted; the intake goes over each file as if
nobody had listened before.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from capture.audio import RATE
from capture.errors import CowlnoteError, InputError, ModelMissingError
from capture.observed import Instant
from desk import observe
from desk.engines import OneLook
from desk.readback.journal import Journal, Sent
from desk.readback.phrases import Finder, Phrases, QuickEar
from desk.readback.talk import Coming, Talk
from desk.settings import Settings
from extract.read import statements_of
from extract.values.catalogue import Catalogue
from record import readback
from record.store import Store

CLOSES_S = 60.0


@dataclass(slots=True)
class Arriving:
    """A memo or photo of a phone as it lies on the desk's disk: growing, or `whole`.

    `times` counts how often it was said to have grown.
    """

    phone: str
    key: str
    name: str
    path: Path
    began: Instant | None
    kind: str = "memo"
    whole: bool = False
    phrases: Phrases | None = None
    times: int = 0

    @property
    def late(self) -> bool:
        """Tell whether it was sent whole, and not while it was spoken."""
        return self.whole and self.phrases is None and self.kind == "memo"

    @property
    def at(self) -> datetime:
        """Give when it began; what cannot be dated comes last."""
        return self.began.at if self.began else datetime.max.replace(tzinfo=UTC)


@dataclass
class Live:
    """Reads back to each phone what comes of its files. `ear` and `eye` are the desk's own."""

    settings: Settings
    catalogue: Catalogue
    store: Store
    ear: QuickEar | None
    eye: observe.Eye
    find: Finder | None = None
    problem: str = ""
    _talks: dict[str, Talk] = field(default_factory=dict)
    _waiting: dict[tuple[str, str], Arriving] = field(default_factory=dict)
    _known: dict[tuple[str, str], Arriving] = field(default_factory=dict)
    _settle: bool = False
    _warm: bool = False
    _warming: threading.Thread | None = None
    _busy: int = 0
    _changed: threading.Condition = field(default_factory=threading.Condition)
    _threads: dict[str, threading.Thread] = field(default_factory=dict)

    def now(self) -> datetime:
        """Give the time of day where the home is."""
        return datetime.now(self.settings.zone)

    def talk(self, phone: str) -> Talk:
        """Give the talk of a phone, by the name that the desk gave it."""
        with self._changed:
            if phone not in self._talks:
                with self.store.session(write=False) as session:
                    noted = readback.noted(session).get(phone, ())
                journal = Journal.of(self.settings.home, phone, noted)
                self._warm_up()
                self._talks[phone] = Talk(
                    self.settings, self.catalogue, self.store, journal, self.now
                )
            return self._talks[phone]

    def arrived(self, one: Arriving) -> None:
        """Say that a memo has grown, or is here whole; a photo is whole when it comes."""
        with self._changed:
            slot = one.phone, one.key
            known = self._known.setdefault(slot, one)
            known.path, known.whole = one.path, known.whole or one.whole
            known.name, known.began = one.name, one.began
            known.times += 1
            self._waiting[slot] = known
            self._start(known.kind)

    def kept(self, phone: str, sent: Sent) -> None:
        """Note that a file of a phone is safe."""
        self.talk(phone).journal.keep(sent)

    def settled(self) -> None:
        """Say that a run of the intake ended: what it heard is compared with what was told."""
        with self._changed:
            self._settle = True
            self._start("memo")

    def idle(self) -> bool:
        """Tell whether nothing waits to be heard, and nothing is being told."""
        with self._changed:
            return not self._waiting and not self._settle and not self._busy

    def _warm_up(self) -> None:
        """Load the models while the first words are not yet spoken."""
        if self._warm or self.ear is None:
            return
        self._warm = True
        ear = self.ear

        def load() -> None:
            with self._worded():
                ear.quick(np.zeros(RATE, np.float32), [(0.0, 1.0)])
                statements_of("oil", self.catalogue, None)
            with suppress(CowlnoteError):  # a photo will say what is missing
                if isinstance(self.eye, OneLook):
                    self.eye.open()

        self._warming = threading.Thread(target=load, name="warm-up", daemon=True)
        self._warming.start()

    def close(self) -> None:
        """Wait for models that are being loaded: a program that ends meanwhile is aborted."""
        if self._warming is not None:
            self._warming.join(CLOSES_S)

    def _start(self, kind: str) -> None:
        """Let the thread for memos, or that for photos, look at what waits.

        A photo is held up by no phrase that is being heard: it is waited for camera in hand.
        """
        self._changed.notify_all()
        if kind not in self._threads:
            name = f"read-back of {kind}s"
            thread = threading.Thread(target=self._loop, args=(kind,), name=name, daemon=True)
            self._threads[kind] = thread
            thread.start()

    def _loop(self, kind: str) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(
                    lambda: self._waits(kind) or (kind == "memo" and self._settle)
                )
                one, slot, whole, times = None, ("", ""), False, 0
                if self._waits(kind):
                    slot = self._next(kind)
                    one = self._waiting[slot]
                    whole, times = one.whole, one.times
                else:
                    self._settle = False
                self._busy += 1
            with self._worded():
                if one is None:
                    self._compare()
                else:
                    self._take(one, whole)
            if one is not None:
                self._done(one, slot, whole, times)
            with self._changed:
                self._busy -= 1

    def _waits(self, kind: str) -> bool:
        return any(one.kind == kind for one in self._waiting.values())

    def _next(self, kind: str) -> tuple[str, str]:
        """Give whose turn it is: who came first, but no memo before an earlier one of its phone.

        A correction is read with what it corrects; so the order of speaking counts. What was sent
        long after it was spoken comes after what is being spoken now.
        """
        waiting = {slot: one for slot, one in self._waiting.items() if one.kind == kind}
        late = [slot for slot, one in waiting.items() if one.late]
        slot = next((each for each in waiting if each not in late), late[0] if late else None)
        assert slot is not None  # noqa: S101  (something waits)
        first = waiting[slot]
        for other, one in waiting.items():
            alike = (one.phone, one.late) == (first.phone, first.late)
            if kind == "memo" and alike and one.at < first.at:
                slot, first = other, one
        return slot

    def _done(self, one: Arriving, slot: tuple[str, str], whole: bool, times: int) -> None:
        with self._changed:
            waits = self._waiting.pop(slot, None)
            if waits is not None and times != one.times:  # it grew meanwhile: behind the others
                self._waiting[slot] = waits
                return
            if whole:
                self._known.pop(slot, None)

    @contextmanager
    def _worded(self) -> Iterator[None]:
        """Keep the thread alive: what goes wrong is said, and what was sent is safe."""
        try:
            yield
            return
        except InputError:
            return  # too little of it is here to be opened; the intake says what is wrong with it
        except ModelMissingError as error:
            self.problem = f"nothing can be read back: {error}"
        except CowlnoteError as error:
            self.problem = str(error)
        except Exception as error:  # noqa: BLE001  (a thread must not die without a word)
            self.problem = f"nothing can be read back ({type(error).__name__}); it is kept"

    def _take(self, one: Arriving, whole: bool) -> None:
        talk = self.talk(one.phone)
        if one.kind == "photo":
            seen = replace(self.eye.read(one.path, one.name), taken=one.began)
            talk.tell(Coming(one.key, seen))
            return
        if self.ear is None:
            return
        if one.phrases is None:
            one.phrases = Phrases(self.ear, self.find or _finder())
        from capture.audio import listen

        fresh = one.phrases.feed(listen(one.path).samples, whole=whole)
        self.problem = ""
        if fresh or whole:
            memo = one.phrases.transcript(one.name, one.began)
            # at the end of a memo whose last phrase was told already nothing is new in it
            from_s = one.phrases.last_s if fresh else memo.duration_s
            talk.tell(Coming(one.key, memo, from_s, whole))

    def _compare(self) -> None:
        with self._changed:
            talks = list(self._talks.values())
        for talk in talks:
            talk.again()
            talk.note()


def _finder() -> Finder:
    from capture.speech import find_speech

    return find_speech
