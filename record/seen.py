"""What a person had before their eyes when they decided, and whether it is still so."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import Any

from capture.errors import InputError
from extract.values.catalogue import Catalogue
from extract.values.draft import Position, Value
from record import typed
from record.entries import Entry
from record.errors import StaleError
from record.values import dump


@dataclass(frozen=True, slots=True)
class Seen:
    """A value as it was shown: as text with its unit, its unit, its place, and its version.

    `version` is `7.1` for draft 7 in its first version, with `@12` while decision 12 stands on it,
    and `e12` for entry 12. `doubts` are those shown beside it. `pressed` is the text on what was
    pressed, or typed, where that is another value than the one shown.
    """

    value: str
    unit: str | None
    position: Position
    version: str
    doubts: tuple[str, ...] = ()
    pressed: str = ""

    @classmethod
    def from_json(cls, raw: Any) -> Seen | None:
        """Read what a page sends back; None where it is not of this form."""
        match raw:
            case {
                "value": str(value),
                "unit": None | str() as unit,
                "position": None | int() | str() as position,
                "version": str(version),
                "doubts": [*doubts],
            } if all(isinstance(d, str) for d in doubts):
                return cls(value, unit, position, version, tuple(doubts))
        return None

    def to_json(self) -> dict[str, Any]:
        """Give it JSON-ready."""
        return {**asdict(self), "doubts": list(self.doubts)}

    def kept(self, pressed: str = "") -> str:
        """Give the text that a decision keeps."""
        return dump(replace(self, pressed=pressed).to_json())

    def hold_against(self, now: Seen, what: str) -> None:
        """Raise StaleError where what was shown is not what is there now."""
        mine = (self.value, self.unit, self.position)
        if mine != (now.value, now.unit, now.position):
            raise StaleError(f"{what} was shown as {self.value} and is {now.value} now")
        if self.version != now.version:
            raise StaleError(f"{what} has changed since it was shown")
        if new := [d for d in now.doubts if d not in self.doubts]:
            raise StaleError(f"{what} has a doubt that was not shown: {'; '.join(new)}")


def text_of(
    name: str,
    value: Value,
    unit: str | None,
    catalogue: Catalogue | None = None,
    said: str | None = None,
) -> str:
    """Give a value with its unit, as pages and commands write it; `said` is how it was said."""
    field = typed.catalogue_of(catalogue).fields.get(name)
    if field is not None:
        try:
            return field.told(value, said)
        except InputError:
            pass  # a field that was of another kind once: its value is shown as it is
    return f"{value} {unit or ''}".strip()


def of_entry(entry: Entry, catalogue: Catalogue | None = None) -> Seen:
    """Give an entry as it is shown."""
    text = (
        ""
        if entry.value is None
        else text_of(entry.name, entry.value, entry.unit, catalogue, entry.said)
    )
    return Seen(text, entry.unit, entry.position, f"e{entry.id}")
