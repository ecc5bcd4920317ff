"""Bad news as data: which values of a field are adverse, in what words, with which caution.

Rules and cautions stand in `data/fields/*.toml` and `data/cautions.toml`. A finding never changes a
value; it says what must not look like good news.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from types import MappingProxyType

from extract.values.draft import Value
from extract.values.known import Known

KEYS = ("is", "is_not", "below", "above", "of", "outside", "word", "why", "caution", "stands")


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution, with its source; `status` is `seen` or `memory`."""

    text: str
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Finding:
    """What is adverse about a value: in a word or two, with the caution that fits.

    `stands` tells whether it is open until a later value of the same field resolves it; where it is
    False it is to be heeded, and keeps nobody from signing. `why` says which limit was passed.
    """

    word: str
    why: str
    caution: Caution
    stands: bool


@dataclass(frozen=True, slots=True)
class Adverse:
    """One rule for what is adverse in a field.

    `values` are adverse, or with `others` all but these. `below`, `above` are figures in the
    field's unit, or, with `of`, shares of that figure of `Known`. `outside` names a pair of limits
    in `Known`. A rule whose figure is not known finds nothing.
    """

    word: str
    caution: Caution
    values: tuple[Value, ...] = ()
    others: bool = False
    below: Decimal | None = None
    above: Decimal | None = None
    of: str = ""
    outside: str = ""
    why: str = ""
    stands: bool = True

    def finding(
        self, value: Value, known: Known, show: Callable[[Decimal], str] = str
    ) -> Finding | None:
        """Give what there is to say against a value, or None; `show` writes a figure for people."""
        limits: dict[str, object] = {}
        if self.values:
            found = (value in self.values) is not self.others
        elif isinstance(value, Decimal):
            limits = self._limits(known)
            low, high = limits.get("low"), limits.get("high")
            found = (isinstance(low, Decimal) and value < low) or (
                isinstance(high, Decimal) and value > high
            )
        else:
            found = False
        why = self.why.format(**_shown(limits, show)) if found and self.why else ""
        return Finding(self.word, why, self.caution, self.stands) if found else None

    def _limits(self, known: Known) -> dict[str, object]:
        if self.outside:
            pair = getattr(known, self.outside)
            return {"low": pair[0], "high": pair[1]} if pair is not None else {}
        whole = getattr(known, self.of) if self.of else Decimal(1)
        if whole is None:
            return {}
        low, high = (None if share is None else share * whole for share in (self.below, self.above))
        return {"low": low, "high": high, "of": whole}


def _shown(limits: Mapping[str, object], show: Callable[[Decimal], str]) -> dict[str, str]:
    """Write limits for people; of a range, the unit stands behind the upper end alone."""
    made = {name: show(value) for name, value in limits.items() if isinstance(value, Decimal)}
    if "low" in made and "high" in made:
        made["low"] = made["low"].split()[0]
    return made


@cache
def cautions() -> Mapping[str, Caution]:
    """Give the cautions by name, in the order of their file."""
    text = (Path(__file__).parents[1] / "data" / "cautions.toml").read_text("utf-8")
    return MappingProxyType({name: Caution(**raw) for name, raw in tomllib.loads(text).items()})
