"""Fields read by their cues alone: what the trained reader never met, such as a mechanic's own.

A cue is a row of words of the catalogue (data/fields/*.toml says how it is written), matched over
the outline of a sentence. A value goes to the nearest cue whose field it can be of; a state is told
by whole phrases, or by a subject and what was done to it. All of it is doubted by whoever asks.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cache

from extract.exact.fitted import FOREIGN, Fitted, fitted
from extract.talk.assertions import NEGATION, kinds_over
from extract.talk.outline import VALUES, Element, clause_starts, sentences
from extract.talk.statements import Statement
from extract.values.catalogue import Catalogue, Field
from extract.values.draft import Alternative, Position, Value
from extract.words.lists import table

_REACH = 9  # elements between a cue and what it is of
_NAMED, _FRAMED, _STATED = 2.0, 3.0, 2.5
_IS_SUBJECT = ("names", "subjects")
_PIECES = {
    "#": r"#(?:over)? ",
    "..": r"(?:(?!# )\S+ ){0,3}?",
    "...": r"(?:(?!# )\S+ ){0,7}?",
}


@dataclass(frozen=True, slots=True)
class Cue:
    """A cue in the elements from `start` up to `end`: its field, its kind, its row of words."""

    owner: str
    kind: str
    row: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class ByCue:
    """A statement, and the cue that made it."""

    statement: Statement
    cue: Cue
    others: tuple[Cue, ...] = field(default=())


def read_by_cues(
    elements: Sequence[Element], catalogue: Catalogue, names: Collection[str], year: int | None
) -> tuple[ByCue, ...]:
    """Read the named fields by their cues; `year` is that of the memo, or None."""
    made: list[ByCue] = []
    wanted = [catalogue.fields[name] for name in catalogue.fields if name in names]
    for a, b in sentences(elements):
        found = cues_in(elements, a, b, catalogue, tuple(f.name for f in wanted))
        barred = {c.owner for c in found if c.kind == "unless"}
        cues = [c for c in found if c.owner not in barred]
        made += _values(elements, (a, b), cues, catalogue, year)
        for entry in wanted:
            mine = [c for c in cues if c.owner == entry.name]
            if entry.kind in ("truth", "choice") and mine:
                made += _states(elements, (a, b), mine, entry)
    return tuple(made)


def cues_in(
    elements: Sequence[Element], a: int, b: int, catalogue: Catalogue, names: tuple[str, ...]
) -> list[Cue]:
    """Find every cue of the named fields in the elements of one sentence."""
    text, starts = "", []
    for element in elements[a:b]:
        starts.append(len(text))
        text += f"{element.norm or '?'} "
    at = {place: a + k for k, place in enumerate([*starts, len(text)])}
    begins = set(clause_starts(elements, a, b))
    made = []
    for owner, kind, row, pattern in _patterns(catalogue, names):
        for found in pattern.finditer(text):
            cue = Cue(owner, kind, row, at[found.start()], at[found.end()])
            opens = not row.startswith("^ ") or cue.start in begins
            closes = not row.endswith(" $") or cue.end >= b or bool(elements[cue.end - 1].after)
            if opens and closes:
                made.append(cue)
    return made


@cache
def _patterns(
    catalogue: Catalogue, names: tuple[str, ...]
) -> tuple[tuple[str, str, str, re.Pattern[str]], ...]:
    made = []
    for name in names:
        entry = catalogue.fields[name]
        rows = [(kind, row) for kind, rows in entry.cues.items() for row in rows]
        rows += [(f"says:{choice}", row) for choice, rows in entry.says.items() for row in rows]
        rows += [(f"place:{place}", row) for place, rows in entry.places.items() for row in rows]
        made += [(name, kind, row, _pattern(row)) for kind, row in rows]
    return tuple(made)


@cache
def _pattern(row: str) -> re.Pattern[str]:
    """Give the pattern of a row of words over elements, each with a space behind it."""
    words = row.removeprefix("^ ").removesuffix(" $").split()
    return re.compile("(?<![^ ])" + "".join(map(_piece, words)))


def _piece(word: str) -> str:
    if word in _PIECES:
        return _PIECES[word]
    said = "|".join(re.escape(w) for one in word.strip("!?").split("|") for w in _class(one))
    if word.startswith("!"):
        return rf"(?!(?:{said}) )\S+ "
    return f"(?:(?:{said}) ){'?' if word.endswith('?') else ''}"


def _class(word: str) -> Sequence[str]:
    """Give the words of a class such as `<vessel>` (data/classes.toml), or the word itself."""
    if word.startswith("<") and word.endswith(">"):
        words: Sequence[str] = table("classes")[word[1:-1]]
        return words
    return (word,)


# values


def _values(
    elements: Sequence[Element],
    bounds: tuple[int, int],
    cues: Sequence[Cue],
    catalogue: Catalogue,
    year: int | None,
) -> Iterator[ByCue]:
    """Give each value of a sentence to the nearest cue whose field it can be of."""
    used: set[Cue] = set()
    for i in range(*bounds):
        what = elements[i].what
        if what is None or elements[i].norm not in VALUES or kinds_over(elements, *bounds, i):
            continue
        near = []
        for cue in cues:
            entry = catalogue.fields[cue.owner]
            reach = _reach(elements, cue, i)
            if cue.kind in (*_IS_SUBJECT, "frames") and cue not in used and reach is not None:
                fits = [fit for fit in fitted(what, entry, year) if _can_be(fit, entry)]
                near += [(reach, cue, fits)] if fits else []
        if near:
            _, cue, fits = min(near, key=lambda one: one[0])
            used.add(cue)
            place = _place(cues, cue.owner, bounds, i)
            yield _valued(elements, catalogue.fields[cue.owner], i, cue, fits, place)


def _reach(elements: Sequence[Element], cue: Cue, i: int) -> int | None:
    """Give how far a value stands from a cue, None if another value is between or it is too far."""
    if cue.start <= i < cue.end:
        return 0
    between = range(cue.end, i) if cue.end <= i else range(i + 1, cue.start)
    if len(between) > _REACH or any(elements[k].norm in VALUES for k in between):
        return None
    return len(between) + (1 if cue.end <= i else 3)


def _can_be(fit: Fitted, entry: Field) -> bool:
    unit = fit.reading.unit
    if entry.kind != "number" or unit is None:
        return True
    return entry.plausible(fit.value) and not fit.supposed.endswith(FOREIGN)  # type: ignore[arg-type]


def _place(cues: Sequence[Cue], name: str, bounds: tuple[int, int], i: int) -> Position:
    said = [c for c in cues if c.owner == name and c.kind.startswith("place:")]
    if not said:
        return None
    nearest = min(said, key=lambda c: i - c.start if c.start <= i else 100 + c.start - i)
    place = nearest.kind.removeprefix("place:")
    return int(place) if place.isdigit() else place


def _valued(
    elements: Sequence[Element],
    entry: Field,
    i: int,
    cue: Cue,
    fits: Sequence[Fitted],
    place: Position,
) -> ByCue:
    fit = fits[0]
    shown = entry.kind_object.show(fit.value, entry.unit)
    doubts = (f"{fit.supposed}: read as {shown}",) if fit.supposed else ()
    others = tuple(
        Alternative(other.value, 0.3, "the words can be read so as well") for other in fits[1:]
    )
    score = _FRAMED if cue.kind == "frames" else _NAMED
    first, last = min(cue.start, i), max(cue.end - 1, i)
    made = Statement(
        entry.name, fit.value, entry.unit, place, i, first, last, score, doubts, others
    )
    return ByCue(made, cue)


# states


def _states(
    elements: Sequence[Element], bounds: tuple[int, int], cues: Sequence[Cue], entry: Field
) -> Iterator[ByCue]:
    """Give the state that a sentence tells: by a whole phrase, or a subject and what was done."""
    told = [*_phrases(cues, entry), *_done(cues)]
    told = [one for one in told if not _inside(one[0], told)]
    for cue, value, subject in told[-1:]:
        over = kinds_over(elements, *bounds, cue.end - 1)
        if over - {NEGATION}:
            continue
        denied = NEGATION in over and cue.kind != "no"
        if denied and (value is False or value == _good(entry)):
            continue
        if denied:
            value = False if entry.kind == "truth" else _good(entry)
        first = min(cue.start, subject.start)
        last = max(cue.end, subject.end) - 1
        made = Statement(
            entry.name, value, None, None, cue.start, first, last, _STATED, signs={"state": 1.0}
        )
        yield ByCue(made, cue)


def _good(entry: Field) -> Value:
    """Give what a denied fault leaves: the first of the choices."""
    return entry.choices[0] if entry.choices else False


def _phrases(cues: Sequence[Cue], entry: Field) -> Iterator[tuple[Cue, Value, Cue]]:
    named = not any(entry.cues.get(kind) for kind in _IS_SUBJECT)
    named = named or any(c.kind in _IS_SUBJECT for c in cues)
    for cue in cues:
        if cue.kind in ("yes", "no"):
            yield cue, cue.kind == "yes", cue
        elif cue.kind.startswith("says:") and named:
            yield cue, cue.kind.removeprefix("says:"), cue


def _done(cues: Sequence[Cue]) -> Iterator[tuple[Cue, Value, Cue]]:
    subjects = [c for c in cues if c.kind in _IS_SUBJECT]
    for cue in cues:
        if cue.kind not in ("done", "undone"):
            continue
        near = [s for s in subjects if min(abs(cue.start - s.end), abs(s.start - cue.end)) < _REACH]
        if near:
            yield cue, cue.kind == "done", min(near, key=lambda s: abs(cue.start - s.end))


def _inside(cue: Cue, told: Sequence[tuple[Cue, Value, Cue]]) -> bool:
    return any(
        o is not cue
        and o.start <= cue.start
        and cue.end <= o.end
        and o.end - o.start > cue.end - cue.start
        for o, _, _ in told
    )


def said_not_done(
    elements: Sequence[Element], catalogue: Catalogue, stated: Collection[str]
) -> Iterator[tuple[Cue, Field]]:
    """Give what was due and was said not to be done, of fields that no value is `stated` for.

    *I have not torqued the filter* is no torque. A question or a story of last time says nothing.
    """
    due = tuple(
        name
        for name, entry in catalogue.fields.items()
        if entry.kind not in ("truth", "choice") and "undone" in entry.cues and name not in stated
    )
    for a, b in sentences(elements):
        for cue in cues_in(elements, a, b, catalogue, due):
            over = kinds_over(elements, a, b, cue.start)
            if cue.kind == "undone" and not over & {"question", "history", "condition"}:
                yield cue, catalogue.fields[cue.owner]


def named(
    elements: Sequence[Element], catalogue: Catalogue, names: tuple[str, ...]
) -> frozenset[str]:
    """Give the fields that some words of a note name."""
    found: set[str] = set()
    for a, b in sentences(elements):
        found |= {
            c.owner for c in cues_in(elements, a, b, catalogue, names) if c.kind in _IS_SUBJECT
        }
    return frozenset(found)


def doubtful(one: Statement) -> Statement:
    """Give a statement as one that nothing but its cue speaks for."""
    made = replace(one, trail=("rules: alone",))
    return made.doubted("it is read by its words alone: no sentence with it was ever learnt from")
