"""What nobody said right beside a value and is taken all the same: its place, its unit.

Of values whose place was taken from the order of telling one in four was wrong in the marked
notes, of others one in twenty; of bare figures in metric notes, read in quarts, one in three. The
trained reader was sure of each.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from extract.claims.places import beside, carried
from extract.exact.fitted import Fitted
from extract.exact.measures import all_units, convert
from extract.exact.reading import Candidate
from extract.values.catalogue import Field
from extract.values.draft import Alternative, Position
from extract.words.parts import Part

ORDER = "its place was not said beside it, and is taken from what was said around it"
METRIC = "no unit was said, and other figures of this note are metric"
_METRIC = frozenset(
    {"L", "ml", "mm", "bar", "kPa", "N·m", "°C"}
)  # by the SI brochure, or beside it
_COMMA = ("comma", "komma")
_OF_IT = ("on", "in", "for", "of", "is", "was", "at")  # *74 on two*: the place behind is its own


def unsaid(
    parts: Sequence[Part],
    cut: Sequence[Candidate],
    one: Candidate,
    places: Sequence[Position],
    gone: Sequence[bool],
    fit: Fitted,
    entry: Field,
) -> tuple[tuple[str, ...], tuple[Alternative, ...]]:
    """Give what is to be doubted of candidate `one`, read as `fit`, and what it may be instead.

    `cut` are the candidates that are told, `gone` says of each whether `one` or another replaces
    it; `places` are those that it is said of.
    """
    doubts = [ORDER] if _by_order(parts, cut, one, places, gone, entry) else []
    meant = _metric(parts, cut, fit, entry)
    return (*doubts, *([METRIC] if meant else [])), (meant,) if meant else ()


def _by_order(
    parts: Sequence[Part],
    cut: Sequence[Candidate],
    one: Candidate,
    places: Sequence[Position],
    gone: Sequence[bool],
    entry: Field,
) -> bool:
    """Say whether the place of a value is not named nearest to it, before it or behind it.

    A value said once for several places names them all, and one that replaces what was said right
    before it has its place: *left was down to twenty-two, pumped it to thirty*.
    """
    place = places[0]
    if place is None or len(places) > 1 or any(r.place == place for r in one.readings):
        return False
    before, behind = beside(parts, cut, one, entry)
    its_own = bool(behind) and parts[one.end].norm in _OF_IT
    if place in (behind if its_own else before | behind):
        return False
    named, since = carried(parts, cut, one, entry)
    return place not in named or not since or not all(gone[n] for n in since)


def _metric(
    parts: Sequence[Part], cut: Sequence[Candidate], fit: Fitted, entry: Field
) -> Alternative | None:
    """Give what a bare figure, read in the field's own unit, is in one that a metric note means.

    None where its unit was said or supposed, or where the note is not metric.
    """
    value, own = fit.value, entry.unit
    if fit.reading.unit is not None or fit.supposed or not isinstance(value, Decimal):
        return None
    if own is None or own in _METRIC or not _METRIC & set(entry.units):
        return None
    said = {reading.unit.name for c in cut for reading in c.readings[:1] if reading.unit}
    if own in said or not (said & _METRIC or any(part.norm in _COMMA for part in parts)):
        return None
    target = all_units()[own]
    for name in entry.units:
        unit = all_units()[name]
        meant = convert(value, unit, target) if unit.dimension == target.dimension else None
        if name in _METRIC and meant is not None and entry.plausible(meant):
            return Alternative(meant, 0.3, f"taken as {name}")
    return None
