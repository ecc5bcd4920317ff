"""States held to the words: of the thing that is named, of some thing, and not their opposite.

The trained reader has met few things that no field is of, and takes *transponder check was not
done* for the drain: it was never taught to say of a state that it is of something else. So a state
is none where its clause speaks of another thing (data/things.toml) and does not name its own, or
where it is told in words that name nothing and the note names nothing of it. Where the words right
beside what was done deny it, *done* is read as *not done*, with a doubt.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cache

from extract.claims.cues import cues_in
from extract.talk.outline import Element, clause_starts, sentences
from extract.values.catalogue import Catalogue, Field
from extract.values.draft import Value
from extract.words.lists import table

ELSEWHERE = "it may be of something else"
OTHER_AIRCRAFT = "it may be of another aircraft"
OTHER_DAY = "it may be of an earlier time"
DENIED = "it was taken for done at first, but the words say that it was not"
DEED = "it was taken for a no at first, but the words tell what happened and deny nothing"
_HOLDS = 16  # elements before a clause in which its sentence may have named what it speaks of
_Span = tuple[int, int]  # the first, the one behind the last


@dataclass(frozen=True, slots=True)
class Held:
    """A note whose states are held to its words.

    `bounds` are its sentences (elements), `norms` all its words, `named` the fields that they name.
    """

    elements: Sequence[Element]
    catalogue: Catalogue
    named: Collection[str]
    bounds: Sequence[_Span]
    norms: frozenset[str]

    def state(self, name: str, value: Value, span: _Span) -> tuple[Value, tuple[str, ...]] | None:
        """Give a state that some parts state as the words allow, with doubts.

        None where it is of something else, or still to come. Bad news of another thing is kept,
        with a doubt: nobody should have to look for it.
        """
        entry = self.catalogue.fields[name]
        good = entry.choices[0] if entry.choices else True
        at = elements_of(self.elements, span)
        if not self._is_of_it(at, entry):
            return (value, (ELSEWHERE,)) if entry.choices and value != good else None
        doubts = self.apart(at)
        if value is False and self._tells_deed(at, entry):
            return True, (*doubts, DEED)
        how = self._turned(at, entry) if entry.choices or value == good else None
        if how == "denying" and value is True:
            return False, (*doubts, DENIED)
        return None if how else (value, doubts)

    def _is_of_it(self, at: _Span, entry: Field) -> bool:
        """Say whether the words of some elements can be said of a field's thing."""
        elements, (a, b) = self.elements, self._clauses(at)
        which = "elsewhere" if entry.choices else "things"
        things = things_in(elements, a, b, which)
        if self._names(a, b, entry, things):
            return True
        if not things and not entry.choices:  # what the sentence spoke of before holds on
            a, b = max(self._sentence(at[0])[0], a - _HOLDS), a
            things = things_in(elements, a, b, which)
            called = _is_called({element.norm for element in elements[a : at[1]]}, entry)
            if things and (called or self._names(a, b, entry, things)):
                return True
        if any(entry.choices or not _is_behind(elements[a:first]) for first, _ in things):
            return False
        told = {element.norm for element in elements[slice(*at)]} - set(
            table("things")["untelling"]
        )
        return bool(told) or entry.name in self.named or _is_called(self.norms, entry)

    def _turned(self, at: _Span, entry: Field) -> str | None:
        """Give what the words before what was done make of it.

        `denying`: it was not done; `ahead`: it is still to come; None where they say neither.
        """
        a, b = self._clauses(at)
        for cue in cues_in(self.elements, a, b, self.catalogue, (entry.name,)):
            if cue.kind != "done" or cue.end <= at[0]:
                continue
            for which in ("denying", "ahead"):
                found = _before(self.elements, a, cue.start, which)
                told = {element.norm for element in self.elements[at[1] : max(at[1], found or 0)]}
                if found is not None and told <= set(table("things")["being"]):
                    return which  # behind the state stands its verb at most
        return None

    def apart(self, at: _Span) -> tuple[str, ...]:
        """Give the doubts of a clause that names a kind of aircraft, or another day."""
        told = (("aircraft", OTHER_AIRCRAFT), ("days", OTHER_DAY))
        clause = self._clauses(at)
        made = [doubt for which, doubt in told if things_in(self.elements, *clause, which)]
        if OTHER_DAY not in made and self._back_then(at):
            made.append(OTHER_DAY)
        return tuple(made)

    def _back_then(self, at: _Span) -> bool:
        """Say whether *then* stands right before something, of a day named in a sentence before."""
        start = self._sentence(at[0])[0]
        if at[0] - 1 <= start or self.elements[at[0] - 1].norm != "then":
            return False  # *then* at the head of a sentence tells what came next
        return bool(things_in(self.elements, 0, start, "days"))

    def _tells_deed(self, at: _Span, entry: Field) -> bool:
        """Say whether a sentence tells a deed and denies none: *some of it stays on the magnet*."""
        deeds, none = table("things")["deeds"].get(entry.name, ()), table("things")["none"]
        norms = {element.norm for element in self.elements[slice(*self._sentence(at[0]))]}
        return bool(norms & set(deeds)) and not norms & set(none)

    def _names(self, a: int, b: int, entry: Field, things: Sequence[_Span]) -> bool:
        """Say whether some elements name a field, and not a thing's own part: *fuel cap*."""
        return any(
            cue.kind in ("names", "subjects")
            and not any(x < cue.end and _joined(self.elements, y, cue.start) for x, y in things)
            for cue in cues_in(self.elements, a, b, self.catalogue, (entry.name,))
        )

    def _sentence(self, element: int) -> _Span:
        return self.bounds[bisect_right(self.bounds, element, key=lambda one: one[0]) - 1]

    def _clauses(self, at: _Span) -> _Span:
        """Give the bounds of the clauses that some elements stand in."""
        a, b = self._sentence(at[0])
        starts = clause_starts(self.elements, a, b)
        return (
            max(x for x in starts if x <= at[0]),
            min((x for x in starts if x >= at[1]), default=max(b, at[1])),
        )


def held(elements: Sequence[Element], catalogue: Catalogue, named: Collection[str]) -> Held:
    """Make a note ready to hold its states to; `named` are the fields that its words name."""
    return Held(
        elements, catalogue, named, sentences(elements), frozenset(s.norm for s in elements)
    )


def elements_of(elements: Sequence[Element], span: _Span) -> _Span:
    """Give the first element of some parts, and the one behind their last."""
    first = bisect_right(elements, span[0], key=lambda element: element.start) - 1
    last = bisect_right(elements, max(span[0], span[1] - 1), key=lambda element: element.start) - 1
    return first, last + 1


def _before(elements: Sequence[Element], a: int, at: int, which: str) -> int | None:
    """Give where words of a list stand before element `at`, with nothing that tells between."""
    words = table("things")
    rows = [tuple(row.split()) for row in words[which]]
    while at > a:
        for row in rows:
            if tuple(element.norm for element in elements[max(a, at - len(row)) : at]) == row:
                return at - len(row)
        at -= 1
        if elements[at].norm not in words["between"]:
            return None
    return None


@cache
def _rows(which: str) -> tuple[tuple[str, ...], ...]:
    """Give the words of every thing of a list, the longest first."""
    rows = {tuple(row.split()) for row in table("things")[which]}
    return tuple(sorted(rows, key=lambda row: (-len(row), row)))


def things_in(elements: Sequence[Element], a: int, b: int, which: str) -> list[_Span]:
    """Give where things stand that no field is of: (the first element, the one behind the last)."""
    made, at = [], a
    while at < b:
        norms = tuple(element.norm for element in elements[at : min(b, at + 4)])
        size = next((len(row) for row in _rows(which) if norms[: len(row)] == row), 0)
        if size:
            made.append((at, at + size))
        at += size or 1
    return made


def _joined(elements: Sequence[Element], last: int, start: int) -> bool:
    """Say whether a name from `start` on is that of a part of the thing that ends before `last`."""
    if start < last:
        return True
    between = elements[last:start]
    return (
        len(between) <= 1
        and not any(element.after for element in elements[last - 1 : start])
        and not _is_behind(between)
    )


def _is_behind(elements: Sequence[Element]) -> bool:
    """Say whether what follows these elements is only where something is or was done."""
    return any(element.norm in table("things")["behind"] for element in elements)


def _is_called(norms: Collection[str], entry: Field) -> bool:
    return any(word in norms for word in table("things")["called"].get(entry.name, ()))
