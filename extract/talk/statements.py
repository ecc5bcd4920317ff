"""What a note states about one field, before several statements become a draft."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from extract.values.draft import Alternative, Position, Value

UNWEIGHED = 0.6  # the chance of a statement that nothing weighed


@dataclass(frozen=True, slots=True)
class Statement:
    """A value stated for a field: `first` and `last` are the elements that state it.

    `signs` are what speaks for or against it, for the calibration; `score` is how well the words
    bind it to its field; `element` is the element of the value itself; `trail`
    says which reader took the words for it.
    """

    name: str
    value: Value
    unit: str | None
    position: Position
    element: int
    first: int
    last: int
    score: float
    doubts: tuple[str, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    signs: Mapping[str, float] = field(default_factory=dict)
    trail: tuple[str, ...] = ()

    @property
    def chance(self) -> float:
        """Give the chance that it is read right, its words taken for certain."""
        return self.signs.get("chance", UNWEIGHED)

    def doubted(self, *doubts: str) -> Statement:
        """Give the same with further doubts."""
        new = tuple(d for d in doubts if d and d not in self.doubts)
        return replace(self, doubts=self.doubts + new)
