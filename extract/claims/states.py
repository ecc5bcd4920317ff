"""What the two readers propose as states: drain shut, no leaks; a finding as it was said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from extract.claims.encoder import REPLACED, Told
from extract.claims.proposals import Proposal, logit
from extract.talk.statements import Statement
from extract.values.catalogue import Catalogue
from extract.values.defects import CLEARED, DEFERRED, FINDINGS, OPEN, finding_of
from extract.values.draft import Alternative, Value
from extract.words.lists import table
from extract.words.parts import STRONG, Part, heard, span_words

_BACK = 0.3  # from here on a state is shown as one that was replaced
_PUT_OFF = 6  # parts behind a finding in which it may be put off
_IN_A_BREATH = "it was said to be put right in the same breath; look whether all of it is"
_WORTH_SAYING = 0.12  # a state less likely than this is not proposed by the trained reader alone


def of_states(
    doc: Any, told: Told, ruled: Sequence[Statement], catalogue: Catalogue
) -> Iterator[Proposal]:
    """Propose states. `ruled` are the rules' statements of such."""
    slots = doc._.outline
    used: set[int] = set()
    for start, end, name, value, chance, gone in stretches(told, catalogue):
        mine = [
            k
            for k, s in enumerate(ruled)
            if s.name == name and slots[s.first].start <= end + 6 and start - 6 <= slots[s.last].end
        ]
        same = [k for k in mine if ruled[k].value == value]
        one = ruled[same[0]] if same else None
        used |= set(same)
        clash = bool(mine) and not same
        cleared = False
        if name in FINDINGS:
            first, last = span_words(doc._.parts, start, end)
            after = [part.norm for part in doc._.parts[start : end + _PUT_OFF]]
            if value == OPEN and any(norm.startswith("defer") for norm in after):
                value = (
                    DEFERRED  # "a cracked stud, deferring it": the word comes behind the finding
                )
            if value in (OPEN, DEFERRED) and put_right(doc._.parts, start, end):
                value = CLEARED  # "a cracked baffle, fixed it"; which state it is in is no matter
                chance = max(chance, _of_any_state(told, name, start, end))
                cleared = True
            value = finding_of(heard(doc._.words[first : last + 1]), str(value) or None)
        made = _state(catalogue, name, value, (start, end), chance, one, clash, gone)
        if cleared:
            still = Alternative(f"{OPEN}:{str(value).partition(':')[2]}", 0.1, "it may stand still")
            made = replace(made, doubts=(*made.doubts, _IN_A_BREATH), alternatives=(still,))
        yield made
    for k, s in enumerate(ruled):
        if k in used:
            continue
        start, end = slots[s.first].start, slots[s.last].end
        chance = _chance_in(told, s, start, end)
        clash = any(
            o[2] == s.name and o[3] != s.value and o[0] <= end + 6 and start - 6 <= o[1]
            for o in stretches(told, catalogue)
        )
        yield _state(catalogue, s.name, s.value, (start, end), chance, s, clash, 0.0)


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


def _state(
    catalogue: Catalogue,
    name: str,
    value: Value,
    span: tuple[int, int],
    chance: float,
    one: Statement | None,
    clash: bool,
    gone: float,
) -> Proposal:
    entry = catalogue.fields[name]
    return Proposal(
        name, value, entry.unit, None, span[0], span[1], span[0], chance, one, None,
        one.doubts if one else (), one.alternatives if one else (),
        {
            "state": 1.0,
            "state_odds": logit(chance),
            "state_agree": float(one is not None),
            "state_sure": (1 - one.signs.get("risk", 0.5)) if one else 0.0,
            "state_clash": float(clash),
            "state_false": float(value is False),
            "state_gone": gone,
        },
    )  # fmt: skip


def replaced_states(
    told: Told, catalogue: Catalogue
) -> Iterator[tuple[tuple[str, None], int, Value]]:
    """Give (field, no place), first part and value of states that were said and then replaced."""
    for start, _, name, value, chance, gone in _stretches(told, catalogue):
        if gone >= _BACK and chance < gone and name not in FINDINGS:
            yield (name, None), start, value


def stretches(
    told: Told, catalogue: Catalogue
) -> Iterator[tuple[int, int, str, Value, float, float]]:
    """Give the stretches that may state a state, likely enough to be proposed."""
    yield from (one for one in _stretches(told, catalogue) if one[4] >= _WORTH_SAYING)


def _stretches(
    told: Told, catalogue: Catalogue
) -> Iterator[tuple[int, int, str, Value, float, float]]:
    """Give (part, part behind, field, value, likelihood, likelihood that it was taken back)."""
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


def _chance_in(told: Told, one: Statement, start: int, end: int) -> float:
    text = str(one.value).lower() if isinstance(one.value, bool) else one.value
    label = f"{one.name} {text}"
    names = list(told.names["state"])
    if label not in names or end <= start:
        return 0.0
    said = told.state[start:end, names.index(label)] * told.status[start:end, 0]
    return float(said.max())
