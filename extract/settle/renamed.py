"""*Tach twelve thirty, no, that was the hour meter*: the number stays, its field changes."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import replace

from extract.claims.cues import Cue, cues_in
from extract.claims.proposals import Proposal
from extract.talk.outline import Element, sentences
from extract.values.catalogue import Catalogue

_POINTING = ("that", "it", "this", "those")
_BEING = ("is", "was", "were", "are")
_TURNS = ("no", "nope", "wait", "sorry", "oops", "actually", "correction", "scratch", "mean")
_REACH = 4  # elements between the pointing word and the name, and behind the value


def renamed(
    proposals: Sequence[Proposal], elements: Sequence[Element], catalogue: Catalogue
) -> Iterator[Proposal]:
    """Give a reading that was said to be another meter's to that meter, with a doubt."""
    meters = tuple(name for name, field in catalogue.fields.items() if field.decimals == 1)
    for one in proposals:
        meant = _meant(one, elements, catalogue, meters) if one.name in meters else None
        if meant is None or meant == one.name:
            yield one
            continue
        label = catalogue.fields[one.name].label
        doubt = f"it was said to be the {label} first, then to be this"
        yield replace(one, name=meant, doubts=(*one.doubts, doubt))


def _meant(
    one: Proposal, elements: Sequence[Element], catalogue: Catalogue, meters: tuple[str, ...]
) -> str | None:
    """Give the meter that the words behind a value say it is of, after a word that takes back."""
    value = bisect_right(elements, one.start, key=lambda element: element.start) - 1
    if not any(element.norm in _TURNS for element in elements[value + 1 : value + 2 + 2 * _REACH]):
        return None  # nothing is taken back near it
    end = next(b for a, b in sentences(elements) if a <= value < b)
    stop = next((b for a, b in sentences(elements) if a == end), end)
    for k in range(value + 1, min(stop, value + 2 + 2 * _REACH) - 1):
        turned = any(elements[i].norm in _TURNS for i in range(value + 1, k))
        if elements[k].what is not None:
            return None
        if turned and elements[k].norm in _POINTING and elements[k + 1].norm in _BEING:
            named = _first(cues_in(elements, k + 2, min(stop, k + 2 + _REACH), catalogue, meters))
            return named.owner if named is not None else None
    return None


def _first(cues: Sequence[Cue]) -> Cue | None:
    return min((c for c in cues if c.kind == "names"), key=lambda c: c.start, default=None)
