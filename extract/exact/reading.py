"""A candidate: words that may state a value, with every exact reading of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from extract.exact.measures import Unit


@dataclass(frozen=True, slots=True)
class Reading:
    """One exact reading: its value, the unit said with it or None, how the words were read.

    `kind` is `number`, `code`, `grade` or `date`. `digits` are a number's figures as spoken,
    leading zeros and point and all, `groups` the same as they were grouped (18, 42, 6); `over` the
    second of *x over y*; `place` a figure right before it that is then no part of it (the 2 of *two
    seventy-five*, read as 75). A date whose year was not said
    has the `value` None and its `day` and `month`. `doubt` is what its sound leaves open.
    """

    kind: str
    value: Decimal | str | date | None
    unit: Unit | None = None
    how: str = "as said"
    digits: str = ""
    groups: tuple[str, ...] = ()
    over: Decimal | None = None
    place: int = 0
    day: int = 0
    month: int = 0
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class Candidate:
    """The parts from `start` up to `end` that may state a value; most likely reading first.

    Candidates may overlap where words can be cut in more than one way. `carried` are units that
    were said elsewhere in the note and may be meant here, the nearest first. `first` and `last` are
    its heard words.
    """

    start: int
    end: int
    readings: tuple[Reading, ...]
    carried: tuple[Unit, ...] = ()
    first: int = 0
    last: int = 0

    @property
    def kinds(self) -> frozenset[str]:
        """Give the kinds of value that it may be."""
        return frozenset(reading.kind for reading in self.readings)
