"""A limit spoken beside a value: never the value itself, but a doubt where the value breaks it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import pairwise

from extract.claims.encoder import Told
from extract.claims.proposals import Proposal
from extract.exact.fitted import fitted
from extract.exact.reading import Candidate
from extract.values.catalogue import Field
from extract.words.parts import Part

_LIMIT = "limit"
_TOP = frozenset(
    ["max", "maximum", "most", "over", "exceed", "above", "tops", "limit", "more", "redline",
     "past"]
)  # fmt: skip
_BOTTOM = frozenset(["min", "minimum", "least", "below", "under", "less"])
_TO = ("to", "through", "thru", "and")
_NEAR = 4  # parts
Limit = tuple[Decimal | None, Decimal | None]  # the least and the most that is allowed


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits spoken in a note, sought once a field; `cut` are its numbered candidates."""

    parts: Sequence[Part]
    cut: Sequence[tuple[int, Candidate]]
    told: Told
    found: dict[str, tuple[Limit, ...]] = field(default_factory=dict)

    def of(self, entry: Field) -> tuple[Limit, ...]:
        """Give the limits spoken of a field."""
        if entry.name not in self.found:
            self.found[entry.name] = tuple(_limits(self.parts, self.cut, self.told, entry))
        return self.found[entry.name]

    def held(self, one: Proposal, entry: Field) -> Proposal:
        """Doubt a number that breaks a limit spoken of its field."""
        if not isinstance(one.value, Decimal):
            return one
        shown = entry.kind_object.show
        doubts = list(one.doubts)
        for low, high in self.of(entry):
            if high is not None and one.value > high:
                doubts.append(f"{shown(high, entry.unit)} was said to be the most that is allowed")
            if low is not None and one.value < low:
                doubts.append(f"{shown(low, entry.unit)} was said to be the least that is allowed")
        return replace(one, doubts=tuple(dict.fromkeys(doubts)))


def _limits(
    parts: Sequence[Part], cut: Sequence[tuple[int, Candidate]], told: Told, entry: Field
) -> Iterator[Limit]:
    """Give the limits spoken of a field: *sixteen to eighteen*, *eighteen max*."""
    spoken = [(c, value) for n, c in cut if (value := _spoken(told, n, c, entry)) is not None]
    ranged: set[int] = set()
    for (one, low), (other, high) in pairwise(spoken):
        between = [part.norm for part in parts[one.end : other.start]]
        if len(between) == 1 and between[0] in _TO and low < high:
            ranged |= {one.start, other.start}
            yield low, high
    for c, value in spoken:
        if c.start in ranged:
            continue
        least, most = _distance(parts, c, _BOTTOM), _distance(parts, c, _TOP)
        if min(least, most) <= _NEAR:
            yield (value, None) if least < most else (None, value)


def _spoken(told: Told, n: int, one: Candidate, entry: Field) -> Decimal | None:
    """Give the value of a candidate that is taken for a limit of a field."""
    of = told.names["field"][int(told.field[n].argmax())]
    if told.names["out"][int(told.out[n].argmax())] != _LIMIT or of != entry.name:
        return None
    values = [fit.value for fit in fitted(one, entry)]
    return next((v for v in values if isinstance(v, Decimal) and entry.plausible(v)), None)


def _distance(parts: Sequence[Part], one: Candidate, words: frozenset[str]) -> int:
    """Give how many parts the nearest of some words stands from a candidate."""
    near = [
        one.start - k if k < one.start else k - one.end + 1
        for k in range(max(0, one.start - _NEAR), min(len(parts), one.end + _NEAR))
        if parts[k].norm in words
    ]
    return min(near, default=_NEAR + 1)
