"""From signs to a confidence that means what it says: a fitted table (data/confidence.toml).

`benchmarks/fit_confidence.py` fits it on sets with truth; the file says when, on what, on how many
fields.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from extract.compare import Verdict
from extract.statements import Statement
from extract.words import table

_TEXT_SURE, _TEXT_DOUBTED = 0.99, 0.8


def of_text(statement: Statement) -> float:
    """Give the confidence of a statement whose words are certain."""
    return _TEXT_DOUBTED if statement.doubts else _TEXT_SURE


def signs(verdict: Verdict) -> dict[str, float]:
    """Give what speaks for and against a verdict, each from 0 to 1."""
    statement = verdict.event.statement
    models = max(1, len(verdict.models))
    others = [m for _, m in verdict.other_values]
    return {
        "value_share": len(verdict.value_models) / models,
        "field_share": len(verdict.field_models) / models,
        "alone": float(len(verdict.value_models) < 2 <= models),
        "hearing_share": verdict.hearings / max(1, verdict.of_hearings),
        "barred": len(verdict.barred_models) / models,
        "otherwise": max((len(m) / models for m in others), default=0.0),
        "other_field": float(bool(verdict.other_fields)),
        "clean": verdict.clean,
        "read_back": float(not verdict.plain_models),
        "doubted": float(bool(statement and statement.doubts)),
        "bound": min(1.0, (statement.score if statement else 0.0) / 4),
    }


def of_verdict(verdict: Verdict) -> float:
    """Give the probability that what the hearings say is right."""
    return logistic(signs(verdict), table("confidence")["weights"])


def logistic(values: Mapping[str, float], weights: Mapping[str, float]) -> float:
    """Weigh signs into a probability."""
    total = weights["bias"] + sum(weights.get(name, 0.0) * v for name, v in values.items())
    return 1 / (1 + math.exp(-total))


def thresholds() -> tuple[float, float]:
    """Give the probability below which a reading is dropped, and below which it is doubted."""
    found = table("confidence")["thresholds"]
    return float(found["drop"]), float(found["doubt"])
