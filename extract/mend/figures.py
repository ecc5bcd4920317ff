"""Figures spoken one by one, as recognition writes them, read back where figures stand around them.

*niner* comes out as *liner* or *nine or*, *double two* as *W two*, *oh* between figures as *over*.
The table is data (`figure` in sounds.toml). It holds for heard words alone, and only inside a
number that has a point: a meter's reading, mostly. A part that was read back is marked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

from extract.exact.terms import hard
from extract.words.lists import POINTS, table
from extract.words.parts import Part

# A meter of this trade has four figures before its point, or five.
_DRUMS = 4


@cache
def _rules() -> tuple[tuple[tuple[str, ...], str, frozenset[str]], ...]:
    """Give (heard words, what was meant, conditions), the longest first."""
    made = [
        (tuple(heard.split()), rule["meant"], frozenset(rule["if"].split()))
        for rule in table("sounds")["figure"]
        for heard in rule["heard"]
    ]
    return tuple(sorted(made, key=lambda rule: -len(rule[0])))


def mend_figures(parts: Sequence[Part]) -> tuple[Part, ...]:
    """Read back what stands for a figure between figures."""
    made: list[Part] = []
    at = 0
    while at < len(parts):
        found = _match(parts, made, at)
        if found is None:
            made.append(parts[at])
            at += 1
            continue
        words, length = found
        last = parts[at + length - 1]
        for n, word in enumerate(words):
            after = last.after if n == len(words) - 1 else ""
            made.append(replace(parts[at], norm=word, after=after, rescued=True))
        if not words and made and last.after:
            made[-1] = replace(made[-1], after=made[-1].after + last.after)
        at += length
    return tuple(made)


def _match(
    parts: Sequence[Part], made: Sequence[Part], at: int
) -> tuple[tuple[str, ...], int] | None:
    for heard, meant, conditions in _rules():
        length = len(heard)
        if tuple(part.norm for part in parts[at : at + length]) != heard:
            continue
        if any(part.after for part in parts[at : at + length - 1]):
            continue
        ahead = parts[at + length :] if not parts[at + length - 1].after else ()
        if all(_holds(name, made, ahead) for name in conditions):
            return tuple(meant.split()), length
    return None


def _holds(name: str, before: Sequence[Part], ahead: Sequence[Part]) -> bool:
    if name == "behind":  # a figure or *point* right before
        return bool(before) and _is_figure(before[-1]) and not before[-1].after
    if name == "ending":  # nothing more of the number
        return not ahead or not (_is_figure(ahead[0]) or ahead[0].norm in ("so", "more", "less"))
    if name == "dialled":  # single figures right behind, and a point after them
        return _dialled(ahead) > 0
    if name == "pointed":  # *point* right behind, or a single figure and *point*
        return _dialled(ahead) == 1 or (bool(ahead) and ahead[0].norm in POINTS)
    if name == "paired":
        return _dialled(ahead) == 1 and _single(before) == 0
    # full: with what stands before and behind it, the meter has all its figures
    return _single(before) > 1 and _single(before) + 1 + _dialled(ahead) == _DRUMS


def _is_figure(part: Part) -> bool:
    term = hard(part.norm)
    return part.norm in POINTS or (term is not None and term[0] in "DTY")


def _dialled(ahead: Sequence[Part]) -> int:
    """Count the single figures up to a point, 0 where there is none."""
    for n, part in enumerate(ahead):
        if part.norm in POINTS:
            return n
        if (hard(part.norm) or "X")[0] != "D" or (part.after and n > 5):
            return 0
    return 0


def _single(before: Sequence[Part]) -> int:
    """Count the single figures right before; the *seven* of *twenty-seven* is none."""
    count = 0
    for part in reversed(before):
        kind = (hard(part.norm) or "X")[0]
        if kind != "D" or part.after:
            return count - (kind == "Y" and count > 0)
        count += 1
    return count
