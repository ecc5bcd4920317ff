"""A memo to words: several independent hearings of each stretch of speech, aligned in time.

No single decoding is right often enough to be trusted with a number, so each stretch is heard by
several models, and whoever reads the words compares them. What each way of hearing gave and cost is
in `docs/hearing.md`.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Protocol

from capture import engine, models
from capture.audio import LONG_S, RATE, Samples, as_float
from capture.cores import CORES, give_back, keep_memory
from capture.engine import Engine
from capture.observed import Hearing, Transcript, Word
from capture.speech import Span, find_speech, gather, unheard
from capture.stash import Stash
from capture.tape import forget
from capture.turns import Turns

Progress = Callable[[float], None]
"""Told how much of the speech has been heard, 0 to 1."""

SECTION_S, SECTION_PAUSE_S = 28.0, 2.0
BEFORE_S, AFTER_S = 0.1, 0.2
LEAST_UNHEARD_S = 2.0
LONGEST_WORD_S = 1.2
ONSET_S = 0.1
"""How long before speech its stretch begins: the padding of `find_speech`."""
NEAR_ONSET_S = 0.4

_NUMBER_WORDS = """zero oh one two three four five six seven eight nine niner ten eleven twelve
thirteen fourteen fifteen sixteen seventeen eighteen nineteen twenty thirty forty fifty sixty
seventy eighty ninety hundred thousand half quarter double triple point decimal dash"""
NUMBERS = frozenset(_NUMBER_WORDS.split())


class Transcriber(Protocol):
    """Whatever turns samples into a Transcript."""

    def hear(self, samples: Samples, media: str, progress: Progress | None = None) -> Transcript:
        """Hear 16 kHz mono samples; `media` is the file's name."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way to hear a section: by which model, in pieces of which length, with which hints.

    `longest_s` and `pause_s` bound the pieces; `tail_s` is as in `Engine.hear`; `hints` shows it
    the owner's words, if there are any; `how` is said in the transcript.
    """

    model: str
    name: str
    longest_s: float = SECTION_S
    pause_s: float = SECTION_PAUSE_S
    tail_s: float | None = None
    hints: bool = False
    how: str = "beam5 nodigits"

    @property
    def settings(self) -> str:
        """Give the words that stand in a Hearing."""
        return f"{self.how} {self.name}{' hints' if self.hints else ''}"


def is_hint(word: str) -> bool:
    """Say whether a word may be shown to a model: plain letters, and no number spoken or written.

    A number in a prompt was seen to come back in the transcript of a memo that did not say it.
    """
    parts = set(re.split(r"[\s-]+", word.lower()))
    return bool(re.fullmatch(r"[A-Za-z' -]{2,40}", word)) and not parts & NUMBERS


AGAIN = Way("", "again", longest_s=12.0, pause_s=1.0)
QUICK = Way("", "quick", AGAIN.longest_s, AGAIN.pause_s, tail_s=3.0)
PLAN = (
    Way("base-hangar", "section", tail_s=6.0, hints=True),
    Way("moonshine-hangar", "phrase", AGAIN.longest_s, AGAIN.pause_s, how="greedy"),
    Way("moonshine", "phrase", AGAIN.longest_s, AGAIN.pause_s, how="greedy"),
)
"""How a memo is heard; the first way is shown. Each is of another model, for what a model misheard
it mishears again, and the two tuned on the same clips may agree and be wrong; which of them are
worth their time is in docs/hearing.md."""


def ways(names: Sequence[str]) -> tuple[Way, ...]:
    """Give the ways to hear with these models, as in `PLAN`; one not in it by long windows."""
    known = {way.model: way for way in PLAN}
    return tuple(known.get(name, Way(name, "window")) for name in names)


class Ear:
    """Hears memos with the models of a folder. Models are loaded when the first speech is met.

    `models` are others than the plan's: names of the manifest, or folders. `words` are the owner's,
    shown as hints where they are plain words. `stash` is a folder for what is finished of a
    recording while it is heard: a run that was killed goes on from there. With `turns` it lets a
    quick hearing go first, piece by piece.
    """

    def __init__(
        self,
        models_dir: Path,
        *,
        models: tuple[str, ...] = (),
        words: tuple[str, ...] = (),
        stash: Path | None = None,
        turns: Turns | None = None,
    ) -> None:
        self._turns = turns or Turns()
        self._models_dir = models_dir
        self._hints = tuple(word for word in words if is_hint(word))
        plan = ways(models) if models else PLAN
        self._plan = tuple(replace(way, hints=way.hints and bool(self._hints)) for way in plan)
        self._stash = stash
        self._engines: dict[str, Engine] = {}
        self._lock = threading.Lock()
        self._loading: dict[str, threading.Lock] = {}
        self._memos, self._changed = 0, threading.Condition()

    def check(self) -> None:
        """Raise ModelMissingError if a model that will be needed is absent or altered."""
        for way in self._plan:
            models.where(self._models_dir, way.model)

    def _engine(self, name: str) -> Engine:
        with self._lock:
            loading = self._loading.setdefault(name, threading.Lock())
        with loading:  # several threads hear at once, and a model is loaded once
            if name not in self._engines:
                keep_memory()
                self._engines[name] = engine.load(models.where(self._models_dir, name))
                give_back()
            return self._engines[name]

    def hear(self, samples: Samples, media: str, progress: Progress | None = None) -> Transcript:
        """Hear samples (n,) at 16 kHz mono in every way; `began` is left to whoever knows.

        Words are in order and do not overlap within a hearing; times are seconds from the start.
        Several threads may ask at once; a tape is heard alone.
        """
        self.check()
        with self._beside(tape=len(samples) > LONG_S * RATE):
            return self._hear(samples, media, progress)

    @contextmanager
    def _beside(self, *, tape: bool) -> Iterator[None]:
        """Let memos be heard side by side, and a tape alone: it lets go of models in between."""
        with self._changed:
            self._changed.wait_for(lambda: self._memos == 0 if tape else self._memos >= 0)
            self._memos += -1 if tape else 1
        try:
            yield
        finally:
            with self._changed:
                self._memos -= -1 if tape else 1
                self._changed.notify_all()

    def _hear(self, samples: Samples, media: str, progress: Progress | None) -> Transcript:
        speech = list(find_speech(samples))
        plan = self._plan
        key = [f"{way.model} {way.settings}" for way in plan] + list(self._hints)
        stash = Stash(self._stash, samples, key) if self._stash and speech else None
        sections = gather(speech, SECTION_S, SECTION_PAUSE_S)
        heard: list[list[list[Word]]] = [[[] for _ in sections] for _ in plan]
        every = self._all(samples, sections, stash)
        for done, (way, at, words) in enumerate(every, 1):
            heard[way][at] = words
            if progress:
                progress(done / (len(plan) * len(sections)))
        if stash:
            stash.clear()
        voiced = self._voiced(heard)
        hearings = tuple(
            Hearing(way.model, way.settings, _in_order([word for at in voiced for word in by[at]]))
            for way, by in zip(plan, heard, strict=True)
        )
        return Transcript(media, len(samples) / RATE, hearings, tuple(speech))

    def _voiced(self, heard: list[list[list[Word]]]) -> list[int]:
        """Give the sections in which a model that hears them whole heard a voice, or two others."""
        whole = [n for n, way in enumerate(self._plan) if way.longest_s == SECTION_S]
        count = len(heard[0]) if heard else 0
        enough = min(2, len(self._plan))
        return [
            at
            for at in range(count)
            if any(heard[n][at] for n in whole) or sum(bool(way[at]) for way in heard) >= enough
        ]

    def quick(self, samples: Samples, speech: list[Span]) -> list[Word]:
        """Hear stretches of speech once, by the first model: what is said back at once.

        It goes before any `hear` that is going on. Raises ModelMissingError.
        """
        model = self._engine(self._plan[0].model)
        return _pieces(model, samples, speech, QUICK, (), self._turns.first)

    def _all(
        self, samples: Samples, sections: list[list[Span]], stash: Stash | None
    ) -> Iterator[tuple[int, int, list[Word]]]:
        """Give each section's words in each way, as (way, section, words); several at once.

        A memo is heard section by section, with all models in memory for the next memo. A tape is
        heard model by model, each let go of before the next is loaded: to load them again is
        nothing beside hours, and their memory is not. The first, which a quick hearing waits for,
        comes last and stays.
        """
        ways, tape = range(len(self._plan)), len(samples) > LONG_S * RATE
        turns = [[(way, at) for at in range(len(sections)) for way in ways]]
        if tape:
            turns = [[(way, at) for at in range(len(sections))] for way in reversed(ways)]
        with _workers() as pool:
            for turn in turns:
                waiting: list[Future[list[Word]] | list[Word]] = []
                for way, at in turn:
                    done = stash.get(way, *_ends(sections[at])) if stash else None
                    if done is None:
                        job = partial(self._section, samples, sections[at], self._plan[way])
                        waiting.append(pool.submit(job))
                    else:
                        waiting.append(done)
                for way, at in turn:
                    one = waiting.pop(0)
                    words = one.result() if isinstance(one, Future) else one
                    if stash and isinstance(one, Future):
                        stash.put(way, *_ends(sections[at]), words)
                    if tape or way == ways[-1]:
                        forget(samples)
                        give_back()
                    yield way, at, words
                if tape and turn:
                    self._let_go(turn[0][0])

    def _let_go(self, way: int) -> None:
        """Let go of a way's model, unless it is the first's."""
        model = self._plan[way].model
        if model != self._plan[0].model:
            self._engines.pop(model, None)
            give_back()

    def _section(self, samples: Samples, section: list[Span], way: Way) -> list[Word]:
        """Hear one section; where a model passes over sentences, hear it again by phrases.

        The two are never mixed, for a number that straddles their border would be said twice.
        """
        model = self._engine(way.model)
        hints = self._hints if way.hints else ()
        words = _pieces(model, samples, section, way, hints, self._turns.then)
        lost = _unheard_s(section, words)
        if lost >= LEAST_UNHEARD_S and way.longest_s != AGAIN.longest_s:
            again = _pieces(model, samples, section, AGAIN, (), self._turns.then)
            if _unheard_s(section, again) < lost:
                return again
        return words


def _ends(section: list[Span]) -> Span:
    return section[0][0], section[-1][1]


@contextmanager
def _workers() -> Iterator[ThreadPoolExecutor]:
    """Give as many workers as there are cores; what they have not begun is dropped on an error."""
    pool = ThreadPoolExecutor(CORES, "hearing")
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)


def _pieces(
    model: Engine,
    samples: Samples,
    section: list[Span],
    way: Way,
    hints: Sequence[str],
    turn: Callable[[], AbstractContextManager[None]],
) -> list[Word]:
    words: list[Word] = []
    for group in gather(section, way.longest_s, way.pause_s):
        start = max(0.0, group[0][0] - BEFORE_S)
        cut = samples[round(start * RATE) : round((group[-1][1] + AFTER_S) * RATE)]
        with turn():
            heard = model.hear(as_float(cut), way.tail_s, hints)
        if not heard.invented:
            words += [Word(text, start + a, start + b, p) for text, a, b, p in heard.words]
    return _on_speech(words, section)


def _unheard_s(section: list[Span], words: list[Word]) -> float:
    left = unheard(section, [(w.start_s, w.end_s) for w in words], LEAST_UNHEARD_S)
    return sum(end - start for start, end in left)


def _on_speech(words: list[Word], speech: list[Span]) -> list[Word]:
    """Set words on the speech that was found: the aligner gives a pause to a word beside it.

    The first word after a pause starts where speech starts, and none lasts past any word's length.
    """
    made: list[Word] = []
    for word in words:
        start, end = word.start_s, word.end_s
        shared = [(min(end, last) - max(start, first), first, last) for first, last in speech]
        most, first, last = max(shared)
        if most > 0:
            start, end = max(start, first), min(end, last)
            fresh = not made or made[-1].start_s < first
            if fresh and start < first + NEAR_ONSET_S and first + ONSET_S < end:
                start = first + ONSET_S
        start = max(start, end - LONGEST_WORD_S)
        made.append(Word(word.text, round(start, 2), round(end, 2), round(word.probability, 3)))
    return made


def _in_order(words: list[Word]) -> tuple[Word, ...]:
    """Sort by start and let no word end before it starts, nor start before the one before it."""
    made: list[Word] = []
    for word in sorted(words, key=lambda w: w.start_s):
        end = max(word.start_s, word.end_s)
        if made and made[-1].end_s > word.start_s:
            made[-1] = Word(made[-1].text, made[-1].start_s, word.start_s, made[-1].probability)
        made.append(Word(word.text, word.start_s, end, word.probability))
    return tuple(made)
