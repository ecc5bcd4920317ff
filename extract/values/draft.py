"""A draft: one value as it seems to have been said or read, with its evidence and its doubts."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any

Value = Decimal | str | bool | date
Position = int | str | None

KEYS = (
    "name",
    "value",
    "unit",
    "position",
    "media",
    "start",
    "end",
    "said_at",
    "heard",
    "confidence",
    "doubts",
    "alternatives",
)


SAID_BEFORE = "said before, then replaced"
STATED_TOO = "stated as well"  # why another value is offered: it was said of the same thing too


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another reading of a field. `why` says in a few words where it came from, or why it lost."""

    value: Value
    confidence: float
    why: str = ""


@dataclass(frozen=True, slots=True)
class Evidence:
    """A further witness of a draft: where else the same field was said or seen.

    `start`, `end` are seconds into a memo, None for a photo; `quad` the corners of the crop in
    pixels of the upright photo, None for a memo.
    """

    media: str
    heard: str
    start: float | None = None
    end: float | None = None
    said_at: datetime | None = None
    quad: tuple[tuple[float, float], ...] | None = None


@dataclass(frozen=True, slots=True)
class Draft:
    """A draft field; its keys and their meaning are those of the field catalogue.

    `quad` (the crop it was read from), `also` (further witnesses) and `said` (value and unit as
    they were said, such as `6 L`, where that is not the field's unit) are kept with it and are not
    among the catalogue's keys. `trail` says in plain words which reader took the words for it and
    how surely; it is told by `cowlnote try --why` and kept nowhere.
    """

    name: str
    value: Value
    unit: str | None
    position: Position
    media: str
    start: float | None
    end: float | None
    said_at: datetime | None
    heard: str
    confidence: float
    doubts: tuple[str, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    quad: tuple[tuple[float, float], ...] | None = None
    also: tuple[Evidence, ...] = ()
    said: str | None = None
    trail: tuple[str, ...] = field(default=(), compare=False)

    @property
    def slot(self) -> tuple[str, Position]:
        """Give what the draft is about: its field and its position."""
        return self.name, self.position

    def with_doubt(self, *doubts: str) -> Draft:
        """Give the same draft with these reasons to look twice added, none of them twice."""
        new = tuple(d for d in doubts if d and d not in self.doubts)
        return replace(self, doubts=self.doubts + new)

    def to_json(self) -> dict[str, Any]:
        """Give exactly the catalogue's keys, JSON-ready: numbers as numbers, dates as ISO 8601."""
        return {
            "name": self.name,
            "value": plain(self.value),
            "unit": self.unit,
            "position": self.position,
            "media": self.media,
            "start": _round(self.start),
            "end": _round(self.end),
            "said_at": self.said_at.isoformat() if self.said_at else None,
            "heard": self.heard,
            "confidence": round(self.confidence, 3),
            "doubts": list(self.doubts),
            "alternatives": [
                {"value": plain(a.value), "confidence": round(a.confidence, 3), "why": a.why}
                for a in self.alternatives
            ],
        }


def plain(value: Value) -> float | int | str | bool:
    """Give a value as JSON has it: a whole number as int, a date as text."""
    if isinstance(value, Decimal):
        return int(value) if value == value.to_integral_value() else float(value)
    if isinstance(value, date):
        return value.isoformat()
    return value


def _round(seconds: float | None) -> float | None:
    return None if seconds is None else round(seconds, 2)
