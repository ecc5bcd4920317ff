"""The engines as a command wants them: made at the first memo or photo, and not before."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from capture.observed import PhotoText, Transcript, Word
from capture.turns import Turns
from desk import observe
from desk.settings import Settings

if TYPE_CHECKING:
    import numpy as np

    from capture.photo_text import Eye
    from capture.transcribe import Ear


REMEMBERED = 200  # photos whose reading is kept in memory


class LateEar:
    """An ear that loads its models when it first hears.

    With `resumes` it leaves in the home how far a long memo was heard, and goes on there. With
    `turns` a quick hearing goes before the others. It may be asked for `at_once` memos at once, so
    that no core waits for the last piece of one.
    """

    at_once = 2

    def __init__(
        self, settings: Settings, *, resumes: bool = True, turns: Turns | None = None
    ) -> None:
        self._settings, self._resumes, self._turns = settings, resumes, turns
        self._made: Ear | None = None
        self._lock = threading.Lock()

    @property
    def _ear(self) -> Ear:
        from capture.transcribe import Ear

        home = self._settings.home
        with self._lock:  # two threads hear: the intake, and what is read back
            if self._made is None:
                stash = home / "unfinished" if self._resumes and home.is_dir() else None
                words = self._settings.profile.words
                self._made = Ear(
                    self._settings.models_dir, words=words, stash=stash, turns=self._turns
                )
        return self._made

    def check(self) -> None:
        """Raise ModelMissingError if a model is absent or altered."""
        self._ear.check()

    def hear(
        self, samples: np.ndarray, media: str, progress: Callable[[float], None] | None = None
    ) -> Transcript:
        """Hear a memo."""
        return self._ear.hear(samples, media, progress)

    def quick(self, samples: np.ndarray, speech: list[tuple[float, float]]) -> list[Word]:
        """Hear stretches of speech once, before anything else."""
        return self._ear.quick(samples, speech)


class LateEye:
    """An eye that loads its models when it first reads."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings

    @cached_property
    def _eye(self) -> Eye:
        from capture.photo_text import Eye

        return Eye(self._settings.models_dir)

    def open(self) -> None:
        """Load the models before the first photo comes."""
        self._eye.open()

    def read(self, path: Path, media: str) -> PhotoText:
        """Read a photo."""
        return self._eye.read(path, media)


class OneLook:
    """An eye that reads each kept photo once: for who waits for it, and for the intake alike."""

    def __init__(self, eye: observe.Eye, turns: Turns) -> None:
        self._eye, self._turns = eye, turns
        self._seen: dict[Path, PhotoText] = {}
        self._lock = threading.Lock()

    def open(self) -> None:
        """Load the models before the first photo comes, where there are any to load."""
        if isinstance(self._eye, LateEye):
            with self._lock, self._turns.then():
                self._eye.open()

    def read(self, path: Path, media: str) -> PhotoText:
        """Read a photo, or give what was read in it; a kept photo never changes."""
        with self._lock:
            seen = self._seen.get(path)
            if seen is None:
                with self._turns.first():
                    seen = self._eye.read(path, media)
                self._seen[path] = seen
                while len(self._seen) > REMEMBERED:
                    del self._seen[next(iter(self._seen))]
        return replace(seen, media=media)
