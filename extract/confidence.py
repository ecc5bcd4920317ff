"""From signs to a confidence that means what it says."""

from __future__ import annotations

from extract.compare import Verdict
from extract.statements import Statement


def of_text(statement: Statement) -> float:
    """Give the confidence of a statement whose words are certain."""
    return 0.6 if statement.doubts else 0.98


def of_verdict(verdict: Verdict, doubts: tuple[str, ...]) -> float:
    """Give the confidence of what the hearings say."""
    share = len(verdict.value_models) / max(1, len(verdict.models))
    base = 0.97 if not doubts else 0.75
    return round(base * (0.7 + 0.3 * share), 3)
