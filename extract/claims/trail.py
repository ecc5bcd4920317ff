"""How a statement came about, in plain words: what its words were taken for."""

from __future__ import annotations

from collections.abc import Iterator

from extract.claims.encoder import CUT, STATED, Told
from extract.claims.proposals import Proposal

_WORTH_TELLING = 0.02


def trail(one: Proposal, told: Told, chance: float) -> tuple[str, ...]:
    """Tell what the trained reader says of a proposal, and what it is worth."""
    return tuple(_lines(one, told, chance))


def _lines(one: Proposal, told: Told, chance: float) -> Iterator[str]:
    yield f"trained reader: {', '.join(_takes(one, told))}"
    if not one.signs.get("named", one.signs.get("state_named", 1.0)):
        yield "no word of the note names it"
    if one.signs.get("supposed"):
        yield "the unit or the point was not said, and had to be supposed"
    yield f"weighed together: {chance:.2f}"


def _takes(one: Proposal, told: Told) -> Iterator[str]:
    """Give what the trained reader takes the words for, the likeliest first."""
    if one.candidate is None:
        yield f"{one.name.replace('_', ' ')} {one.by_model:.2f}"
        row, names = told.status[one.start : max(one.end, one.start + 1)].mean(0), "status"
    else:
        row, names = told.out[one.candidate], "out"
    order = sorted(zip((float(p) for p in row), told.names[names], strict=True), reverse=True)
    for p, name in order[:3]:
        if name not in (CUT, STATED) and p >= _WORTH_TELLING:
            yield f"{name.replace('_', ' ')} {p:.2f}"
