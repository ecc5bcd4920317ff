"""The trade's words as recognition writes them, read back where the surroundings call for them.

The table is data (sounds.toml); a part that was read back is marked, which lowers the confidence.
What the owner taught (profile, `[heard]`) is read back beside a number or a word of the trade.
Typed words are never read back.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from extract.exact.counted import counted
from extract.exact.reading import Candidate
from extract.mend.figures import mend_figures
from extract.mend.taught import Pair, company, pairs_of
from extract.words.lists import table
from extract.words.parts import Part, parts_of

_REACH = 6
_A_METER = 100  # hours: no number below it is taken for a reading
# Words that may stand between *tach* and its reading, and between a reading and *the tach*.
_LINKS = frozenset(
    {"time", "is", "at", "reads", "read", "says", "shows", "showed", "now", "reading", "was"}
    | {"are", "has", "a", "the", "about", "of", "hours", "it", "to"}
)
_OF_IT = (("for", "the"), ("on", "the"), ("for", "my"), ("of", "the"), ("to", "the"))


@cache
def _rules() -> dict[tuple[str, ...], list[dict[str, Any]]]:
    rules: dict[tuple[str, ...], list[dict[str, Any]]] = {}
    for rule in table("sounds")["sound"]:
        for heard in rule["heard"]:
            words = tuple(heard.replace("-", " ").split())
            if words != tuple(rule["meant"].split()):
                rules.setdefault(words, []).append(rule)
    return rules


@cache
def _codes() -> list[tuple[frozenset[str], dict[str, Any]]]:
    return [(frozenset(r["sounds"]), r) for r in table("sounds")["sound"] if "sounds" in r]


@cache
def _whole() -> frozenset[tuple[str, ...]]:
    """Give the rows of words that rules mean, where they are more than one."""
    meant = (tuple(rule["meant"].split()) for rule in table("sounds")["sound"])
    return frozenset(words for words in meant if len(words) > 1)


@cache
def _longest() -> int:
    return max(map(len, _rules()))


@dataclass(frozen=True, slots=True)
class ReadBack:
    """Words that were read back: as heard and as meant, and the heard words from `first` on."""

    heard: str
    meant: str
    first: int
    last: int


def rescue(parts: Sequence[Part], taught: Sequence[Pair] = ()) -> tuple[Part, ...]:
    """Read back what only sounds like a word of the trade, where a rule or the owner allows it."""
    parts = mend_figures(parts)
    made: list[Part] = []
    for at, length, words, known in _walk(parts, taught):
        if words is None:
            made.append(parts[at])
            continue
        last = parts[at + length - 1]
        for n, word in enumerate(words):
            final = n == len(words) - 1
            source = parts[min(at + n, at + length - 1)]
            after = last.after if final else ""
            made.append(replace(source, norm=word, after=after, rescued=True, taught=known))
    return tuple(made)


def read_back(words: Sequence[str], taught: Sequence[Pair] = ()) -> tuple[ReadBack, ...]:
    """Tell which heard words are read back as words of the trade; figures are not among them."""
    parts = mend_figures(parts_of(words))
    return tuple(
        ReadBack(
            " ".join(part.norm for part in parts[at : at + length]),
            " ".join(meant),
            parts[at].word,
            parts[at + length - 1].word,
        )
        for at, length, meant, _ in _walk(parts, taught)
        if meant is not None
    )


def _walk(
    parts: Sequence[Part], taught: Sequence[Pair]
) -> Iterator[tuple[int, int, tuple[str, ...] | None, bool]]:
    """Give each part, or row of parts that is read back: its place, length, meaning, who says so.

    The last is true where the owner taught it and no rule of the table has it.
    """
    numbers, pairs, at = counted(parts), pairs_of(taught), 0
    while at < len(parts):
        ruled = _match(parts, at, numbers)
        words, length = ruled or _taught(parts, at, numbers, pairs) or (None, 1)
        yield at, length, words, ruled is None and words is not None
        at += length


def _taught(
    parts: Sequence[Part],
    at: int,
    numbers: Sequence[Candidate],
    pairs: dict[tuple[str, ...], tuple[str, ...]],
) -> tuple[tuple[str, ...], int] | None:
    """Match what the owner taught, beside a number or a word that goes with the one meant."""
    for length in range(min(max(map(len, pairs), default=0), len(parts) - at), 0, -1):
        end = at + length
        meant = pairs.get(tuple(part.norm for part in parts[at:end]))
        if meant is None or any(n.start < end and at < n.end for n in numbers):
            continue
        around = [*parts[max(0, at - _REACH) : at], *parts[end : end + _REACH]]
        counting = any(at - _REACH <= n.start <= end + _REACH for n in numbers)
        if counting or any(part.norm in company(" ".join(meant)) for part in around):
            return meant, length
    return None


def _match(
    parts: Sequence[Part], at: int, numbers: Sequence[Candidate]
) -> tuple[tuple[str, ...], int] | None:
    for length in range(min(_longest(), len(parts) - at), 0, -1):
        norms = tuple(part.norm for part in parts[at : at + length])
        if norms in _whole():  # "safety wired" was heard whole: *safety* alone stands for nothing
            return None
        for rule in _rules().get(norms, ()):
            if _allowed(rule, parts, at, length, numbers):
                return tuple(rule["meant"].split()), length
    if any(n.start <= at < n.end for n in numbers):
        return None
    code = _sound(parts[at].norm)
    for codes, rule in _codes():
        other = code in codes and parts[at].norm not in rule["meant"].split()
        if other and _allowed(rule, parts, at, 1, numbers):
            return tuple(rule["meant"].split()), 1
    return None


@cache
def _sound(norm: str) -> str:
    import jellyfish

    return jellyfish.metaphone(norm) if norm.isalpha() else ""


def _allowed(
    rule: dict[str, Any], parts: Sequence[Part], at: int, length: int, numbers: Sequence[Candidate]
) -> bool:
    return all(
        _condition(name, rule, parts, at, at + length, numbers) for name in rule["if"].split()
    )


def _condition(  # noqa: C901 - one branch a condition of the table
    name: str,
    rule: dict[str, Any],
    parts: Sequence[Part],
    a: int,
    b: int,
    numbers: Sequence[Candidate],
) -> bool:
    near = frozenset(rule.get("near", ()))
    if name == "always":
        return True
    if name == "hours":
        return _hours(parts, a, b, numbers)
    if name == "number":
        return any(b <= n.start <= b + 3 for n in numbers)
    if name == "counting":
        return any(a - _REACH <= n.start <= b + _REACH for n in numbers)
    if name == "to":
        return (
            b < len(parts)
            and parts[b].norm in ("to", "at")
            and any(n.start == b + 1 for n in numbers)
        )
    if name == "counted":
        return any(n.end == a for n in numbers) and not parts[a - 1].after.strip(",")
    if name == "torque":
        return _torque(parts, b, numbers)
    if name == "near":
        around = [*parts[max(0, a - _REACH) : a], *parts[b : b + _REACH]]
        return any(part.norm in near for part in around)
    if name == "behind":
        return a > 0 and parts[a - 1].norm in near and not parts[a - 1].after
    if name == "ahead":
        return b < len(parts) and parts[b].norm in near
    return any(n.end == a for n in numbers) and any(n.start == b for n in numbers)  # between


def _hours(parts: Sequence[Part], a: int, b: int, numbers: Sequence[Candidate]) -> bool:
    """A number with a point right behind, over words such as *is at*; or right before *for the*."""
    for number in numbers:
        first = number.readings[0]
        if "." not in first.digits or first.unit or float(first.digits) < _A_METER:
            continue
        between = parts[b : number.start]
        if 0 <= number.start - b <= 3 and all(p.norm in _LINKS for p in between):
            return True
        linking = tuple(p.norm for p in parts[number.end : a])
        if number.end <= a and linking in _OF_IT:
            return True
    return False


def _torque(parts: Sequence[Part], b: int, numbers: Sequence[Candidate]) -> bool:
    for number in numbers:
        if b <= number.start <= b + _REACH:
            unit = number.readings[0].unit
            if unit is not None and unit.dimension == "torque":
                return True
            if [p.norm for p in parts[number.end : number.end + 1]] in (["foot"], ["inch"]):
                return True
    return False
