"""What a proposal is worth: the chance that it is right, and what becomes of it.

A fitted table (data/weighing.toml; benchmarks/fit_weighing.py says how and on what) turns what
speaks for a proposal and against it into the chance that it is right. Below one level it is no
statement, but stays beside its field as another reading; below another it is doubted, in words that
say why.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from extract.claims.encoder import CUT, REPLACED, STATED, Told
from extract.claims.proposals import Proposal
from extract.values.catalogue import Catalogue
from extract.values.defects import FINDINGS
from extract.values.draft import Alternative
from extract.words.lists import logistic, table

UNCLEAR = "it was said, but which of the numbers is meant is not clear"
UNSURE = "the sentence can be understood otherwise"
_REASONS = {
    "limit": "it may be a limit, and not what was done",
    "plan": "it may be what is still to be done",
    "question": "it may be a question",
    "negation": "it may be what was not done",
    "history": "it may be of an earlier time",
    "other": "it may be of another aircraft",
    "hearsay": "it may be what somebody else reported",
    "quote": "it may be read out from a paper",
    "conditional": "it may be only what might have been",
    "joke": "it may be a joke",
    "thing": "it may be a number of something else",
    REPLACED: "it may have been taken back",
}


def weigh(proposal: Proposal) -> float:
    """Give the chance that a proposal is right, field, value and place."""
    which = "states" if "state" in proposal.signs else "values"
    return logistic(proposal.signs, table("weighing")[which])


def level(name: str) -> float:
    """Give one of the chances at which something becomes of a proposal (`[levels]`)."""
    return float(table("weighing")["levels"][name])


def is_stated(one: Proposal, chance: float) -> bool:
    """Say whether a proposal is likely enough to be a statement: more where nothing names it."""
    if one.must_be_named and not one.signs["named"]:
        return chance >= level("unnamed")
    return chance >= level("drop_state" if one.candidate is None else "drop")


def believed(
    proposals: Sequence[Proposal], told: Told, catalogue: Catalogue
) -> Iterator[tuple[Proposal, float]]:
    """Give what is stated, each with the chance that it is right, doubted where it is not sure.

    Of what is proposed for the same words the likeliest stands; the others are its alternatives.
    """
    weighed = [(p, weigh(p)) for p in proposals]
    for group in _together(weighed):
        best, chance = max(group, key=lambda one: one[1])
        places = [
            (p, c)
            for p, c in group
            if p.name == best.name and p.position != best.position and is_stated(p, c)
        ]
        for one, sure in [(best, chance), *places]:
            if not is_stated(one, sure):
                continue
            if sure < level("doubt"):
                one = replace(one, doubts=(*one.doubts, *_why(one, told)))
            yield _with_faint(one, weighed, catalogue), sure
    yield from _unclear(weighed, catalogue)


def _unclear(
    weighed: Sequence[tuple[Proposal, float]], catalogue: Catalogue
) -> Iterator[tuple[Proposal, float]]:
    """Ask where a field was surely stated and none of its values is sure enough to stand alone."""
    keys: dict[tuple[str, object], list[tuple[Proposal, float]]] = {}
    for p, chance in weighed:
        keys.setdefault(p.key, []).append((p, chance))
    for group in keys.values():
        some = [(p, c) for p, c in group if c >= level("alone")]
        if any(is_stated(p, c) for p, c in group) or len(some) < 2:
            continue
        if some[0][0].name in FINDINGS:
            continue
        if 1 - math.prod(1 - c for _, c in some) < level("somewhere"):
            continue
        most = max(c for _, c in some)
        last, chance = max(
            (one for one in some if one[1] > most - 0.1), key=lambda one: one[0].start
        )
        kind = catalogue.fields[last.name].kind_object
        others = [p.value for p, _ in some if not kind.same(p.value, last.value)]
        more = tuple(Alternative(v, 0.3, "said of it as well") for v in dict.fromkeys(others))
        yield (
            replace(
                last,
                doubts=(*last.doubts, UNCLEAR),
                alternatives=(*last.alternatives, *more),
            ),
            chance,
        )


def _together(weighed: Sequence[tuple[Proposal, float]]) -> list[list[tuple[Proposal, float]]]:
    groups: dict[object, list[tuple[Proposal, float]]] = {}
    for n, (p, chance) in enumerate(weighed):
        where = p.candidate if p.candidate is not None else ("state", n)
        groups.setdefault(where, []).append((p, chance))
    return list(groups.values())


def _why(one: Proposal, told: Told) -> list[str]:
    """Say in words what speaks against a proposal; nothing where its own doubts say enough."""
    reason = _against(one, told)
    if reason is not None:
        return [reason]
    if one.doubts:
        return []
    return [UNSURE]


def _against(one: Proposal, told: Told) -> str | None:
    if one.candidate is not None:
        row, names = told.out[one.candidate], told.names["out"]
    else:
        row = told.status[one.start : max(one.end, one.start + 1)].mean(0)
        names = told.names["status"]
    order = sorted(zip((float(p) for p in row), names, strict=True), reverse=True)
    for p, name in order[:2]:
        if name in _REASONS and name not in (CUT, STATED) and p >= 0.15:
            return _REASONS[name]
    return None


def _with_faint(
    one: Proposal, weighed: Sequence[tuple[Proposal, float]], catalogue: Catalogue
) -> Proposal:
    """Keep beside a value what was perhaps said of its field as well, or taken back."""
    kind = catalogue.fields[one.name].kind_object
    shown = [one.value, *(a.value for a in one.alternatives)]
    faint = []
    for other, chance in weighed:
        if one.name in FINDINGS or other.key != one.key or is_stated(other, chance) or chance < 0.1:
            continue
        if any(kind.same(other.value, value) for value in shown):
            continue
        back = other.signs.get("replaced", other.signs.get("state_gone", 0.0)) > 0.3
        why = "taken back" if back else "hardly said of this"
        faint.append(Alternative(other.value, 0.05 if back else 0.1, why))
        shown.append(other.value)
    return replace(one, alternatives=(*one.alternatives, *faint)) if faint else one
