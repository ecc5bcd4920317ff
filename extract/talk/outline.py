"""A sentence reduced to what matters: words, and one symbol for each number, date, grade or code.

Cues are rows of words (see data/fields/oil_and_filter.toml) matched by spaCy over this outline, so
that *put in seven and a quarter quarts* and *put in six quarts* are one pattern, `put in #`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from extract.exact.digits import Number
from extract.exact.quantities import Quantity, find_quantities
from extract.exact.spelled import Spelled, find_spelled
from extract.words.lists import DIGITS, table
from extract.words.parts import STRONG, Part

NUMBER, RANGE, OVER, DATE, GRADE, CODE, PLACE = (
    "#",
    "#range",
    "#over",
    "#date",
    "#grade",
    "#code",
    "@",
)
VALUES = (NUMBER, RANGE, OVER, DATE, GRADE, CODE)
_SYMBOLS = {"date": DATE, "grade": GRADE, "code": CODE}
_PLACED = ("cylinder", "cyl", "number", "jug", "pot")
_NOT_PLACED = (
    "part", "serial", "filter", "lot", "tail", "phone", "registration", "job", "order", "batch",
    "work", "room", "stock", "bin", "model", "form", "n",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Slot:
    """One symbol or word of the outline, and the parts from `start` up to `end` that it stands for.

    `what` is the Quantity or Spelled behind a symbol, or the figure of a place.
    """

    norm: str
    start: int
    end: int
    after: str = ""
    what: Quantity | Spelled | int | None = None


@dataclass(frozen=True, slots=True)
class Cue:
    """A cue found: whose it is (`owner`, `kind`), the slots from `start` up to `end`, its words.

    `slot` is the slot of its `#`, `place` that of its `@`, or None.
    """

    owner: str
    kind: str
    start: int
    end: int
    literals: int
    slot: int | None = None
    place: int | None = None


def outline(parts: Sequence[Part]) -> tuple[Slot, ...]:
    """Reduce parts to slots."""
    things: list[Slot] = []
    for start, figure in _places(parts):
        things.append(Slot(PLACE, start, start + 2, what=figure))
    taken = {i for thing in things for i in range(thing.start, thing.end)}
    for spelled in find_spelled(parts):
        if not taken & set(range(spelled.start, spelled.end)):
            things.append(Slot(_SYMBOLS[spelled.kind], spelled.start, spelled.end, what=spelled))
    taken = {i for thing in things for i in range(thing.start, thing.end)}
    hidden = [
        Part(p.text, "\x00", p.word, p.after) if i in taken else p for i, p in enumerate(parts)
    ]
    for quantity in find_quantities(hidden):
        symbol = RANGE if quantity.top else OVER if quantity.number.over else NUMBER
        things.append(Slot(symbol, quantity.start, quantity.end, what=quantity))
    return tuple(_fill(parts, sorted(things, key=lambda thing: thing.start)))


def _fill(parts: Sequence[Part], things: list[Slot]) -> Iterable[Slot]:
    at = 0
    for thing in [*things, None]:
        stop = thing.start if thing else len(parts)
        for i in range(at, stop):
            yield Slot(parts[i].norm, i, i + 1, parts[i].after)
        if thing:
            yield Slot(thing.norm, thing.start, thing.end, parts[thing.end - 1].after, thing.what)
            at = thing.end


def _places(parts: Sequence[Part]) -> Iterable[tuple[int, int]]:
    """Find *cylinder three*, *number two*: a place, unless more single figures make it a code."""
    for i, part in enumerate(parts[:-1]):
        if part.norm not in _PLACED or part.after:
            continue
        if i and parts[i - 1].norm in _NOT_PLACED:
            continue
        figure = DIGITS.get(parts[i + 1].norm, parts[i + 1].norm)
        if not (figure.isdecimal() and len(figure) == 1 and "1" <= figure <= "6"):
            continue
        ahead = [p.norm for p in parts[i + 2 : i + 6]]
        single = [n for n in ahead[:2] if n in DIGITS]
        if not parts[i + 1].after and (ahead[:1] in (["hundred"], ["point"], ["thousand"])):
            continue
        if len(single) == 2 and not parts[i + 1].after and "over" not in ahead:
            continue
        yield i, int(figure)


LONGEST = 120
"""The most slots of one sentence. People take breath sooner; common practice, no source."""
_BREATHS = ("and", "then", "so", "but", "now", "okay")


def sentences(slots: Sequence[Slot]) -> tuple[tuple[int, int], ...]:
    """Cut the outline where sentences end: (first slot, slot behind the last).

    Talk in which no end was heard is cut where a clause begins, at the latest after `LONGEST`
    slots: what is said of a number stands near it, and the work grows with the words.
    """
    made, start = [], 0
    for i, slot in enumerate(slots):
        if any(mark in STRONG for mark in slot.after) or i == len(slots) - 1:
            made.append((start, i + 1))
            start = i + 1
        elif i + 1 - start == LONGEST:
            cut = _breath(slots, start + LONGEST // 2, i + 1)
            made.append((start, cut))
            start = cut
    return tuple(made)


def _breath(slots: Sequence[Slot], start: int, end: int) -> int:
    """Give the last slot between two at which a clause begins; the second where none does."""
    for i in range(end, start, -1):
        if slots[i - 1].after or (i < len(slots) and slots[i].norm in _BREATHS):
            return i
    return end


def clause_starts(slots: Sequence[Slot], start: int, end: int) -> tuple[int, ...]:
    """Give the slots at which a clause of a sentence begins."""
    found = [start]
    for i in range(start + 1, end):
        before = slots[i - 1]
        if (
            before.after
            or (slots[i].norm in ("but", "so", "because", "although", "which", "then"))
            or before.norm in ("and", "but", "so", "then", "because")
            or (slots[i].norm in _SUBJECTS and _main_clause(slots, start, i))
        ):
            found.append(i)
    return tuple(found)


_SUBJECTS = ("i", "we", "it", "they", "he", "she")
_OPENERS = ("since", "as", "because", "when", "after", "although", "once", "before", "while")


def _main_clause(slots: Sequence[Slot], start: int, i: int) -> bool:
    """*Since they had opened up I closed them*: the main clause begins without a pause."""
    if slots[start].norm not in _OPENERS or i < start + 3:
        return False
    if not any(s.norm in _SUBJECTS for s in slots[start + 1 : i]):
        return False
    return not any(s.after for s in slots[start:i]) and slots[i - 1].norm not in (
        *_OPENERS, "and", "or", "that", "what", "which", "if", "than", "of", "for", "to", "with",
        "on", "by", "from", "in", "at", "where", "how", "until",
    )  # fmt: skip


_JOINS = (
    "and",
    "but",
    "so",
    "then",
    "plus",
    "of",
    "with",
    "now",
    "already",
    "because",
    "since",
    "as",
    "when",
    "until",
)


class Matcher:
    """Finds cues in an outline. `table` maps (owner, kind) to rows of words."""

    def __init__(self, table: Mapping[tuple[str, str], Iterable[str]]) -> None:
        from spacy.matcher import Matcher as SpacyMatcher
        from spacy.vocab import Vocab

        self.vocab = Vocab()
        # the patterns are made below, so that checking each against a schema would only cost time
        self._matcher: Any = SpacyMatcher(self.vocab, validate=False)
        self._keys: dict[str, tuple[str, str, int, bool, bool]] = {}
        for (owner, kind), rows in table.items():
            for n, row in enumerate(rows):
                key = f"{owner}\x1f{kind}\x1f{n}"
                start = row.startswith("^ ")
                end = row.endswith(" $")
                tokens = row.removeprefix("^ ").removesuffix(" $").split()
                literals = sum(t not in ("#", "@", "..", "...") and t[-1] != "?" for t in tokens)
                self._keys[key] = (owner, kind, literals, start, end)
                self._matcher.add(key, [[_token(token) for token in tokens]])

    def find(self, slots: Sequence[Slot], start: int, end: int) -> tuple[Cue, ...]:
        """Find every cue among the slots of one sentence."""
        from spacy.tokens import Doc

        words = [slot.norm or " " for slot in slots[start:end]]
        if not words:
            return ()
        doc = Doc(self.vocab, words=words)
        begins = set(clause_starts(slots, start, end))
        made = set()
        for key, a, b in self._matcher(doc):
            owner, kind, literals, at_start, at_end = self._keys[self.vocab.strings[key]]
            a, b = a + start, b + start
            if at_start and a not in begins:
                continue
            if at_end and not (b >= end or slots[b - 1].after or slots[b].norm in _JOINS):
                continue
            slot = next((i for i in range(a, b) if slots[i].norm in (NUMBER, OVER)), None)
            place = next((i for i in range(a, b) if slots[i].norm == PLACE), None)
            made.add(Cue(owner, kind, a, b, literals, slot, place))
        return tuple(sorted(made, key=lambda c: (c.start, c.end, c.owner, c.kind, c.literals)))


def _class(word: str) -> Sequence[str]:
    """Give the words of a class such as `<vessel>` (data/classes.toml), or the word itself."""
    if word.startswith("<") and word.endswith(">"):
        words: Sequence[str] = table("classes")[word[1:-1]]
        return words
    return (word,)


@cache
def _token(row: str) -> dict[str, Any]:
    if row == "..":
        return {"ORTH": {"NOT_IN": [NUMBER]}, "OP": "{0,3}"}
    if row == "...":
        return {"ORTH": {"NOT_IN": [NUMBER]}, "OP": "{0,7}"}
    op = "?" if row.endswith("?") else "1"
    if row.startswith("!"):
        return {"ORTH": {"NOT_IN": [w for word in row[1:].split("|") for w in _class(word)]}}
    words = [w for word in row.rstrip("?").split("|") for w in _class(word)]
    if words == [NUMBER]:
        words = [NUMBER, OVER]
    words = [re.sub(r":$", "", word) for word in words]
    meant = words[0] if len(words) == 1 else {"IN": words}  # a plain word is quicker to add
    return {"ORTH": meant, "OP": op} if op == "?" else {"ORTH": meant}


def number_of(slot: Slot) -> Number | None:
    """Give the number behind a slot, if there is one."""
    return slot.what.number if isinstance(slot.what, Quantity) else None
