"""Findings: a defect or a remark in the speaker's words, as one line of text.

A remark is its words. A defect is its state, what it waits for where it was put off, and its words:
`open: cracked exhaust stud`, `deferred until the annual: …`, `cleared: …`. Nothing is reworded;
only what says no more than that it was put off is taken off the end, since the state says it.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from capture.errors import InputError
from extract.values.draft import Draft, Value

DEFECT, REMARK = "defect", "remark"
FINDINGS = (DEFECT, REMARK)  # fields of which a job may have several, numbered together
OPEN, DEFERRED, CLEARED = STATES = ("open", "deferred", "cleared")
_WRITTEN = re.compile(r"(open|deferred|cleared)(?:\s+until\s+([^:]+?))?\s*:\s*(.*)", re.DOTALL)
_TODO = "write it as `open: …`, `deferred until …: …` or `cleared: …`"


@dataclass(frozen=True, slots=True)
class Told:
    """A finding in its parts; `state` and `until` are empty for a remark."""

    words: str
    state: str = ""
    until: str = ""


def finding_of(words: str, state: str | None = None, until: str = "") -> str:
    """Make the value of a finding: a remark without a `state`, a defect with one of `STATES`.

    `words` are the speaker's; of a deferred defect they may tell until what, which `until` says
    where it is known. Raises InputError for no words, or for another state.
    """
    plain = _trimmed(words)
    if not plain:
        raise InputError("a finding needs its words", todo="say what was found or done")
    if not state:
        return plain
    if state not in STATES:
        raise InputError(f"“{state}” is no state of a defect", todo=f"one of {', '.join(STATES)}")
    if state == DEFERRED:
        plain, told = _put_off(plain)
        until = until or told
    until = " ".join(until.replace(":", " ").split()) if state == DEFERRED else ""
    return f"{state}{f' until {until}' if until else ''}: {plain}"


def told(value: Value) -> Told:
    """Give a finding in its parts; text that names no state is a remark."""
    text = str(value)
    found = _WRITTEN.fullmatch(text)
    return Told(found[3], found[1], found[2] or "") if found else Told(text)


def typed(text: str) -> str:
    """Read a defect as a person typed it; without a state it is open, which is the safe one.

    Raises InputError for no words, or where a state stands at the front with no colon behind it.
    """
    plain = " ".join(text.split())
    found = _WRITTEN.fullmatch(plain[:1].lower() + plain[1:])
    if found and (found[2] is None or found[1] == DEFERRED):
        return finding_of(found[3], found[1], found[2] or "")
    first = plain.lower().split(" ")[0].rstrip(":,.")
    if found or first in (DEFERRED, CLEARED):
        raise InputError(f"“{plain}” is no state and finding", todo=_TODO)
    return finding_of(plain, OPEN)


def alike(a: Value, b: Value) -> bool:
    """Tell whether two findings are in the same words, whatever their case, stops and state."""
    return _flat(told(a).words) == _flat(told(b).words)


def one_thing(a: Draft, b: Draft) -> bool:
    """Tell whether two drafts are of one finding: in the same words, or from the same stretch."""
    if a.name not in FINDINGS or b.name not in FINDINGS:
        return False
    if alike(a.value, b.value):
        return True
    if a.media != b.media or None in (a.start, a.end, b.start, b.end):
        return False
    shared = min(a.end, b.end) - max(a.start, b.start)  # type: ignore[type-var, operator]
    shorter = min(a.end - a.start, b.end - b.start)  # type: ignore[operator]
    return shared > 0 and shared >= 0.5 * shorter


def likeness(a: Value, b: Value) -> float:
    """Give the share of the telling words of the shorter finding that the other has too, 0 to 1."""
    one, other = _telling(a), _telling(b)
    return len(one & other) / min(len(one), len(other)) if one and other else 0.0


@dataclass(frozen=True, slots=True)
class Defect:
    """The kind of a defect's value: `open: cracked exhaust stud`."""

    name: str = DEFECT

    def parse(self, text: str) -> str:
        """Read `open: …`, `deferred until …: …`, `cleared: …`; bare words are an open defect."""
        return typed(text)

    def normalise(self, value: Value) -> str:
        """Give it with single spaces."""
        return typed(str(value))

    def show(self, value: Value, unit: str | None = None) -> str:
        """Write it as it is."""
        return str(value)

    def store(self, value: Value) -> str:
        """Write it as it is."""
        return str(value)

    def load(self, text: str) -> str:
        """Read back what `store` wrote."""
        return text

    def same(self, a: Value, b: Value) -> bool:
        """Compare state, until what, and words without their case and stops."""
        one, other = told(a), told(b)
        return alike(a, b) and (one.state, one.until) == (other.state, other.until)


@dataclass(frozen=True, slots=True)
class Remark:
    """The kind of a remark's value: the words themselves."""

    name: str = REMARK

    def parse(self, text: str) -> str:
        """Take any words."""
        return finding_of(text)

    def normalise(self, value: Value) -> str:
        """Give it with single spaces."""
        return finding_of(str(value))

    def show(self, value: Value, unit: str | None = None) -> str:
        """Write it as it is."""
        return str(value)

    def store(self, value: Value) -> str:
        """Write it as it is."""
        return str(value)

    def load(self, text: str) -> str:
        """Read back what `store` wrote."""
        return text

    def same(self, a: Value, b: Value) -> bool:
        """Compare the words without their case and stops."""
        return alike(a, b)


@cache
def _words() -> Mapping[str, Any]:
    path = Path(__file__).parents[1] / "data" / "findings.toml"
    return tomllib.loads(path.read_text("utf-8"))


def _trimmed(words: str) -> str:
    """Take off spaces, stops and words at the edges that say nothing."""
    plain = " ".join(words.split()).strip(" ,;.:-–—")
    while (first := plain.partition(" "))[0].lower().strip(",") in _words()["edges"] and first[2]:
        plain = first[2].lstrip(" ,;.:-–—")
    return plain


def _put_off(words: str) -> tuple[str, str]:
    """Take from the end what says only that a defect was put off; give that and until what."""
    ways = "|".join(re.escape(way).replace(r"\ ", r"\s+") for way in _words()["put_off"])
    till = "|".join(_words()["until"])
    pattern = rf"(.*?)[\s,;.:–—-]+(?:and\s+|but\s+|so\s+)?(?:{ways})(?:\s+(?:{till})\s+(.+))?"
    found = re.fullmatch(pattern, words, re.IGNORECASE)
    until = " ".join((found[2] or "").split()) if found else ""
    if found is None or not found[1].strip() or len(until.split()) > _words()["until_most"]:
        return words, ""
    return found[1].strip(" ,;.:-–—"), until


def _flat(words: str) -> str:
    return " ".join(re.findall(r"[^\W_]+", words.lower()))


def _telling(value: Value) -> frozenset[str]:
    return frozenset(_flat(told(value).words).split()) - frozenset(_words()["untelling"])
