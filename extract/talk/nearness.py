"""How near a cue stands to a value: words, pauses and other values between them."""

from __future__ import annotations

from collections.abc import Sequence

from extract.talk.outline import NUMBER, OVER, Cue
from extract.talk.statements import Page

_CONNECT = ("for", "on", "in", "of", "at", "is", "was")


def best_cue(
    page: Page, i: int, cues: Sequence[Cue], used: set[tuple[str, int]], before: float, after: float
) -> tuple[Cue | None, float]:
    """Give the cue that a number leans on most, and how much."""
    best: tuple[Cue | None, float] = (None, 0.0)
    for cue in cues:
        if _denied(page, cue):
            continue
        score = _pull(page, i, cue, before, after)
        if used and any((cue.owner, k) in used for k in range(cue.start, cue.end)):
            score -= 1.0
        if score > best[1]:
            best = (cue, score)
    return best


def other_pull(page: Page, i: int) -> float:
    """Weigh the nearest name of something that is no field against a number."""
    n = page.sentence(i)
    cues = [c for c in page.cues[n] if c.kind == "other"]
    return best_cue(page, i, cues, set(), 2.3, 1.8)[1] + (0.5 if cues else 0.0)


def near_enough(page: Page, cue: Cue, i: int) -> bool:
    """Say whether a cue that speaks against a field stands in the clause of the number."""
    if cue.end <= i:
        behind = range(cue.end, i)
        joined = any(
            page.slots[k - 1].after and page.slots[k].norm in ("and", "but") for k in behind
        )
        return not joined and not any(page.slots[k].norm in (NUMBER, OVER) for k in behind)
    between = page.slots[i : cue.start]
    return not any(
        s.after or s.norm in ("and", "but", "so") or (k and s.norm in (NUMBER, OVER))
        for k, s in enumerate(between)
    )


def covered(page: Page, cue: Cue, n: int) -> bool:
    """*tail wheel* is no *wheel*: a longer name of something else takes the words."""
    others = [o for o in page.cues[n] if o.kind == "other" and o.end - o.start > 1]
    if cue.kind in ("frames", "amounts"):  # "spare tire had #" is no "tire .. #"
        return any(o.start < cue.start < o.end for o in others)
    size = cue.end - cue.start
    return cue.kind == "names" and any(
        o.start <= cue.start and cue.end <= o.end and o.end - o.start > size for o in others
    )


def _denied(page: Page, cue: Cue) -> bool:
    """*not the tach*."""
    before = [s.norm for s in page.slots[max(0, cue.start - 2) : cue.start]]
    return before[-1:] == ["not"] or before == ["not", "the"]


def _pull(page: Page, i: int, cue: Cue, before: float, after: float) -> float:
    slots = page.slots
    if cue.end <= i:
        between = range(cue.end, i)
        score = before - 0.1 * len(between)
        commas = sum(bool(slots[k].after.strip(".?!;:")) for k in range(cue.end - 1, i))
        score -= 0.15 * commas
    elif cue.start > i:
        between = range(i + 1, cue.start)
        score = after - 0.15 * len(between)
        commas = sum(bool(slots[k].after) for k in range(i, cue.start))
        score -= 0.6 * commas
        if not commas and between and slots[i + 1].norm in _CONNECT:
            score += 0.6
    else:
        return before
    numbers = sum(slots[k].norm in (NUMBER, OVER) for k in between)
    breaks = sum(slots[k].norm in ("and", "but", "so") for k in between)
    return score - 1.0 * numbers - 0.1 * breaks + 0.05 * cue.literals
