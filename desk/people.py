"""Who decides here: names said once and chosen after, with role and certificate if they want it.

What a person says of themselves lies in `people.toml` in the home. It goes on no paper by itself:
nothing here signs for anyone.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

from capture.errors import InputError
from desk import written

FILE = "people.toml"
ROLES = ("owner", "pilot", "mechanic", "inspector", "helper")


@dataclass(frozen=True, slots=True)
class Card:
    """What a person says of themselves; role and certificate are empty where not said."""

    name: str
    role: str = ""
    certificate: str = ""


def cards(home: Path) -> dict[str, Card]:
    """Give the people of a home by name. Raises InputError where the file cannot be read."""
    path = home / FILE
    if not path.is_file():
        return {}
    try:
        raw = tomllib.loads(path.read_text("utf-8"))
        found = [
            Card(*(str(one.get(k, "")) for k in ("name", "role", "certificate")))
            for one in raw.get("person", [])
        ]
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, AttributeError) as error:
        raise InputError("cannot be read", path, str(error)) from None
    return {one.name: one for one in found if one.name}


def put(home: Path, card: Card) -> None:
    """Add a person, or what is said of one, keeping the rest of the file.

    Raises `InputError`: no name, a role that is none, or the file cannot be read or written.
    """
    import tomlkit

    from record.chain import person

    person(card.name)
    if card.role and card.role not in ROLES:
        raise InputError(f"{card.role}: no such role", todo=f"use {', '.join(ROLES)}")
    known = cards(home)  # a file that cannot be read is left as it is
    path = home / FILE
    document = tomlkit.parse(path.read_text("utf-8")) if path.is_file() else tomlkit.document()
    if not known:
        document.add(tomlkit.comment("Who decides at this desk. It goes on no paper by itself."))
    rows = document.setdefault("person", tomlkit.aot())
    row = next((one for one in rows if one.get("name") == card.name), None)
    if row is None:
        row = tomlkit.table()
        rows.append(row)
    for key in ("name", "role", "certificate"):
        if said := getattr(card, key):
            row[key] = said
        else:
            row.pop(key, None)
    try:
        written.whole(path, tomlkit.dumps(document).encode())
    except OSError as error:
        raise InputError(
            f"cannot be written ({error.strerror})", path, "check who may write there"
        ) from None
