"""The engines as a command wants them: made at the first memo or photo, and not before."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from capture.observed import PhotoText, Transcript
from desk.settings import Settings

if TYPE_CHECKING:
    import numpy as np

    from capture.photo_text import Eye
    from capture.transcribe import Ear


class LateEar:
    """An ear that loads its models when it first hears.

    With `resumes` it leaves in the home how far a long memo was heard, and goes on there.
    """

    def __init__(self, settings: Settings, *, resumes: bool = True) -> None:
        self._settings, self._resumes = settings, resumes

    @cached_property
    def _ear(self) -> Ear:
        from capture.transcribe import Ear

        home = self._settings.home
        stash = home / "unfinished" if self._resumes and home.is_dir() else None
        return Ear(self._settings.models_dir, words=self._settings.profile.words, stash=stash)

    def hear(
        self, samples: np.ndarray, media: str, progress: Callable[[float], None] | None = None
    ) -> Transcript:
        """Hear a memo."""
        return self._ear.hear(samples, media, progress)


class LateEye:
    """An eye that loads its models when it first reads."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings

    @cached_property
    def _eye(self) -> Eye:
        from capture.photo_text import Eye

        return Eye(self._settings.models_dir)

    def read(self, path: Path, media: str) -> PhotoText:
        """Read a photo."""
        return self._eye.read(path, media)
