"""The figures that sums are checked against, from `record/data`, each with its source beside it."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from importlib import resources
from typing import Any

from extract.values.defects import REMARK


@dataclass(frozen=True, slots=True)
class Metal:
    """A wear metal: its symbol, its name, and where it usually comes from (never a finding)."""

    symbol: str
    name: str
    usual: str


@dataclass(frozen=True, slots=True)
class Item:
    """A line of 14 CFR 43 Appendix A(c), in our words, and the fields of the catalogue under it.

    `words` are those by which work told in free words may come under it.
    """

    number: int
    what: str
    fields: tuple[str, ...]
    status: str
    words: tuple[str, ...] = ()


@cache
def rules() -> Mapping[str, Any]:
    """Give `record/data/rules.toml`; every decimal figure in it is a Decimal."""
    return _load("rules.toml")


@cache
def metals() -> Mapping[str, Metal]:
    """Give the wear metals by symbol, in the order in which a report lists them here."""
    return {m["symbol"]: Metal(**m) for m in rules()["metal"]}


@cache
def items() -> Mapping[int, Item]:
    """Give the lines of the preventive-maintenance list that the catalogue can serve, by number."""
    listed = _load("preventive.toml")["item"]
    return {
        i["number"]: Item(
            i["number"], i["what"], tuple(i["fields"]), i["status"], tuple(i.get("words", ()))
        )
        for i in listed
    }


def items_of(name: str, value: object = None) -> tuple[int, ...]:
    """Give the numbers of the lines that a field comes under, or a remark by its words may."""
    told = str(value).lower() if name == REMARK else ""
    return tuple(
        number
        for number, item in sorted(items().items())
        if name in item.fields or any(word in told for word in item.words)
    )


@cache
def not_work() -> frozenset[str]:
    """Give the fields that are read or written down, and are no work a list could name."""
    return frozenset(_load("preventive.toml")["not_work"])


def _load(name: str) -> Mapping[str, Any]:
    text = resources.files("record").joinpath("data", name).read_text("utf-8")
    return tomllib.loads(text, parse_float=Decimal)
