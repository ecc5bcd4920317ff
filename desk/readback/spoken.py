"""Values in words, as people say them in a hangar: figures, fractions, codes, grades, days.

The words are data (`desk/data/readback.toml`); here is only how they are put together. A number is
said exactly, or rounded as it is shown where it was converted; never otherwise.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

FILE = Path(__file__).parents[1] / "data" / "readback.toml"
_PARTS = {Decimal("0.25"): "a quarter", Decimal("0.5"): "a half", Decimal("0.75"): "three quarters"}
_SMALL = {
    Decimal("0.25"): "a quarter of a",
    Decimal("0.5"): "half a",
    Decimal("0.75"): "three quarters of a",
}


@cache
def words() -> Mapping[str, Any]:
    """Give the file of words."""
    return tomllib.loads(FILE.read_text("utf-8"))


def cardinal(number: int) -> str:
    """Say a whole number from 0 to 999,999: `one hundred ninety-eight`, without "and"."""
    said = words()["numbers"]
    if number < 20:
        return str(said["ones"][number])
    if number < 100:
        ten, one = divmod(number, 10)
        return f"{said['tens'][ten]}-{said['ones'][one]}" if one else str(said["tens"][ten])
    size, name = (1000, said["thousand"]) if number >= 1000 else (100, said["hundred"])
    front, rest = divmod(number, size)
    return f"{cardinal(front)} {name}" + (f" {cardinal(rest)}" if rest else "")


def figures(text: str) -> str:
    """Say each figure by itself."""
    return " ".join(str(words()["numbers"]["ones"][int(figure)]) for figure in text)


def count(number: Decimal) -> str:
    """Say a number: the whole as one, what is behind the point figure by figure."""
    said = words()["numbers"]
    front, _, behind = f"{abs(number):f}".partition(".")
    text = cardinal(int(front)) if len(front) <= 6 else figures(front)
    if behind:
        text += f" {said['point']} {figures(behind)}"
    return f"{said['minus']} {text}" if number < 0 else text


def digits(number: Decimal) -> str:
    """Say a counter's reading, every figure by itself, its point as "decimal"."""
    said = words()["numbers"]
    front, _, behind = f"{abs(number):f}".partition(".")
    text = figures(front) + (f" {said['decimal']} {figures(behind)}" if behind else "")
    return f"{said['minus']} {text}" if number < 0 else text


def measure(number: Decimal, unit: str) -> str:
    """Say an amount with its unit by quarters, as a dipstick has them; else as `count`."""
    whole, part = divmod(number, 1)
    if number > 0 and part in _PARTS:
        if whole == 0:
            return f"{_SMALL[part]} {_unit(unit, Decimal(1))}"
        return f"{cardinal(int(whole))} and {_PARTS[part]} {_unit(unit, number)}"
    return counted(number, unit)


def counted(number: Decimal, unit: str) -> str:
    """Say a number and its unit."""
    return f"{count(number)} {_unit(unit, number)}".strip()


def _unit(unit: str, number: Decimal) -> str:
    one, several = words()["units"].get(unit, (unit, unit))
    return str(one if number == 1 else several)


def code(text: str) -> str:
    """Spell a part number: letters by the spelling alphabet, figures singly, a dash as "dash"."""
    said, numbers = words()["letters"], words()["numbers"]["ones"]
    spelled = (
        said.get(sign, numbers[int(sign)] if sign in "0123456789" else sign)
        for sign in text.upper()
        if sign != " "
    )
    return " ".join(spelled)


def grade(text: str) -> str:
    """Say an oil grade: `SAE 50` as "single grade fifty", `20W-50` as "twenty W fifty"."""
    if found := re.fullmatch(r"SAE (\d+)", text):
        return f"single grade {cardinal(int(found[1]))}"
    if found := re.fullmatch(r"(\d+)W-?(\d+)", text):
        return f"{cardinal(int(found[1]))} W {cardinal(int(found[2]))}"
    return code(text)


def day(value: date) -> str:
    """Say a day: the fourteenth of March twenty twenty-six."""
    said = words()["numbers"]
    front, back = divmod(value.year, 100)
    year = cardinal(value.year) if back < 10 else f"{cardinal(front)} {cardinal(back)}"
    return f"the {said['ordinals'][value.day]} of {said['months'][value.month]} {year}"


def clock(hour: int, minute: int) -> str:
    """Say a time of day: ten forty-two, ten oh five, ten hundred."""
    if minute == 0:
        return f"{cardinal(hour)} {words()['numbers']['hundred']}"
    return f"{cardinal(hour)} {'oh ' if minute < 10 else ''}{cardinal(minute)}"
