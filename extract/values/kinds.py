"""What kind of value a field holds: parse what a person typed, normalise, show, store, compare.

A kind is one small object without state. Values are `Decimal`, `str`, `bool` or `date`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from types import MappingProxyType
from typing import Protocol

from capture.errors import InputError
from extract.values.defects import Defect, Remark
from extract.values.draft import Value
from extract.values.units import shown

YES = frozenset({"yes", "y", "true", "t", "done", "ja", "oui"})
NO = frozenset({"no", "n", "false", "f", "not done", "nein", "non"})


class Kind(Protocol):
    """What every kind of value can do."""

    @property
    def name(self) -> str:
        """Give the word for this kind in the catalogue."""

    def parse(self, text: str) -> Value:
        """Read what a person typed; raise InputError with a plain sentence."""

    def normalise(self, value: Value) -> Value:
        """Give the one way this value is written."""

    def show(self, value: Value, unit: str | None = None) -> str:
        """Write it for a person, with its unit."""

    def store(self, value: Value) -> str:
        """Write it for the record, losing nothing."""

    def load(self, text: str) -> Value:
        """Read back what `store` wrote."""

    def same(self, a: Value, b: Value) -> bool:
        """Say whether two values are one and the same."""


MOST_FIGURES = 24  # more than any gauge shows, and well within what decimals reckon exactly


@dataclass(frozen=True, slots=True)
class Number:
    """An exact decimal. `8.0` and `8` are the same; what was stated is kept as stated."""

    name: str = "number"

    def parse(self, text: str) -> Decimal:
        """Read `17.5`, `17,5`, `2,345.6`; a comma before exactly three figures groups thousands."""
        plain = text.strip().replace(" ", "").replace("\u2212", "-")
        if re.fullmatch(r"[+-]?\d{1,3}(,\d{3})+(\.\d+)?", plain):
            plain = plain.replace(",", "")
        elif plain.count(",") == 1 and "." not in plain:
            plain = plain.replace(",", ".")
        if not re.fullmatch(r"[+-]?(\d+(\.\d*)?|\.\d+)", plain, re.ASCII):
            raise InputError(
                f"“{text.strip()[:60]}” is not a number", todo="type figures, such as 17.5"
            )
        if len(plain) > MOST_FIGURES:
            raise InputError(
                f"“{plain[:12]}…” has {len(plain)} figures", todo="type a number that a gauge shows"
            )
        return Decimal(plain)

    def normalise(self, value: Value) -> Decimal:
        """Give it without an exponent and without zeros that say nothing."""
        number = _decimal(value)
        whole = number.to_integral_value()
        return whole.quantize(Decimal(1)) if number == whole else number.normalize()

    def show(self, value: Value, unit: str | None = None) -> str:
        """Write it with its unit: `17.5 ft-lb`. What was converted is rounded, and only here."""
        number = _decimal(value)
        return shown(number, unit) if unit else shown(number, "").rstrip()

    def store(self, value: Value) -> str:
        """Write every figure it has."""
        return f"{_decimal(value):f}"

    def load(self, text: str) -> Decimal:
        """Read back what `store` wrote."""
        return _decimal(text)

    def same(self, a: Value, b: Value) -> bool:
        """Compare as numbers, exactly."""
        return _decimal(a) == _decimal(b)


@dataclass(frozen=True, slots=True)
class Text:
    """A name or part number in capitals, spaces closed up to one."""

    name: str = "text"

    def parse(self, text: str) -> str:
        """Take any text that is not blank."""
        if not text.strip():
            raise InputError("nothing was typed", todo="type the text as it stands on the part")
        return self.normalise(text)

    def normalise(self, value: Value) -> str:
        """Put it in capitals with single spaces."""
        return " ".join(str(value).upper().split())

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
        """Compare without regard to case, spaces and hyphens, which speech does not carry."""
        return _flat(a) == _flat(b)


@dataclass(frozen=True, slots=True)
class Words(Text):
    """Words as a person wrote them, their case kept."""

    name: str = "words"

    def normalise(self, value: Value) -> str:
        """Put single spaces between them."""
        return " ".join(str(value).split())


@dataclass(frozen=True, slots=True)
class Truth:
    """Yes or no."""

    name: str = "truth"

    def parse(self, text: str) -> bool:
        """Read yes or no and their usual short forms."""
        word = " ".join(text.lower().split())
        if word in YES:
            return True
        if word in NO:
            return False
        raise InputError(f"“{text.strip()}” is neither yes nor no", todo="type yes or no")

    def normalise(self, value: Value) -> bool:
        """Give a bool."""
        return value if isinstance(value, bool) else self.parse(str(value))

    def show(self, value: Value, unit: str | None = None) -> str:
        """Write yes or no."""
        return "yes" if value else "no"

    def store(self, value: Value) -> str:
        """Write true or false."""
        return "true" if value else "false"

    def load(self, text: str) -> bool:
        """Read back what `store` wrote."""
        return text == "true"

    def same(self, a: Value, b: Value) -> bool:
        """Compare exactly."""
        return a is b


@dataclass(frozen=True, slots=True)
class Day:
    """A calendar day, ISO 8601."""

    name: str = "date"

    def parse(self, text: str) -> date:
        """Read `2026-03-14`; no other order of day and month can be told apart safely."""
        try:
            return date.fromisoformat(text.strip())
        except ValueError as error:
            raise InputError(
                f"“{text.strip()}” is not a date", todo="type year-month-day, such as 2026-03-14"
            ) from error

    def normalise(self, value: Value) -> date:
        """Give a date."""
        return value if isinstance(value, date) else self.parse(str(value))

    def show(self, value: Value, unit: str | None = None) -> str:
        """Write it as ISO 8601."""
        return self.store(value)

    def store(self, value: Value) -> str:
        """Write it as ISO 8601."""
        return self.normalise(value).isoformat()

    def load(self, text: str) -> date:
        """Read back what `store` wrote."""
        return date.fromisoformat(text)

    def same(self, a: Value, b: Value) -> bool:
        """Compare as days."""
        return self.normalise(a) == self.normalise(b)


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few words, lower case. The catalogue says which; `choices` is empty for any."""

    choices: tuple[str, ...] = ()
    name: str = "choice"

    def parse(self, text: str) -> str:
        """Take one of the choices, whatever its case."""
        word = " ".join(text.lower().split())
        if not word or (self.choices and word not in self.choices):
            raise InputError(
                f"“{text.strip()}” is not one of the choices",
                todo=f"type one of: {', '.join(self.choices)}",
            )
        return word

    def normalise(self, value: Value) -> str:
        """Give it in lower case."""
        return " ".join(str(value).lower().split())

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
        """Compare as words."""
        return self.normalise(a) == self.normalise(b)


KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        kind.name: kind
        for kind in (Number(), Text(), Words(), Truth(), Day(), Choice(), Defect(), Remark())
    }
)


def _decimal(value: Value) -> Decimal:
    if isinstance(value, Decimal):
        return value
    try:
        return Decimal(str(value))
    except InvalidOperation as error:
        raise InputError(f"“{value}” is not a number") from error


def _flat(value: Value) -> str:
    return re.sub(r"[\s\-\u2010-\u2015]+", "", str(value)).lower()
