"""What was observed, as plain frozen values: no engine, no field name, no database.

Times in a memo are seconds from its start. Moments are aware datetimes.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any


@dataclass(frozen=True, slots=True)
class Kept:
    """A file as it lies in the vault.

    `sha256` is 64 lower-case hex digits and names the bytes; `name` is the file's own name as it
    came in, without its folder; `size` is in bytes; `kind` is `memo` or `photo`; `modified` is the
    file's own time, kept because a copy would lose it.
    """

    sha256: str
    name: str
    size: int
    kind: str
    modified: datetime


@dataclass(frozen=True, slots=True)
class Instant:
    """When something began, where that was learnt, and what is doubtful about it.

    `at` always carries an offset. `source` is one of `exif`, `container`, `name`, `file`,
    `spoken`; `uncertainty_s` is how far off it may be; `doubt` is a sentence, or empty.
    """

    at: datetime
    source: str
    uncertainty_s: float = 1.0
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class Word:
    """One word as heard: text without surrounding spaces, span, and how sure the model was."""

    text: str
    start_s: float
    end_s: float
    probability: float = 1.0


@dataclass(frozen=True, slots=True)
class Hearing:
    """One decoding of a memo. `model` and `settings` say which, so that it can be repeated."""

    model: str
    settings: str
    words: tuple[Word, ...]

    @property
    def text(self) -> str:
        """Give the words joined by spaces."""
        return " ".join(word.text for word in self.words)


@dataclass(frozen=True, slots=True)
class Transcript:
    """A memo as heard, perhaps several times.

    `hearings` holds at least one; the first that heard any words is the one shown and searched.
    `speech` are the stretches in which somebody speaks, as (start_s, end_s). `began` is when the
    memo began, if known.
    """

    media: str
    duration_s: float
    hearings: tuple[Hearing, ...]
    speech: tuple[tuple[float, float], ...] = ()
    began: Instant | None = None

    @property
    def shown(self) -> Hearing | None:
        """Give the hearing that is shown: the first with words, else the first."""
        return next((h for h in self.hearings if h.words), next(iter(self.hearings), None))

    @property
    def words(self) -> tuple[Word, ...]:
        """Give the words of the hearing that is shown."""
        return self.shown.words if self.shown else ()

    @property
    def text(self) -> str:
        """Give the text of the hearing that is shown."""
        return self.shown.text if self.shown else ""

    def moment(self, second: float) -> datetime | None:
        """Give the wall-clock time of a second of the memo, or None where its start is unknown."""
        return self.began.at + timedelta(seconds=second) if self.began else None


@dataclass(frozen=True, slots=True)
class Reading:
    """Something read off a photo.

    `kind` is `drum` (a drum counter), `lcd` (seven segments) or `text` (a line of print or hand);
    `text` is what was read, `quad` the four corners in pixels of the upright photo, clockwise from
    the top left, `probability` how sure the reader was. `alternatives` are other readings, best
    first, each with its probability. `doubts` are short sentences. `handwritten` marks a line that
    looks written by hand.
    """

    kind: str
    text: str
    quad: tuple[tuple[float, float], ...]
    probability: float
    alternatives: tuple[tuple[str, float], ...] = ()
    doubts: tuple[str, ...] = ()
    handwritten: bool = False


@dataclass(frozen=True, slots=True)
class PhotoText:
    """A photo as read: what it is of, and its readings.

    `subject` is `tach`, `hobbs`, `counter`, `label` or `other`; `counter` is an hour counter in a
    close-up where nothing in the frame says which. `size` is (width, height) in pixels of the
    upright photo. `reader` names the models used.
    """

    media: str
    size: tuple[int, int]
    subject: str
    readings: tuple[Reading, ...]
    reader: str
    taken: Instant | None = None


def to_json(value: Transcript | PhotoText) -> dict[str, Any]:
    """Give a JSON-ready object that `transcript_from_json` or `photo_from_json` turns back."""
    made = asdict(value)
    for key in ("began", "taken"):
        if made.get(key):
            made[key]["at"] = made[key]["at"].isoformat()
    return made


def _instant(raw: dict[str, Any] | None) -> Instant | None:
    return None if raw is None else Instant(**{**raw, "at": datetime.fromisoformat(raw["at"])})


def transcript_from_json(raw: dict[str, Any]) -> Transcript:
    """Turn `to_json` of a Transcript back."""
    hearings = tuple(
        Hearing(h["model"], h["settings"], tuple(Word(**w) for w in h["words"]))
        for h in raw["hearings"]
    )
    speech = tuple((float(a), float(b)) for a, b in raw["speech"])
    return Transcript(raw["media"], raw["duration_s"], hearings, speech, _instant(raw["began"]))


def photo_from_json(raw: dict[str, Any]) -> PhotoText:
    """Turn `to_json` of a PhotoText back."""
    readings = tuple(
        Reading(
            r["kind"],
            r["text"],
            tuple((float(x), float(y)) for x, y in r["quad"]),
            r["probability"],
            tuple((str(t), float(p)) for t, p in r["alternatives"]),
            tuple(r["doubts"]),
            r["handwritten"],
        )
        for r in raw["readings"]
    )
    width, height = raw["size"]
    return PhotoText(
        raw["media"],
        (width, height),
        raw["subject"],
        readings,
        raw["reader"],
        _instant(raw["taken"]),
    )
