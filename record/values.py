"""Values, moments and small structures to the text of a column and back, nothing lost."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from extract.values.draft import Alternative, Evidence, Position, Value
from record.errors import IntegrityError

NONE = "none"
# Fields that had another name once. What is sealed keeps the name it was written with.
RENAMED = {"hobbs_time": "hour_meter_time"}
KINDS_RENAMED = {"tyre": "tire"}  # kinds of job likewise


def now() -> str:
    """Give the moment as ISO 8601 with the offset of this machine, to the second."""
    return datetime.now(UTC).astimezone().isoformat(timespec="seconds")


def pack(value: Value) -> tuple[str, str]:
    """Give a value as (kind, text). A decimal keeps every digit it has."""
    match value:
        case bool():
            return "truth", "true" if value else "false"
        case Decimal():
            return "number", str(value)
        case datetime():
            raise TypeError("a day is meant, not a moment")
        case date():
            return "date", value.isoformat()
        case str():
            return "text", value
    raise TypeError(f"not a value: {value!r}")


def unpack(kind: str, text: str) -> Value:
    """Turn `pack` back. Raises IntegrityError for text that was not packed."""
    try:
        match kind:
            case "truth":
                return {"true": True, "false": False}[text]
            case "number":
                return Decimal(text)
            case "date":
                return date.fromisoformat(text)
            case "text":
                return text
    except (KeyError, ValueError, ArithmeticError):
        pass
    raise IntegrityError(f"a value in the record cannot be read: {kind} {text!r}")


def same(a: Value, b: Value) -> bool:
    """Tell whether two values mean the same: 7 and 7.0 do, `true` and 1 do not."""
    return isinstance(a, bool) == isinstance(b, bool) and a == b


def name_now(name: str) -> str:
    """Give the name that a field has now."""
    return RENAMED.get(name, name)


def kind_now(kind: str) -> str:
    """Give the name that a kind of job has now."""
    return KINDS_RENAMED.get(kind, kind)


def names_of(name: str) -> tuple[str, ...]:
    """Give every name that a field has had, the one of now first."""
    return (name, *(old for old, new in RENAMED.items() if new == name))


def utc(moment: datetime | None) -> str | None:
    """Give a moment in UTC as text that sorts, to the millisecond."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds") if moment else None


def moment(text: str | None) -> datetime | None:
    """Turn ISO 8601 text back to a moment."""
    return datetime.fromisoformat(text) if text else None


def iso(at: datetime | None) -> str | None:
    """Give a moment as ISO 8601 with its offset."""
    return at.isoformat() if at else None


def dump(value: Any) -> str:
    """Give JSON text that is always the same for the same value."""
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def position(text: str) -> Position:
    """Turn the `dump` of a position back."""
    found: Position = json.loads(text)
    return found


def dump_alternatives(alternatives: tuple[Alternative, ...]) -> str:
    """Give other readings as JSON text, values packed."""
    return dump([[*pack(a.value), a.confidence, a.why] for a in alternatives])


def load_alternatives(text: str) -> tuple[Alternative, ...]:
    """Turn `dump_alternatives` back."""
    return tuple(Alternative(unpack(k, v), c, why) for k, v, c, why in json.loads(text))


Quad = tuple[tuple[float, float], ...] | None


def dump_quad(quad: Quad) -> str | None:
    """Give corners as JSON text."""
    return None if quad is None else dump(quad)


def load_quad(text: str | None) -> Quad:
    """Turn `dump_quad` back."""
    return None if text is None else _quad(json.loads(text))


def _quad(raw: list[list[float]] | None) -> Quad:
    return None if raw is None else tuple((x, y) for x, y in raw)


def dump_evidence(also: tuple[Evidence, ...]) -> str:
    """Give further witnesses as JSON text."""
    return dump([[e.media, e.heard, e.start, e.end, iso(e.said_at), e.quad] for e in also])


def load_evidence(text: str) -> tuple[Evidence, ...]:
    """Turn `dump_evidence` back."""
    return tuple(
        Evidence(media, heard, start, end, moment(at), _quad(quad))
        for media, heard, start, end, at, quad in json.loads(text)
    )
