"""Where a value belongs: the place that the trained reader gives it, or several said at once.

*mains at thirty*, *top and bottom*, *all three tires*: one value said once for several places. The
words of each place are data (`positions` of a field).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from extract.claims.encoder import Told
from extract.exact.reading import Candidate
from extract.values.catalogue import Field
from extract.values.draft import Position
from extract.words.lists import DIGITS, ORDINALS
from extract.words.parts import STRONG, Part

_ALL = ("all", "every")
_NEAR = 5  # parts beside a value in which its place may stand
_Said = tuple[int, int, frozenset[Position]]  # parts, and the places that they name


def places_of(
    parts: Sequence[Part],
    told: Told,
    n: int,
    cut: Sequence[Candidate],
    one: Candidate,
    entry: Field,
) -> tuple[Position, ...]:
    """Give the places of candidate number `n`, the likeliest first; `cut` are all that are told."""
    if not entry.positions:
        return (None,)
    best = position(told.names["place"][int(told.place[n].argmax())], entry)
    around = _around(parts, cut, one)
    if any(
        said == {best} for said in (_close(parts, start, end, one, entry) for start, end in around)
    ):
        return (best,)
    for start, end in around:
        together = _together(parts, start, end, entry)
        if len(together) > 1 and (best is None or best in together):
            return tuple(place for place in entry.positions if place in together)
    return (best,)


def beside(
    parts: Sequence[Part], cut: Sequence[Candidate], one: Candidate, entry: Field
) -> tuple[frozenset[Position], frozenset[Position]]:
    """Give the places named nearest to a value, before it and behind it, in its breath.

    No other value stands between; a lone figure is a place (*two, seventy-four*), not a value.
    """
    others = _values(parts, cut, one, entry)
    before: frozenset[Position] = frozenset()
    k = one.start
    while not before and k > max(0, one.start - _NEAR) and k - 1 not in others:
        k -= 1
        before = _named(parts, k, one.start, entry)
    behind: frozenset[Position] = frozenset()
    k = one.end
    while k < min(len(parts), one.end + _NEAR) and not behind and not parts[k - 1].after:
        if k in others:
            break
        behind = _named(parts, k, len(parts), entry)
        k += 1
    return before, behind


def carried(
    parts: Sequence[Part], cut: Sequence[Candidate], one: Candidate, entry: Field
) -> tuple[frozenset[Position], tuple[int, ...]]:
    """Give the places named last before a value in its sentence, and what was said of them since.

    The latter are the numbers in `cut` of the values between: *left was down to twenty-two, pumped
    it to thirty*.
    """
    others = _values(parts, cut, one, entry)
    k = one.start
    while k > 0 and not _ends(parts[k - 1]):
        k -= 1
        named = frozenset() if k in others else _named(parts, k, one.start, entry)
        if named:
            between = (n for n, c in enumerate(cut) if k < c.start < one.start)
            return named, tuple(n for n in between if cut[n].start in others)
    return frozenset(), ()


def _values(
    parts: Sequence[Part], cut: Sequence[Candidate], one: Candidate, entry: Field
) -> frozenset[int]:
    """Give the parts of other values; a lone figure that is a place is none."""
    return frozenset(
        k
        for c in cut
        if c is not one and not (c.end - c.start == 1 and _figure(parts[c.start], entry))
        for k in range(c.start, c.end)
    )


def _named(parts: Sequence[Part], at: int, end: int, entry: Field) -> frozenset[Position]:
    """Give the places that the words beginning at a part name."""
    norms = tuple(part.norm for part in parts[at : min(end, at + 4)])
    row = next((places for row, places in _rows(entry) if norms[: len(row)] == row), None)
    return row if row is not None else _figure(parts[at], entry)


def _figure(part: Part, entry: Field) -> frozenset[Position]:
    """Give the place that a figure, or the word of one, names by itself."""
    norm = part.norm.lstrip("#")
    said = DIGITS.get(norm) or str(ORDINALS.get(norm, norm))
    return frozenset(place for place in entry.positions if str(place) == said)


def position(name: str, entry: Field) -> Position:
    """Give the place of a field by its name, None if it has no such place."""
    return next((place for place in entry.positions if str(place) == name), None)


def torn(told: Told, n: int, places: Sequence[Position], entry: Field) -> float:
    """Give how much speaks for other places than those taken."""
    if not entry.positions:
        return 0.0
    names = list(told.names["place"])
    said = ["" if place is None else str(place) for place in places]
    return max(0.0, 1 - sum(float(told.place[n][names.index(s)]) for s in said if s in names))


def _around(
    parts: Sequence[Part], cut: Sequence[Candidate], one: Candidate
) -> tuple[tuple[int, int], tuple[int, int]]:
    """Give the parts between a value and its neighbours in its sentence: before it, behind it."""
    start, end = one.start, one.end
    others = {
        k for c in cut if c is not one and not _is_count(parts, c) for k in range(c.start, c.end)
    }
    while start > 0 and start - 1 not in others and not _ends(parts[start - 1]):
        start -= 1
    while end < len(parts) and end not in others and not _ends(parts[end - 1]):
        end += 1
    return (start, one.start), (one.end, end)


def _close(
    parts: Sequence[Part], start: int, end: int, one: Candidate, entry: Field
) -> frozenset[Position]:
    """Give the places named right beside a value: the *left* of *two hundred left*."""
    said = _said(parts, start, end, entry)
    beside = [places for a, b, places in said if a == one.end or b == one.start]
    return frozenset(place for places in beside for place in places)


def _ends(part: Part) -> bool:
    return any(mark in STRONG for mark in part.after)


def _is_count(parts: Sequence[Part], one: Candidate) -> bool:
    """*all three*: how many there are, and no value."""
    return one.start > 0 and parts[one.start - 1].norm in _ALL


def _together(parts: Sequence[Part], start: int, end: int, entry: Field) -> frozenset[Position]:
    """Give the places that one phrase among some parts names, joined by *and* or at once."""
    said = _said(parts, start, end, entry)
    groups: list[frozenset[Position]] = []
    last = -9
    for a, b, places in said:
        joined = groups and a - last == 1 and parts[last].norm == "and" and not parts[last].after
        if joined:
            groups[-1] |= places
        else:
            groups.append(places)
        last = b
    return max(groups, key=len, default=frozenset())


def _said(parts: Sequence[Part], start: int, end: int, entry: Field) -> list[_Said]:
    made: list[_Said] = []
    k = start
    while k < end:
        norms = tuple(part.norm for part in parts[k : min(end, k + 4)])
        row = next((row for row in _rows(entry) if norms[: len(row[0])] == row[0]), None)
        count = DIGITS.get(parts[k + 1].norm, "") if k + 1 < end else ""
        if row is not None:
            made.append((k, k + len(row[0]), row[1]))
        elif parts[k].norm in _ALL and count == str(len(entry.positions)):
            made.append((k, k + 2, frozenset(entry.positions)))
        k = made[-1][1] if made and made[-1][1] > k else k + 1
    return made


def _rows(entry: Field) -> tuple[tuple[tuple[str, ...], frozenset[Position]], ...]:
    return _rows_of(
        tuple((place, tuple(entry.places.get(str(place), ()))) for place in entry.positions)
    )


@cache
def _rows_of(
    places: tuple[tuple[Position, tuple[str, ...]], ...],
) -> tuple[tuple[tuple[str, ...], frozenset[Position]], ...]:
    """Give the words for places, the longest first, each with all places that it names."""
    made: dict[tuple[str, ...], set[Position]] = {}
    for place, rows in places:
        for row in rows:
            first, *rest = [word.split("|") for word in row.split()]
            alternatives: list[tuple[str, ...]] = [(word,) for word in first]
            for words in rest:
                alternatives = [(*said, word) for said in alternatives for word in words]
            for said in alternatives:
                made.setdefault(said, set()).add(place)
    return tuple((said, frozenset(made[said])) for said in sorted(made, key=len, reverse=True))
