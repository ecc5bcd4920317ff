"""What the trained reader proposes as states: drain shut, no leaks; a finding as it was said."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import Any

from extract.claims.encoder import REPLACED, Told
from extract.claims.held import held
from extract.claims.proposals import Proposal, logit
from extract.values.catalogue import Catalogue
from extract.values.defects import CLEARED, DEFERRED, FINDINGS, OPEN, finding_of
from extract.values.draft import Alternative, Value
from extract.words.lists import table
from extract.words.parts import STRONG, Part, heard, span_words

_BACK = 0.3  # from here on a state is shown as one that was replaced
_PUT_OFF = 6  # parts behind a finding in which it may be put off
_IN_A_BREATH = "it was said to be put right in the same breath; look whether all of it is"
_WORTH_SAYING = 0.12  # a state less likely than this is not proposed by the trained reader alone

# part, part behind, field, value, likelihood, likelihood that it was taken back
_Stretch = tuple[int, int, str, Value, float, float]


def of_states(doc: Any, catalogue: Catalogue, named: Collection[str]) -> Iterator[Proposal]:
    """Propose states; `named` are the fields whose thing the words name."""
    note = held(doc._.outline, catalogue, named)
    for start, end, name, value, chance, gone in _classed(
        stretches(doc._.told, catalogue), catalogue
    ):
        doubts: tuple[str, ...] = ()
        others: tuple[Alternative, ...] = ()
        if name not in FINDINGS:
            allowed = note.state(name, value, (start, end))
            if allowed is None:
                continue
            value, doubts = allowed
        else:
            value, chance, cleared = _finding(doc, name, value, start, end, chance)
            if cleared:
                doubts = (_IN_A_BREATH,)
                still = f"{OPEN}:{str(value).partition(':')[2]}"
                others = (Alternative(still, 0.1, "it may stand still"),)
        yield Proposal(
            name, value, None, None, start, end, chance, None, doubts, others,
            {
                "state": 1.0,
                "state_odds": logit(chance),
                "state_named": float(name in named),
                "state_false": float(value is False),
                "state_gone": gone,
            },
        )  # fmt: skip


def _classed(found: Iterable[_Stretch], catalogue: Catalogue) -> Iterator[_Stretch]:
    """Give stretches without those whose class words right beside them tell: *fine metal*."""
    kept = list(found)
    for one in kept:
        choices = catalogue.fields[one[2]].choices
        if not choices or one[3] in choices or not any(_tells(o, one, choices) for o in kept):
            yield one


def _tells(other: _Stretch, one: _Stretch, choices: Sequence[str]) -> bool:
    near = other[0] <= one[1] + 1 and one[0] <= other[1] + 1
    return other[2] == one[2] and other[3] in choices and near


def _finding(
    doc: Any, name: str, value: Value, start: int, end: int, chance: float
) -> tuple[Value, float, bool]:
    """Give a finding in the speaker's words, how likely it is, and whether it was put right."""
    parts, cleared = doc._.parts, False
    first, last = span_words(parts, start, end)
    after = [part.norm for part in parts[start : end + _PUT_OFF]]
    if value == OPEN and any(norm.startswith("defer") for norm in after):
        value = DEFERRED  # "a cracked stud, deferring it": the word comes behind the finding
    if value in (OPEN, DEFERRED) and put_right(parts, start, end):
        value, cleared = CLEARED, True  # "a cracked baffle, fixed it"
    if value == OPEN or cleared:  # that it is a finding counts: open errs to the safe side
        chance = max(chance, _of_any_state(doc._.told, name, start, end))
    return finding_of(heard(doc._.words[first : last + 1]), str(value) or None), chance, cleared


def put_right(parts: Sequence[Part], start: int, end: int) -> bool:
    """Say whether the words at a finding's end or right behind it say that it was put right."""
    words = table("findings")
    rows = sorted((tuple(row.split()) for row in words["put_right"]), key=len, reverse=True)
    at = start + 1
    while at < len(parts) and (at < end or at - end <= _PUT_OFF):
        if any(mark in STRONG for mark in parts[at - 1].after):
            return False
        norms = tuple(part.norm for part in parts[at : at + 4])
        size = next((len(row) for row in rows if norms[: len(row)] == row), 0)
        opens = parts[at - 1].after or parts[at - 1].norm in words["before_right"]
        if size and opens:
            return _of_it(parts, start, at, at + size)
        if at >= end and norms[0] not in words["before_right"]:
            return False
        at += 1
    return False


def _of_it(parts: Sequence[Part], start: int, at: int, end: int) -> bool:
    """Say whether what was put right, by the words up to `end`, is the finding from `start` on."""
    words = table("findings")
    own = {part.norm for part in parts[start:at]} - set(words["untelling"])
    behind = [part.norm for part in parts[end : end + 3]]
    if parts[end - 1].after or not behind:
        named, behind = True, []
    elif behind[0] in words["right_of"]:
        named, behind = True, [] if parts[end].after else behind[1:]
    else:
        named = behind[0] == "the" and behind[1:2] != [] and behind[1] in own
    asked = any("?" in part.after for part in parts[end - 1 : end + 3])
    return named and not asked and not set(behind) & set(words["not_right"])


def _of_any_state(told: Told, name: str, start: int, end: int) -> float:
    """Give how likely a field is stated, whichever of its values."""
    labels = [k for k, label in enumerate(told.names["state"]) if label.split(" ")[0] == name]
    said = told.state[start:end, labels].sum(axis=1) * told.status[start:end, 0]
    return float(said.max())


def replaced_states(
    told: Told, catalogue: Catalogue
) -> Iterator[tuple[tuple[str, None], int, Value]]:
    """Give (field, no place), first part and value of states that were said and then replaced."""
    for start, _, name, value, chance, gone in _stretches(told, catalogue):
        if gone >= _BACK and chance < gone and name not in FINDINGS:
            yield (name, None), start, value


def stretches(told: Told, catalogue: Catalogue) -> Iterator[_Stretch]:
    """Give the stretches that may state a state, likely enough to be proposed."""
    yield from (one for one in _stretches(told, catalogue) if one[4] >= _WORTH_SAYING)


def _stretches(told: Told, catalogue: Catalogue) -> Iterator[_Stretch]:
    """Give every stretch of parts that one state is the likeliest for."""
    import numpy as np

    if not len(told.state):
        return
    names = told.names["state"]
    back = list(told.names["status"]).index(REPLACED)
    held = told.state[:, 1:]  # without none
    strong = 1 - told.state[:, 0] >= _WORTH_SAYING
    k = 0
    while k < len(held):
        if not strong[k]:
            k += 1
            continue
        best = int(held[k].argmax())
        end = k + 1
        while end < len(held) and (
            (strong[end] and int(held[end].argmax()) == best)
            or (end + 1 < len(held) and strong[end + 1] and int(held[end + 1].argmax()) == best)
        ):
            end += 1
        name, _, text = names[best + 1].partition(" ")
        entry = catalogue.fields.get(name)
        weight = held[k:end, best]
        status = np.average(told.status[k:end], axis=0, weights=weight + 1e-6)
        chance = float(weight.max() * status[0])
        if entry is not None:
            value: Value = {"true": True, "false": False}.get(text, text)
            yield k, end, name, value, chance, float(status[back])
        k = end
