"""Signs that a statement may be misread, whatever its rules say: words left over, turned back.

Rules are written for what their writer has heard; other people speak otherwise. These signs need no
rule for what was said: they look at how much of the sentence was understood, and at what a second
reader, who knows no rule, takes the number for (extract.claims.likeness).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from extract.claims.likeness import NONE, chances, state_chances
from extract.exact.quantities import Quantity
from extract.talk.assertions import Judgement
from extract.talk.outline import NUMBER, OVER, RANGE
from extract.talk.statements import Page, Statement
from extract.values.draft import plain
from extract.words.lists import logistic, table

_WORDS = table("risk")
_TURNING = frozenset(_WORDS["turning"])
_TELLING = frozenset(_WORDS["telling"])
_PAST = frozenset(_WORDS["past"])
_OTHERS = frozenset(_WORDS["others"])
_TAKING_BACK = tuple(tuple(words.split()) for words in _WORDS["taking_back"])
_PLAIN = frozenset(_WORDS["plain"])
DROP = float(_WORDS["drop"])
_VALUES = (NUMBER, OVER, RANGE)


def signs(
    page: Page, judged: Judgement, one: Statement, stated: Sequence[Statement]
) -> dict[str, float]:
    """Give the signs of one statement among all that a page states, each from 0 to 1."""
    n = page.sentence(one.slot)
    a, b = page.bounds[n]
    words = [s.norm for s in page.slots[a:b]]
    after = page.bounds[n + 1] if n + 1 < len(page.bounds) else (b, b)
    # the *no* of "no metal" belongs to a statement of its own and takes nothing back
    own = {k for s in stated if s is not one for k in range(s.first, s.last + 1)}
    ahead = range(after[0], min(after[1], after[0] + 4))
    following = [page.slots[k].norm for k in ahead if k not in own]
    bound = {s.slot for s in stated}
    values = [k for k in range(a, b) if page.slots[k].norm in _VALUES]
    loose = [k for k in values if k not in bound]
    covered = _covered(page, n)
    left = [k for k in range(a, b) if k not in covered and page.slots[k].norm not in _PLAIN]
    quantity = page.slots[one.slot].what
    bare = isinstance(quantity, Quantity) and quantity.unit is None
    state = page.slots[one.slot].norm not in _VALUES
    likely = chances(page, one.slot)
    if one.name not in likely:  # a field that the second reader was never shown: it has no say
        likely = {}
    return {
        "left_over": min(1.0, len(left) / 10),
        "left_share": len(left) / max(1, b - a),
        "loose_number": float(bool(loose)),
        "several": float(len(values) > 1),
        "turning": float(bool(_TURNING & set(words))),
        "turning_next": float(bool(_TURNING & set(following))),
        "telling": float(bool(_TELLING & set(words))),
        "past": float(bool(_PAST & set(words))),
        "others": float(bool(_OTHERS & set(words))),
        "barred_near": float(any(judged.statuses(k) for k in range(a, b))),
        "bare": float(bare and not state),
        "state": float(state),
        "unnamed": float(not state and not one.signs.get("name") and "name" in one.signs),
        "unframed": float(not state and not one.signs.get("frame") and "frame" in one.signs),
        "spread": min(1.0, (one.last - one.first) / 15),
        "volume": float(one.unit in ("qt", "fl oz")),
        "false": float(one.value is False),
        "first_left": float(bool(left) and left[0] == a),
        "near_left": float(any(abs(k - one.slot) <= 2 for k in left)),
        "me": float(bool({"i", "we", "ive"} & set(words))),
        "weak": max(0.0, 1 - one.score / 3),
        "long": min(1.0, (b - a) / 30),
        "doubted": float(bool(one.doubts)),
        "unlike": _unlike(likely.get(one.name, 1.0)),
        "state_unlike": _unlike(_state_chance(page, one)) if state else 0.0,
        "like_none": likely.get(NONE, 0.0),
        "like_other": max(
            (c for name, c in likely.items() if name not in (NONE, one.name)), default=0.0
        ),
        "other_field": float(len({s.name for s in stated if a <= s.slot < b}) > 1),
    }


def _state_chance(page: Page, one: Statement) -> float:
    """Give how likely its sentence states it; 1 where it is no state that was fitted."""
    found = state_chances(page, page.sentence(one.slot))
    return found.get(f"{one.name} {plain(one.value)}", 1.0)


def _unlike(chance: float) -> float:
    """Give from 0 (certain) to 1 (one in a thousand or less) how little speaks for a field."""
    return min(1.0, -math.log10(max(chance, 1e-3)) / 3)


def weigh(signs_: dict[str, float]) -> float:
    """Give the probability that a statement with these signs is misread."""
    return logistic(signs_, _WORDS["weights"])


def of_draft(one: Statement) -> float:
    """Give the probability that the draft that a statement makes is misread."""
    risk = min(0.999, max(0.001, one.signs.get("risk", 0.0)))
    return logistic({"odds": math.log(risk / (1 - risk))}, _WORDS["draft"])


def is_risky(one: Statement) -> bool:
    """Say whether a statement is to be doubted for its sentence alone."""
    return of_draft(one) >= float(_WORDS["doubt"])


def is_unlikely(one: Statement) -> bool:
    """Say whether so much speaks against a statement that it is no draft."""
    return one.signs.get("risk", 0.0) >= DROP


def may_be_taken_back(page: Page, one: Statement, stated: Sequence[Statement]) -> bool:
    """Say whether the sentence behind states nothing and begins as if to take this one back."""
    n = page.sentence(one.slot)
    if n + 1 >= len(page.bounds):
        return False
    a, b = page.bounds[n + 1]
    if any(one.slot < s.slot < b for s in stated):
        return False
    words = tuple(slot.norm for slot in page.slots[a:b])
    if words[:1] == ("no",) and not page.slots[a].after:
        return False  # "no drama there"
    return any(words[: len(start)] == start for start in _TAKING_BACK)


def _covered(page: Page, n: int) -> set[int]:
    """Give the slots of a sentence that some cue or value explains."""
    a, b = page.bounds[n]
    made = {k for k in range(a, b) if page.slots[k].what is not None}
    for cue in page.cues[n]:
        if cue.kind != "topic" and cue.end - cue.start <= 6:
            made |= set(range(cue.start, cue.end))
    return made
