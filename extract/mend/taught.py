"""What an owner may teach: a word that recognition makes of another, and never a value.

The profile holds the pairs (`[heard]`); `extract.mend.rescue` reads them back. Figures, months,
letters, negations and the values that a field can have stand on neither side, so that no number,
part number or date can come out of what was taught, and no statement be turned round.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from functools import cache

from extract.values.catalogue import load
from extract.words.lists import (
    DIGITS,
    FILLERS,
    FRACTIONS,
    HOMOPHONES,
    MONTHS,
    ORDINALS,
    POINTS,
    TEENS,
    TENS,
    table,
)

Pair = tuple[str, str]
LONGEST = 4  # words on either side
_WORDS = re.compile(r"[a-z]+(?:'[a-z]+)?(?: [a-z]+(?:'[a-z]+)?)*")
_CUES = ("names", "subjects", "done", "undone")


def tidy(text: str) -> str:
    """Give words as they are compared: lower case, single spaces, hyphens as spaces."""
    return " ".join(text.lower().replace("’", "'").replace("-", " ").split())


def hindrance(heard: str, meant: str, own: Iterable[str] = ()) -> str:
    """Say in a few words why a pair cannot be taught; nothing if it can.

    `own` are the owner's words, which count as words of the trade.
    """
    heard, meant = tidy(heard), tidy(meant)
    for side in (heard, meant):
        words = side.split()
        if not _WORDS.fullmatch(side):
            return f"{side!r} is not made of words alone: a value is never learned"
        if len(words) > LONGEST or len(side) < 3:
            return f"{side!r} is too {'long' if len(words) > LONGEST else 'short'} to be told apart"
        if wrong := next((w for w in words if w in _values()), ""):
            return f"{wrong!r} is, or may be, part of a value: a value is never learned"
        if wrong := next((w for w in words if w in _never()), ""):
            return f"{wrong!r} decides what a sentence states, or is a day: it is never learned"
        if all(w in _common() for w in words):
            return f"{side!r} is said of anything"
    if heard == meant:
        return "both sides are the same"
    mine = {word for text in own for word in tidy(text).split()}
    known = trade() | mine
    if strange := next((w for w in meant.split() if w not in known | _common()), ""):
        return f"{strange!r} is no word that the trade's data or your `words` know"
    if all(w in known | _common() for w in heard.split()):
        return f"{heard!r} is itself a word of the trade"
    return ""


@cache
def trade() -> frozenset[str]:
    """Give the words that the trade's data know: of units, of cues, and those read back."""
    rows: list[str] = [rule["meant"] for rule in table("sounds")["sound"]]
    rows += [said for unit in table("units").values() for said in unit["says"]]
    for field in load().fields.values():
        rows += [row for kind in _CUES for row in field.cues.get(kind, ())]
        rows += [row for choice in field.says.values() for row in choice]
    return frozenset(_plain(rows))


def _plain(rows: Iterable[str]) -> Iterator[str]:
    """Give the words of rows of cues, without what is no word; `!a|b` names what is not said."""
    for row in rows:
        for item in row.split():
            if not item.startswith("!"):
                yield from (w for w in item.rstrip("?:").split("|") if w.isalpha())


@cache
def _values() -> frozenset[str]:
    spoken: set[str] = set()
    for words in (DIGITS, TEENS, TENS, HOMOPHONES, ORDINALS, FRACTIONS, POINTS, MONTHS):
        spoken |= set(words)
    spelled = table("spelled")
    letters = {*spelled["letters"], *spelled["sounds"], *"abcdefghijklmnopqrstuvwxyz"} - {"i", "a"}
    alone = [row for f in load().fields.values() for rows in f.says.values() for row in rows]
    return frozenset(spoken | letters | set(_plain(row for row in alone if " " not in row)))


@cache
def _never() -> frozenset[str]:
    return frozenset(table("taught")["never"]) | FILLERS


@cache
def _common() -> frozenset[str]:
    return frozenset(table("taught")["common"])


@cache
def company(meant: str) -> frozenset[str]:
    """Give the words beside which a taught word is expected, other than numbers.

    They are those that the table of sounds names for the same word, and the words it reads back.
    """
    mine = set(meant.split()) - _common()
    rules = table("sounds")["sound"]
    near = {w for r in rules if mine & set(r["meant"].split()) for w in r.get("near", ())}
    beside = {w for r in rules for w in r["meant"].split()}
    return frozenset((near | beside) - _common() - _never() - mine)


def alike(heard: str, meant: str) -> bool:
    """Tell whether two words sound enough alike to be one word heard twice.

    Jaro-Winkler over metaphone codes (jellyfish); the threshold is our choice, no source.
    """
    import jellyfish

    one, other = jellyfish.metaphone(heard), jellyfish.metaphone(meant)
    return bool(one and other and jellyfish.jaro_winkler_similarity(one, other) >= 0.75)


def pairs_of(taught: Sequence[Pair]) -> dict[tuple[str, ...], tuple[str, ...]]:
    """Give what was taught as rows of words."""
    return {tuple(heard.split()): tuple(meant.split()) for heard, meant in taught}
