"""From signs to a confidence that means what it says: a fitted table (data/confidence.toml).

`benchmarks/fit_confidence.py` fits it on sets with truth; the file says when, on what, on how many
fields.
"""

from __future__ import annotations

import math
from decimal import Decimal

from extract.exact.reading import Candidate
from extract.talk.statements import Statement
from extract.witness.hearings import Verdict
from extract.words.lists import logistic, table

# Units of values that are mostly said with a fraction or tenths.
_IN_PARTS = ("qt", "fl oz", "V")
_FAINT, _CARRIED = 0.4, 1.8


def of_text(statement: Statement) -> float:
    """Give the probability that a statement is read right, where its words are certain."""
    return statement.chance


def signs(verdict: Verdict) -> dict[str, float]:
    """Give what speaks for and against a verdict, each from 0 to 1."""
    statement = verdict.event.statement
    models, models_of = max(1, len(verdict.models)), verdict.value_models
    others = [m for _, m in verdict.other_values]
    return {
        "value_share": len(models_of) / models,
        "field_share": len(verdict.field_models) / models,
        "alone": float(len(models_of) < 2 <= models),
        "unbacked": float(len(models_of) < 2 <= models and verdict.first not in models_of),
        "hearing_share": verdict.hearings / max(1, verdict.of_hearings),
        "barred": len(verdict.barred_models) / models,
        "otherwise": max((len(m) / models for m in others), default=0.0),
        "other_field": float(bool(verdict.other_fields)),
        "clean": verdict.clean,
        "read_back": float(not verdict.unmended_models),
        "doubted": float(bool(statement and statement.doubts)),
        "bound": min(1.0, (statement.score if statement else 0.0) / 4),
    }


def of_verdict(verdict: Verdict) -> float:
    """Give the probability that the hearings have it right, and that it is read right.

    The two are not independent: what is hard to read is also heard in several ways, and speaks
    against itself in both. What they give together is put right by a second fit (`[together]`).
    """
    told = table("confidence")
    both = logistic(signs(verdict), told["weights"]) * (1 - verdict.risk)
    both = min(0.999, max(0.001, both))
    return logistic({"odds": math.log(both / (1 - both))}, told["together"])


def faint(verdict: Verdict) -> tuple[str, ...]:
    """Give what may be lost in a heard value, though all hearings agree on the rest."""
    statement = verdict.event.statement
    what = verdict.event.what
    if statement is None:
        return ()
    doubts = []
    if verdict.clean < _FAINT:
        doubts.append("it was spoken too faintly to be sure; listen again")
    bare = isinstance(what, Candidate) and what.readings[0].unit is None
    if bare and statement.unit in _IN_PARTS and _is_whole(statement):
        doubts.append("no unit was heard; a half or a quarter may be missing")
    if "state" in statement.signs and statement.score < _CARRIED:
        doubts.append("it was not heard next to it which part this was said of; listen before it")
    return tuple(doubts)


def _is_whole(statement: Statement) -> bool:
    return isinstance(statement.value, Decimal) and statement.value % 1 == 0


def thresholds() -> tuple[float, float]:
    """Give the probability below which a reading is dropped, and below which it is doubted."""
    found = table("confidence")["thresholds"]
    return float(found["drop"]), float(found["doubt"])
