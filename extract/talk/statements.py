"""What one sentence states about one field, before several statements become a draft."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache

from extract.talk.outline import VALUES, Cue, Matcher, Slot, sentences
from extract.values.catalogue import Catalogue
from extract.values.draft import Alternative, Position, Value
from extract.words.lists import table
from extract.words.verbs import bare_row, done_row

UNWEIGHED = 0.6  # the chance of a statement that nothing weighed


@dataclass(frozen=True, slots=True)
class Statement:
    """A value stated for a field: `first` and `last` are the slots that state it.

    `signs` are what speaks for or against it, for the calibration; `score` is how well the words
    bind it to its field; `slot` is the slot of the value itself; `trail`
    says which reader took the words for it.
    """

    name: str
    value: Value
    unit: str | None
    position: Position
    slot: int
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


@dataclass(frozen=True, slots=True)
class Page:
    """An outline with all cues found in it, by sentence; the topic in force at every slot.

    `shared` are the topics of every field.
    """

    slots: tuple[Slot, ...]
    bounds: tuple[tuple[int, int], ...]
    cues: tuple[tuple[Cue, ...], ...]
    topics: tuple[frozenset[str], ...]
    shared: Mapping[str, frozenset[str]]

    def sentence(self, slot: int) -> int:
        """Give the number of the sentence that a slot stands in."""
        return next(n for n, (a, b) in enumerate(self.bounds) if a <= slot < b)

    def clause(self, slot: int) -> int:
        """Give the slot at which the words around a slot begin: behind a pause or another value."""
        start = self.bounds[self.sentence(slot)][0]
        while slot > start and not self.slots[slot - 1].after:
            if self.slots[slot - 1].norm in VALUES:
                break
            slot -= 1
        return slot


@cache
def matcher(catalogue: Catalogue) -> Matcher:
    """Give the matcher of all cues of a catalogue: of fields, places, topics, other things."""
    rows: dict[tuple[str, str], Iterable[str]] = {}
    for name, entry in catalogue.fields.items():
        rows |= {
            (name, kind): phrases
            for kind, phrases in entry.cues.items()
            if kind not in ("topics", "elsewhere", "acts")
        }
        acts = entry.cues.get("acts", ())
        rows[(name, "done")] = (*entry.cues.get("done", ()), *map(done_row, acts))
        rows[(name, "act")] = tuple(map(bare_row, acts))
        rows |= {(name, f"place:{p}"): words for p, words in entry.places.items()}
        rows |= {(name, f"says:{choice}"): words for choice, words in entry.says.items()}
    rows |= {
        (name, "thing" if name == "things" else "other"): words
        for name, words in catalogue.others.items()
    }
    rows |= {(name, "topic"): words for name, words in table("topics").items()}
    return Matcher(rows)


def page(slots: tuple[Slot, ...], catalogue: Catalogue) -> Page:
    """Find all cues of an outline and the topics in force."""
    bounds = sentences(slots)
    cues = tuple(matcher(catalogue).find(slots, a, b) for a, b in bounds)
    topics: list[frozenset[str]] = []
    active: frozenset[str] = frozenset()
    for (a, b), found in zip(bounds, cues, strict=True):
        opened = [c for c in found if c.kind == "topic"]
        fresh = False
        first = frozenset(c.owner for c in opened if c.start == min(o.start for o in opened))
        for i in range(a, b):
            here = frozenset(c.owner for c in opened if c.start <= i < c.end)
            if here:
                active = here | (active if fresh else frozenset())
                fresh = True
            topics.append(active if fresh else active | first)
    _announced(slots, bounds, cues, topics)
    shared = {n: frozenset(f.cues.get("topics", ())) for n, f in catalogue.fields.items()}
    return Page(slots, bounds, cues, tuple(topics), shared)


def _announced(
    slots: tuple[Slot, ...],
    bounds: tuple[tuple[int, int], ...],
    cues: tuple[tuple[Cue, ...], ...],
    topics: list[frozenset[str]],
) -> None:
    """*One, seventy-six. Two, seventy-four. That's compressions*: the topic comes last."""
    for n, (a, b) in enumerate(bounds):
        opened = frozenset(c.owner for c in cues[n] if c.kind == "topic")
        bare = not any(s.norm in VALUES for s in slots[a:b])
        if not (n and bare and opened and slots[a].norm in ("that", "those", "these", "this")):
            continue
        for k in range(a - 1, -1, -1):
            if topics[k]:
                break
            topics[k] = opened
