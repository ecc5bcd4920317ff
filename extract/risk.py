"""Signs that a statement may be misread, whatever its rules say: words left over, turned back.

Rules are written for what their writer has heard; other people speak otherwise. These signs need no
rule for what was said: they look at how much of the sentence was understood.
"""

from __future__ import annotations

from collections.abc import Sequence

from extract.assertions import Judgement
from extract.outline import NUMBER, OVER, RANGE
from extract.quantities import Quantity
from extract.statements import Page, Statement
from extract.words import logistic, table

_WORDS = table("risk")
_TURNING = frozenset(_WORDS["turning"])
_TELLING = frozenset(_WORDS["telling"])
_PAST = frozenset(_WORDS["past"])
_OTHERS = frozenset(_WORDS["others"])
_PLAIN = frozenset(_WORDS["plain"])
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
        "other_field": float(len({s.name for s in stated if a <= s.slot < b}) > 1),
    }


def weigh(signs_: dict[str, float]) -> float:
    """Give the probability that a statement with these signs is misread."""
    return logistic(signs_, _WORDS["weights"])


def is_risky(one: Statement) -> bool:
    """Say whether a statement is to be doubted for its sentence alone."""
    return one.signs.get("risk", 0.0) >= float(_WORDS["doubt"])


def _covered(page: Page, n: int) -> set[int]:
    """Give the slots of a sentence that some cue or value explains."""
    a, b = page.bounds[n]
    made = {k for k in range(a, b) if page.slots[k].what is not None}
    for cue in page.cues[n]:
        if cue.kind != "topic" and cue.end - cue.start <= 6:
            made |= set(range(cue.start, cue.end))
    return made
