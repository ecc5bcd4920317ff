"""Word lists that reading leans on, loaded once from `data/*.toml`."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

DATA = Path(__file__).parents[1] / "data"


@cache
def table(name: str) -> Mapping[str, Any]:
    """Load `data/NAME.toml`."""
    loaded: Mapping[str, Any] = tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))
    return loaded


_WORDS = table("words")
FILLERS: frozenset[str] = frozenset(_WORDS["fillers"])
SPELLINGS: Mapping[str, str] = _WORDS["spellings"]
CONTRACTIONS: Mapping[str, tuple[str, ...]] = {
    short: tuple(long.split()) for short, long in _WORDS["contractions"].items()
}
PARTICIPLES: frozenset[str] = frozenset(_WORDS["participles"])
NUMERAL_UNITS: frozenset[str] = frozenset(_WORDS["numeral_units"])

_NUMBERS = table("numbers")
DIGITS: Mapping[str, str] = _NUMBERS["digits"]
REPEATS: Mapping[str, int] = _NUMBERS["repeats"]
TEENS: Mapping[str, str] = _NUMBERS["teens"]
TENS: Mapping[str, str] = _NUMBERS["tens"]
HOMOPHONES: Mapping[str, str] = _NUMBERS["homophones"]
ORDINALS: Mapping[str, int] = _NUMBERS["ordinals"]
FRACTIONS: Mapping[str, Decimal] = {
    word: Decimal(value) for word, value in _NUMBERS["fractions"].items()
}
POINTS: frozenset[str] = frozenset(_NUMBERS["points"])
MONTHS: Mapping[str, int] = _NUMBERS["months"]


def logistic(values: Mapping[str, float], weights: Mapping[str, float]) -> float:
    """Weigh signs into a probability."""
    total = weights["bias"] + sum(weights.get(name, 0.0) * v for name, v in values.items())
    return 1 / (1 + math.exp(-total))
