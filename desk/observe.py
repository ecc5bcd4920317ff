"""One file to one observed value: when it began, what is heard in it, what is read off it.

Shared by the run and by `try`, so that both see a file alike.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Protocol
from zoneinfo import ZoneInfo

from capture.observed import Instant, Kept, PhotoText, Transcript

# Endings that phones and recorders give their files. A file so named that cannot be opened is said
# to be bad; any other is passed over.
MEMOS = frozenset(
    [".m4a", ".mp3", ".wav", ".ogg", ".oga", ".opus", ".flac", ".amr", ".3gp", ".webm", ".mp4", ".mov", ".aac", ".wma"]
)
PHOTOS = frozenset([".jpg", ".jpeg", ".heic", ".heif", ".png", ".webp", ".tif", ".tiff"])

# A recorder's clock is left alone when what was spoken agrees to this: people round to a minute.
AGREES = timedelta(seconds=90)


class Ear(Protocol):
    """What hears a memo (`capture.transcribe.Ear`)."""

    def hear(
        self, samples: object, media: str, progress: Callable[[float], None] | None = None
    ) -> Transcript:
        """Hear the samples of the memo that the person knows as `media`."""


class Eye(Protocol):
    """What reads a photo (`capture.photo_text.Eye`)."""

    def read(self, path: Path, media: str) -> PhotoText:
        """Read the photo at `path`, which the person knows as `media`."""


def named_like_ours(path: Path) -> bool:
    """Say whether a file's ending is one that phones give to memos or photos."""
    return path.suffix.lower() in MEMOS | PHOTOS


@dataclass(frozen=True, slots=True)
class ClockError:
    """A recorder's clock as a spoken time shows it: add `shift` to put it right."""

    shift: timedelta
    uncertainty_s: float
    doubt: str


def began_at(path: Path, kept: Kept, zone: ZoneInfo, shift: timedelta = timedelta(0)) -> Instant:
    """Say when a memo or photo began. Raises InputError where the file cannot be opened at all."""
    from capture import clocks

    if kept.kind == "photo":
        from capture.photo import exif_times

        return clocks.began_at(kept, container=None, exif=exif_times(path), zone=zone, shift=shift)
    from capture.audio import container_time

    return clocks.began_at(kept, container=container_time(path), exif=None, zone=zone, shift=shift)


def hear(
    path: Path, name: str, ear: Ear, share: Callable[[str, float], None] | None = None
) -> Transcript:
    """Decode and hear a memo.

    Raises:
        InputError: it is empty, truncated to nothing, or no sound.
        ModelMissingError: the speech model is not there or was altered.
    """
    from capture.audio import decode

    return ear.hear(decode(path), name, (lambda done: share(name, done)) if share else None)


def recorder(name: str) -> str:
    """Give what the names of one recorder's files have in common: all but their figures."""
    return re.sub(r"\d+", "#", name.lower())


def clock_error(heard: Transcript, began: Instant) -> ClockError | None:
    """Say how far off the recorder was, where somebody in the memo says what time it is.

    The day is the one that moves the clock least. A clock already put right is left alone.
    """
    from capture.clocks import spoken_clock

    found = spoken_clock(heard.words)
    if found is None or began.source == "spoken":
        return None
    time, second = found
    shown = began.at + timedelta(seconds=second)
    said = datetime.combine(shown.date(), time, shown.tzinfo)
    # "two fifteen" may be either half of the day
    halves = (0, 12) if 1 <= time.hour <= 12 else (0,)
    ways = [said + timedelta(days=day, hours=half) - shown for day in (-1, 0, 1) for half in halves]
    shift = min(ways, key=abs)
    if abs(shift) <= AGREES:
        return None
    minutes = round(shift.total_seconds() / 60)
    way = "slow" if minutes > 0 else "fast"
    doubt = (
        f"the recorder was {abs(minutes)} min {way} by the time said in {heard.media}; put right"
    )
    return ClockError(shift, 60.0, doubt)
