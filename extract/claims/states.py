"""What the two readers propose as states: drain shut, no leaks; a finding as it was said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from extract.claims.encoder import REPLACED, Told
from extract.claims.proposals import Proposal, logit
from extract.talk.statements import Statement
from extract.values.catalogue import Catalogue
from extract.values.defects import DEFERRED, FINDINGS, OPEN, finding_of
from extract.values.draft import Value
from extract.words.parts import heard, span_words

_PUT_OFF = 6  # parts behind a finding in which it may be put off
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
        if name in FINDINGS:
            first, last = span_words(doc._.parts, start, end)
            after = [part.norm for part in doc._.parts[start : end + _PUT_OFF]]
            if value == OPEN and any(norm.startswith("defer") for norm in after):
                value = (
                    DEFERRED  # "a cracked stud, deferring it": the word comes behind the finding
                )
            value = finding_of(heard(doc._.words[first : last + 1]), str(value) or None)
        yield _state(catalogue, name, value, (start, end), chance, one, clash, gone)
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


def stretches(
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
        if entry is not None and chance >= _WORTH_SAYING:
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
