"""What `[[recurring]]` and `[[reference]]` of `aircraft.toml` may say."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from capture.errors import InputError
from record.terms import Recurring, Reference

Read = Callable[[Mapping[str, Any], Mapping[str, Any], Path, str], dict[str, Any]]


def recurring(raw: Any, keys: Mapping[str, Any], read: Read, where: Path) -> tuple[Recurring, ...]:
    """Read what recurs. Raises `InputError`: a key that is none, nothing named, named twice."""
    made: list[Recurring] = []
    for number, one in enumerate(_tables(raw, "recurring", where), start=1):
        got = read(one, keys, where, f"recurring {number}: ")
        if "what" not in got:
            raise InputError(f"recurring {number}: says not what", where, 'add what = "…"')
        if any(got["what"].lower() == other.what.lower() for other in made):
            raise InputError(f"recurring: {got['what']} is there twice", where, "keep one of them")
        got = {
            {"last_date": "last_day", "until_date": "until_day", "by": "meter"}.get(k, k): v
            for k, v in got.items()
        }
        made.append(Recurring(**got))
    return tuple(made)


def references(raw: Any, keys: Mapping[str, Any], read: Read, where: Path) -> tuple[Reference, ...]:
    """Read the references to directives and bulletins; they are kept and never judged."""
    made = []
    for number, one in enumerate(_tables(raw, "reference", where), start=1):
        got = read(one, keys, where, f"reference {number}: ")
        if "text" not in got:
            raise InputError(f"reference {number}: has no text", where, 'add text = "…"')
        made.append(Reference(got["text"], got.get("date")))
    return tuple(made)


def _tables(raw: Any, name: str, where: Path) -> Sequence[Mapping[str, Any]]:
    if not isinstance(raw, list) or not all(isinstance(one, dict) for one in raw):
        raise InputError(
            f"{name}: each is a table", where, f"write [[{name}]] on a line of its own"
        )
    return raw
