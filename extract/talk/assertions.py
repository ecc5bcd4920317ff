"""What kind of statement words make: stated, limit, plan, question, negation, history, correction.

The cues and how far each reaches are data (assertions.toml).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache

from extract.talk.outline import NUMBER, OVER, RANGE, Cue, Matcher, Slot, clause_starts, sentences
from extract.words.lists import table

_CONDITIONS = ("if", "unless", "when", "once", "suppose", "in", "imagine", "whenever", "say")
STATUSES = ("plan", "limit", "history", "question")


@dataclass(frozen=True, slots=True)
class Reach:
    """A status over the slots from `start` up to `end`, and the cue that gave it."""

    status: str
    start: int
    end: int
    cue: Cue


@dataclass(frozen=True, slots=True)
class Judgement:
    """All that was judged of an outline: reaches, and the correction cues by sentence."""

    reaches: tuple[Reach, ...] = ()
    corrections: tuple[Cue, ...] = ()
    withdrawals: tuple[Cue, ...] = ()
    unsure: tuple[Reach, ...] = ()
    after_history: frozenset[int] = field(default_factory=frozenset)
    turns: frozenset[int] = field(default_factory=frozenset)
    changes: tuple[Cue, ...] = ()
    answers: tuple[Cue, ...] = ()

    def statuses(self, start: int, end: int | None = None) -> set[str]:
        """Give the statuses that lie over any slot from `start` up to `end`."""
        end = start + 1 if end is None else end
        found = {r.status for r in self.reaches if r.start < end and start < r.end}
        return found - {"today", "history"} if "today" in found else found

    def statuses_by(self, real: Reach, slot: int) -> set[str]:
        """Give the statuses over a slot that words up to those of a reach give."""
        return {
            r.status
            for r in self.reaches
            if r.start <= slot < r.end and (r.status != "plan" or r.cue.start <= real.cue.start)
        }

    def conditional(self, slots: Sequence[Slot], slot: int) -> bool:
        """Say whether *if*, *unless*, *when* and the like stand over a slot."""
        over = (r for r in self.reaches if r.status == "plan" and r.start <= slot < r.end)
        return any(slots[r.cue.start].norm in _CONDITIONS for r in over)

    def realised(self, slot: int) -> Reach | None:
        """Give the words that make a verb in base form one of the past: *managed to clean*."""
        over = [r for r in self.reaches if r.status == "realised" and r.start <= slot < r.end]
        return over[-1] if over else None

    def negated(self, start: int, end: int | None = None) -> Reach | None:
        """Give the negation over a slot, if there is one."""
        end = start + 1 if end is None else end
        over = [
            r for r in self.reaches if r.status == "negation" and r.start < end and start < r.end
        ]
        return over[-1] if over else None


@cache
def matcher() -> Matcher:
    """Give the matcher of all assertion cues."""
    rows = {
        (status, reach): phrases
        for status, reaches in table("assertions").items()
        for reach, phrases in reaches.items()
    }
    return Matcher(rows)


def judge(slots: Sequence[Slot]) -> Judgement:
    """Judge every sentence of an outline."""
    reaches: list[Reach] = []
    corrections: list[Cue] = []
    withdrawals: list[Cue] = []
    unsure: list[Reach] = []
    uneasy: set[int] = set()
    all_turns: set[int] = set()
    changes: list[Cue] = []
    answers: list[Cue] = []
    block: Reach | None = None
    was_history = False
    for start, end in sentences(slots):
        cues = _spared(slots, matcher().find(slots, start, end))
        turns = _turns(slots, cues, start, end, ("says", "soft"))
        hard = _turns(slots, cues, start, end, ("says",))
        all_turns.update(turns)
        found = [
            r
            for cue in cues
            for r in _reach(slots, cue, hard if cue.owner == "history" else turns, start, end)
        ]
        if "?" in slots[end - 1].after:
            found.append(Reach("question", start, end, Cue("question", "whole", start, end, 1)))
        unsure += [r for r in found if r.status == "unsure"]
        found = [r for r in found if r.status in (*STATUSES, "negation", "today", "realised")]
        if block is not None:
            stop = min((t for t in turns), default=end)
            if stop > start:
                found.append(Reach(block.status, start, stop, block.cue))
            if stop < end:
                block = None
        opened = [c for c in cues if c.kind == "block"]
        if opened:
            first = opened[-1]
            stop = min((t for t in turns if t >= first.end), default=end)
            found.append(Reach(first.owner, first.start, stop, first))
            block = found[-1] if stop == end else None
        if was_history and not turns and not any(r.status == "history" for r in found):
            if _goes_on_telling(slots, start, end):
                found.append(Reach("history", start, end, Cue("history", "on", start, start, 1)))
            elif any(s.norm in ("was", "were", "had", "took") for s in slots[start:end]):
                uneasy.update(range(start, end))
        was_history = any(r.status == "history" and r.end == end for r in found)
        reaches += found
        changes += [c for c in cues if c.owner == "change"]
        answers += _longest(c for c in cues if c.owner == "answer")
        corrections += [c for c in cues if (c.owner, c.kind) == ("correction", "says")]
        withdrawals += [c for c in cues if (c.owner, c.kind) == ("correction", "withdraw")]
    return Judgement(
        tuple(reaches),
        tuple(corrections),
        tuple(withdrawals),
        tuple(unsure),
        frozenset(uneasy),
        frozenset(all_turns),
        tuple(changes),
        tuple(answers),
    )


def _longest(cues: Iterable[Cue]) -> list[Cue]:
    """Give the longest of the cues that begin at one slot."""
    made = {c.start: c for c in sorted(cues, key=lambda c: (c.end, c.kind))}
    return list(made.values())


def _spared(slots: Sequence[Slot], cues: Sequence[Cue]) -> list[Cue]:
    """Leave out the cues that are none.

    *it happens to be* is no plan: longer words that are none take such a cue; *with my glasses on,
    says* is no subject and verb: there is a pause in it.
    """
    free = [c for c in cues if c.owner == "innocent"]
    return [
        c
        for c in cues
        if not any(f.kind == c.owner and f.start <= c.start and c.end <= f.end for f in free)
        and not (c.owner == "limit" and c.end - c.start == 2 and slots[c.start].after)
    ]


def _goes_on_telling(slots: Sequence[Slot], start: int, end: int) -> bool:
    """A sentence about *they* or *he* behind a story about last time is still that story."""
    words = [s.norm for s in slots[start:end]]
    others = ("they", "he", "she", "somebody", "someone")
    past = any(w in ("was", "were", "had", "took") for w in words)
    return any(w in others for w in words[:3]) or (past and any(w in others for w in words))


def _turns(
    slots: Sequence[Slot], cues: Sequence[Cue], start: int, end: int, kinds: tuple[str, ...]
) -> list[int]:
    """Give where a new statement begins: at turns, and behind a plain correction."""
    begins = set(clause_starts(slots, start, end))
    turns = {c.start for c in cues if c.owner == "turn" and c.kind in kinds and c.start in begins}
    turns |= {
        c.end
        for c in cues
        if (c.owner, c.kind) == ("correction", "says") and c.end < end
        if c.literals > 1 or slots[c.start].norm in ("correction", "sorry")
    }
    return sorted(turns)


def _reach(
    slots: Sequence[Slot], cue: Cue, turns: Sequence[int], start: int, end: int
) -> list[Reach]:
    if cue.owner in ("turn", "correction", "change", "answer") or cue.kind == "block":
        return []
    stop = min((t for t in turns if t > cue.start), default=end)
    begins = cue.start > start and bool(slots[cue.start - 1].after)
    opens = slots[cue.start].norm
    aside = begins and (opens == "if" or (cue.owner == "plan" and opens == "before"))
    if (cue.owner == "negation" and cue.kind == "after") or aside:
        stop = min(stop, _clause_end(slots, cue.end, end))
    if cue.kind == "whole":
        if cue.owner == "question" and (told := _answered(slots, cue, end)):
            stop = min(stop, told)
        begin = start
        if cue.owner != "history":
            begin = max((t for t in turns if t <= cue.start), default=start)
            begin = cue.start if cue.start in clause_starts(slots, start, end) else begin
        return [Reach(cue.owner, begin, stop, cue)]
    if cue.kind == "after":
        return [Reach(cue.owner, cue.start, stop, cue)]
    if cue.kind == "near":
        return _near(slots, cue, start, end)
    begin = _clause_start(slots, cue, turns, start, end)
    aside = begin > start and _is_aside(slots, begin, _clause_end(slots, cue.end, end), end)
    if cue.kind == "phrase" or (cue.owner == "history" and aside):
        stop = min(stop, _clause_end(slots, cue.end, end))
    return [Reach(cue.owner, begin, stop, cue)]


def _answered(slots: Sequence[Slot], cue: Cue, end: int) -> int | None:
    """*what did we use, seventeen*: the answer to a question stands behind its pause."""
    stop = _clause_end(slots, cue.end, end)
    return stop if stop < end and slots[stop].norm in (NUMBER, OVER) else None


def _is_aside(slots: Sequence[Slot], begin: int, stop: int, end: int) -> bool:
    """*counting the half bottle from last week*, between commas: it says nothing of the rest."""
    inside = [s.norm for s in slots[begin:stop]]
    number = any(norm in (NUMBER, OVER, RANGE) for norm in inside)
    if slots[begin].norm in ("which", "who"):
        return stop < end
    return stop < end and not number and slots[begin].norm.endswith("ing")


def _clause_start(
    slots: Sequence[Slot], cue: Cue, turns: Sequence[int], start: int, end: int
) -> int:
    """Give where the clause of a cue begins; one that only trails belongs to the one before."""
    begins = [b for b in clause_starts(slots, start, end) if b <= cue.start]
    strong = [
        b for b in begins if b == start or slots[b - 1].after or slots[b].norm in ("but", "so")
    ]
    begin = strong[-1]
    tail = slots[begin:end]
    if (
        len(strong) > 1
        and not any(s.norm in (NUMBER, OVER, RANGE) for s in tail)
        and len(tail) <= 5
    ):
        begin = strong[-2]
    return max([begin, *(t for t in turns if t <= cue.start)])


def _clause_end(slots: Sequence[Slot], at: int, end: int) -> int:
    for i in range(at, end):
        if slots[i - 1].after:
            return i
        if slots[i].norm in ("but", "so", "because", "although") and i > at:
            return i
    return end


def _near(slots: Sequence[Slot], cue: Cue, start: int, end: int) -> list[Reach]:
    """Reach over the number right behind the cue or right before it."""
    numbers = (NUMBER, OVER, RANGE)
    touching = cue.start > start and slots[cue.start - 1].norm in numbers
    if touching and cue.owner != "negation" and not slots[cue.start - 1].after:
        return [Reach(cue.owner, cue.start - 1, cue.start, cue)]
    for i in range(cue.end, min(cue.end + 3, end)):
        if slots[i - 1].after:
            break
        if slots[i].norm in numbers:
            return [Reach(cue.owner, i, i + 1, cue)]
    if cue.owner == "negation":
        return []
    back = 5 if cue.owner == "today" else 3
    for i in range(cue.start - 1, max(cue.start - back, start) - 1, -1):
        if slots[i].norm in numbers:
            return [Reach(cue.owner, i, i + 1, cue)]
        if slots[i].after:
            break
    return []
