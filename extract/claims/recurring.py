"""What recurs beside the oil, from speech: that it was done, and until when it is good.

*ELT battery replaced, good until June twenty twenty-nine.* The things are the positions of the
fields, the words around them data (data/recurring.toml). Strict on purpose: a thing, its cue and
its day or hours stand together, with nothing but listed words between, or nothing is read.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Any

from extract.claims.until import Until, coming, until
from extract.exact.reading import Candidate
from extract.talk.assertions import NEGATION, kinds_over
from extract.talk.outline import Element, sentences
from extract.talk.statements import Statement
from extract.values.catalogue import RECURRING, Catalogue
from extract.values.draft import Alternative, Position, Value
from extract.words.lists import table
from extract.words.parts import Part

DONE, DAY, HOURS = RECURRING
_BREATH = 6  # parts behind a day in which another one may correct it
_TWO_SAID = "two were said in one breath; listen which one holds"
_BOUND = 4.0  # thing, cue and value stand together, or nothing is read
_CARRIED = "its thing was named in the sentence before"
_NEVER = {"condition", "question", "limit", NEGATION}  # that it is due is a plan by its words


@dataclass(frozen=True, slots=True)
class Recurs:
    """A statement of what recurs: its first part, those from `start` up to `end` with its value."""

    statement: Statement
    first: int
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Thing:
    """A thing that recurs, named by the parts from `start` up to `end`."""

    position: Position
    start: int
    end: int
    words: tuple[str, ...]


def read_recurring(
    parts: Sequence[Part],
    elements: Sequence[Element],
    found: Sequence[Candidate],
    catalogue: Catalogue,
    year: int | None,
) -> tuple[Recurs, ...]:
    """Read what recurs; `found` are the candidates, `year` that of the memo.

    A date whose year was not said is of that year, and its sign `no_year` says so: see `dated`.
    """
    return tuple(_Reader(parts, elements, found, catalogue, year).read())


def dated(statements: Sequence[Statement], on: date | None) -> tuple[Statement, ...]:
    """Move a due date without a year to the first one that comes, seen from the memo's day."""
    return tuple(
        replace(s, value=coming(s.value, on))
        if on and "no_year" in s.signs and isinstance(s.value, date)
        else s
        for s in statements
    )


def alone(
    made: Sequence[Statement], own: Sequence[Recurs], elements: Sequence[Element]
) -> tuple[Statement, ...]:
    """Give the statements of others without those of the words that these are made of.

    A value in the words of a due date is no day of work and no tach time; a finding or
    a state wholly in the words of such a statement says the same once more.
    """

    def told(s: Statement) -> bool:
        start, end = elements[s.first].start, elements[s.last].end
        at = elements[s.element]
        for one in own:
            whole = one.first <= start and end <= one.end
            if "state" in s.signs and whole:
                return True
            if "state" not in s.signs and at.start < one.end and one.start < at.end:
                return True
        return False

    return tuple(s for s in made if not told(s))


@cache
def _phrases(catalogue: Catalogue, name: str) -> tuple[tuple[tuple[str, ...], Position], ...]:
    """Give the words of every thing of a field, the longest first."""
    field = catalogue.fields[name]
    rows = {
        (tuple(words.lower().split()), place)
        for place in field.positions
        for words in (*field.places.get(str(place), ()), str(place))
    }
    return tuple(sorted(rows, key=lambda row: (-len(row[0]), row[0])))


@cache
def _rows(*keys: str) -> tuple[tuple[str, ...], ...]:
    """Give the phrases of a list of the data as words, the longest first."""
    found: Any = table("recurring")
    for key in keys:
        found = found[key]
    return tuple(sorted((tuple(row.split()) for row in found), key=lambda r: (-len(r), r)))


@dataclass(frozen=True, slots=True)
class _Reader:
    parts: Sequence[Part]
    elements: Sequence[Element]
    found: Sequence[Candidate]
    catalogue: Catalogue
    year: int | None

    def read(self) -> Iterator[Recurs]:
        bounds = sentences(self.parts)
        for n, (a, b) in enumerate(bounds):
            for thing in self._things(DONE, a, b):
                yield from self._done(thing, a, b)
            named = self._things(DAY, a, b)
            before = self._things(DAY, *bounds[n - 1]) if n else []
            at = a
            while at < b:
                size = self._phrase(at, b, _rows("due"))
                if size:
                    yield from self._due(at, at + size, b, named, before)
                at += size or 1

    def _phrase(self, at: int, stop: int, rows: Sequence[tuple[str, ...]]) -> int:
        """Give how many parts the longest of some phrases takes here, 0 where none stands."""
        norms = [part.norm for part in self.parts[at : min(stop, at + 6)]]
        return next((len(row) for row in rows if tuple(norms[: len(row)]) == row), 0)

    def _things(self, name: str, a: int, b: int) -> list[Thing]:
        made: list[Thing] = []
        at = a
        while at < b:
            norms = tuple(part.norm for part in self.parts[at : min(b, at + 6)])
            rows = _phrases(self.catalogue, name)
            hit = next((row for row in rows if norms[: len(row[0])] == row[0]), None)
            if hit is None:
                at += 1
                continue
            if at == a or self.parts[at - 1].norm not in table("recurring")["other_before"]:
                made.append(Thing(hit[1], at, at + len(hit[0]), hit[0]))
            at += len(hit[0])
        return made

    def _element(self, part: int) -> int:
        return bisect_right(self.elements, part, key=lambda element: element.start) - 1

    def _told_as(self, part: int) -> frozenset[str]:
        """Give what the words around a part make of it: a plan, a question and the like."""
        at = self._element(part)
        a, b = next((a, b) for a, b in sentences(self.elements) if a <= at < b)
        return kinds_over(self.elements, a, b, at)

    # done

    def _done(self, thing: Thing, a: int, b: int) -> Iterator[Recurs]:
        words = table("recurring")
        if thing.position in words["told_elsewhere"]:
            return
        span = self._deed(thing, a, b)
        if span is None:
            return
        if self._told_as(span[1] - 1):
            return
        joined = span[1] < b and not self.parts[span[1] - 1].after
        if joined and self.parts[span[1]].norm in words["elsewhen"]:
            return
        yield self._made(DONE, True, None, thing.position, span, self._element(span[0]), ())

    def _deed(self, thing: Thing, a: int, b: int) -> tuple[int, int] | None:
        """Give the parts that say that a thing was done, the thing among them."""
        if (thing.words, thing.position) not in _phrases(self.catalogue, DAY):
            return thing.start, thing.end  # "greased the prop" is the deed itself
        rows = self._deeds(thing)
        at = thing.end
        while at < b and self.parts[at].norm in table("recurring")["links"]:
            at += 1
        if at < b and (size := self._phrase(at, b, rows)):
            return thing.start, at + size
        at = thing.start - 1
        while at >= a and self.parts[at].norm in table("recurring")["articles"]:
            at -= 1
        if at >= a and (self.parts[at].norm,) in rows:
            return at, thing.end
        return None

    def _deeds(self, thing: Thing) -> tuple[tuple[str, ...], ...]:
        ways = table("recurring")
        text = " ".join(thing.words)
        if any(text.endswith(end) for end in ways["inspections"]):
            return _rows("done", "inspection")
        return _rows("done", str(thing.position) if thing.position in ways["done"] else "any")

    # due

    def _due(
        self, at: int, end: int, stop: int, named: Sequence[Thing], before: Sequence[Thing]
    ) -> Iterator[Recurs]:
        if not self._holds(at):
            return
        value, thing = self._behind(end, stop, named)
        if value is None:
            return
        doubts: tuple[str, ...] = ()
        if thing is None:
            thing = self._ahead(at, named)
        if thing is None:
            thing, doubts = self._ahead(at, before), (_CARRIED,)
        if thing is None:
            return
        name = DAY if isinstance(value.value, date) else HOURS
        value = self._settled(value, stop, named)
        span = (value.start, value.end)
        for one in self._joined(thing, named if not doubts else before):
            first = self._element(min(at, one.start) if not doubts else at)
            yield self._made(name, value.value, value, one.position, span, first, doubts)

    def _joined(self, thing: Thing, named: Sequence[Thing]) -> Iterator[Thing]:
        """Give a thing and those joined to it: *annual and transponder check due in March*."""
        yield thing
        for one in reversed([t for t in named if t.end < thing.start]):
            if [part.norm for part in self.parts[one.end : thing.start]] not in (
                ["and"],
                ["and", "the"],
            ):
                return
            yield one
            thing = one

    def _settled(self, value: Until, stop: int, named: Sequence[Thing]) -> Until:
        """Set beside a day another that the same breath gives, and take it where it corrects.

        *In March, no, April* is April; *March or April* stays March; both say so.
        """
        field, words = self.catalogue.fields[HOURS], table("recurring")
        for at in range(value.end, min(stop, value.end + _BREATH)):
            if any(t.start == at for t in named) or self._phrase(at, stop, _rows("due")):
                break
            other = until(self.parts, at, stop, self.found, field, self.year, firm=True)
            if other is None:
                if self.parts[at].norm not in (*words["corrects"], *words["or"], *words["between"]):
                    break
                continue
            if not isinstance(other.value, type(value.value)):
                break
            said = [part.norm for part in self.parts[value.end : at]]
            back = any(w in words["corrects"] for w in said)
            kept, left = (other, value) if back else (value, other)
            beside = Alternative(left.value, 0.3, "said in the same breath")
            return replace(
                kept,
                start=value.start,
                end=other.end,
                doubts=(*kept.doubts, _TWO_SAID),
                alternatives=(*kept.alternatives, beside),
            )
        return value

    def _holds(self, at: int) -> bool:
        """Say whether a cue is told of now, and surely."""
        was = at > 0 and self.parts[at - 1].norm in table("recurring")["past"]
        return not (was or self._told_as(at) & _NEVER)

    def _behind(
        self, at: int, stop: int, named: Sequence[Thing]
    ) -> tuple[Until | None, Thing | None]:
        """Give the day or hours behind a cue, and the thing where it stands between."""
        thing = None
        field = self.catalogue.fields[HOURS]
        while at < stop:
            value = until(self.parts, at, stop, self.found, field, self.year)
            if value is not None:
                return value, thing
            inside = next((t for t in named if t.start == at), None)
            if inside is not None and thing is None:
                thing, at = inside, inside.end
            elif self.parts[at].norm in table("recurring")["between"] and not self.parts[at].after:
                at += 1
            else:
                break
        return None, None

    def _ahead(self, at: int, named: Sequence[Thing]) -> Thing | None:
        """Give the last thing named before a cue, with nothing else told between the two."""
        ahead = [t for t in named if t.end <= at]
        if not ahead:
            return None
        thing, k = ahead[-1], ahead[-1].end
        while k < at:
            dates = [c.end for c in self.found if c.start == k and "date" in c.kinds]
            size = self._phrase(k, at, (*self._deeds(thing), *_rows("passed")))
            step = max((e - k for e in dates if e <= at), default=size)
            if not step:
                return None
            k += step
        return thing

    def _made(
        self,
        name: str,
        value: Value,
        read: Until | None,
        position: Position,
        span: tuple[int, int],
        first: int,
        doubts: tuple[str, ...],
    ) -> Recurs:
        unit = self.catalogue.fields[name].unit if isinstance(value, Decimal) else None
        signs = {"chance": float(table("recurring")["chance"])}
        if read is None:
            signs["state"] = 1.0
        elif read.no_year:
            signs["no_year"] = 1.0
        element = self._element(span[1] - 1)
        made = Statement(
            name, value, unit, position, element, min(first, element), element, _BOUND,
            (*doubts, *(read.doubts if read else ())), read.alternatives if read else (), signs,
        )  # fmt: skip
        return Recurs(made, self.elements[made.first].start, *span)
