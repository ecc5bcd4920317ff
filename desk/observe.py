"""One file to one observed value: when it began, what is heard in it, how far its clock was off.

Shared by the run and by `try`, so that both see a file alike.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Protocol
from zoneinfo import ZoneInfo

from capture.errors import InputError
from capture.observed import Instant, Kept, PhotoText, Transcript

# A recorder's clock is left alone when what was spoken agrees to this: people round to a minute.
AGREES = timedelta(seconds=90)
# A clock off by no more than this is believed on morning or evening.
NEARLY_RIGHT = timedelta(hours=2)


# Sources of a time that was put right already: by a time said aloud, by a person at the desk.
PUT_RIGHT = ("spoken", "person")


class Ear(Protocol):
    """What hears a memo (`capture.transcribe.Ear`)."""

    def hear(
        self, samples: Any, media: str, progress: Callable[[float], None] | None = None
    ) -> Transcript:
        """Hear the samples of the memo that the person knows as `media`."""


class Eye(Protocol):
    """What reads a photo (`capture.photo_text.Eye`)."""

    def read(self, path: Path, media: str) -> PhotoText:
        """Read the photo at `path`, which the person knows as `media`."""


@dataclass(frozen=True, slots=True)
class ClockError:
    """A recorder's clock as the time said in `media` shows it: add `shift` to put it right."""

    shift: timedelta
    uncertainty_s: float
    doubt: str
    media: str = ""


def there(path: Path) -> bool:
    """Say whether something lies at a path; a sentence too long to be one is no fault."""
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def began_at(path: Path, kept: Kept, zone: ZoneInfo, shift: timedelta = timedelta(0)) -> Instant:
    """Say when a memo or photo began; one that cannot be opened is dated by its name or file."""
    from capture import clocks

    container = exif = None
    with suppress(InputError):  # hearing or reading it will say what is wrong with it
        if kept.kind == "photo":
            from capture.photo import exif_times

            exif = exif_times(path)
        else:
            from capture.audio import container_time

            container = container_time(path)
    return clocks.began_at(kept, container=container, exif=exif, zone=zone, shift=shift)


def hear(
    path: Path, name: str, ear: Ear, share: Callable[[str, float], None] | None = None
) -> tuple[Transcript, str]:
    """Decode and hear a memo; give also what is doubtful about the file, or nothing.

    Raises:
        InputError: it is empty, truncated to nothing, or no sound.
        ModelMissingError: the speech model is not there or was altered.
    """
    from capture.audio import listen

    sound = listen(path)
    progress = (lambda done: share(name, done)) if share else None
    return ear.hear(sound.samples, name, progress), sound.doubt


def recorder(name: str) -> str:
    """Give what the names of one recorder's files have in common: all but their figures."""
    return re.sub(r"\d+", "#", name.lower())


def says_time(heard: Transcript) -> bool:
    """Tell whether somebody in a memo says what time it is."""
    from capture.clocks import spoken_clock

    return spoken_clock(heard.words) is not None


def clock_error(heard: Transcript, began: Instant) -> ClockError | None:
    """Say how far off the recorder was, where somebody in the memo says what time it is.

    The day, and the half of the day where it was not said, are those that move the clock least; a
    clock that is hours off is no guide to the half, and work is done by day. A clock already put
    right is left alone.
    """
    from capture.clocks import spoken_clock

    found = spoken_clock(heard.words)
    if found is None or began.source in PUT_RIGHT:
        return None
    time, second = found
    shown = began.at + timedelta(seconds=second)
    said = datetime.combine(shown.date(), time, shown.tzinfo)
    # "two fifteen" may be either half of the day
    halves = (0, 12) if 1 <= time.hour <= 12 else (0,)
    moments = [said + timedelta(days=day, hours=half) for day in (-1, 0, 1) for half in halves]
    shift = min(moments, key=lambda moment: _unlikely(moment, shown)) - shown
    if abs(shift) <= AGREES:
        return None
    minutes = round(shift.total_seconds() / 60)
    way = "slow" if minutes > 0 else "fast"
    doubt = (
        f"the recorder was {abs(minutes)} min {way} by the time said in {heard.media}; put right"
    )
    return ClockError(shift, 60.0, doubt, heard.media)


def _unlikely(moment: datetime, shown: datetime) -> tuple[bool, timedelta]:
    shift = abs(moment - shown)
    return shift > NEARLY_RIGHT and not 6 <= moment.hour < 19, shift
