"""What a person types, made a value of its field by the catalogue."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches
from functools import cache

from capture.errors import InputError
from extract.values import units
from extract.values.catalogue import Catalogue, Field, load
from extract.values.draft import Position, Value
from record.values import name_now

ALL_FIELDS = "`cowlnote fields` lists them all"


@cache
def _catalogue() -> Catalogue:
    return load()


def catalogue_of(catalogue: Catalogue | None) -> Catalogue:
    """Give the catalogue that was handed in, else the one that comes with the program."""
    return _catalogue() if catalogue is None else catalogue


def label(name: str, position: Position, catalogue: Catalogue | None = None) -> str:
    """Give the plain words for a field and its position: `cylinder compression 3`."""
    found = catalogue_of(catalogue).fields.get(name)
    words = found.label if found else name.replace("_", " ")
    return words if position is None else f"{words} {position}"


def field(name: str, catalogue: Catalogue | None = None) -> Field:
    """Give a field by its name. Raises InputError when the catalogue has none of that name."""
    found = catalogue_of(catalogue).fields.get(name)
    if found is None:
        raise InputError(f"there is no field named {name!r}", todo=ALL_FIELDS)
    return found


@dataclass(frozen=True, slots=True)
class Typed:
    """A value as a person typed it: in the field's unit, and as typed if in another."""

    value: Value
    said: str | None = None


def named(text: str, catalogue: Catalogue | None = None) -> Field:
    """Give the field that a person means by its name, its label, or part of either.

    Raises InputError for words that mean none, with the nearest, or more than one, with each.
    """
    fields = list(catalogue_of(catalogue).fields.values())
    asked = _words(text)
    names = {f.name: (_words(f.name), _words(f.label)) for f in fields}
    said = {f.name: tuple(_words(cue) for cue in f.cues.get("names", ())) for f in fields}
    for ways in (
        [f for f in fields if asked in names[f.name]],
        [f for f in fields if asked in said[f.name]],
        [f for f in fields if asked and any(_part(asked, name) for name in names[f.name])],
    ):
        if len(ways) == 1:
            return ways[0]
        if len(ways) > 1:
            labels = ", ".join(f.label for f in ways)
            raise InputError(
                f"“{text}” may mean several fields: {labels}", todo=f"name one; {ALL_FIELDS}"
            )
    by_words = {" ".join(name): f.label for f in fields for name in names[f.name]}
    near = get_close_matches(" ".join(asked), by_words, 6, 0.4)
    labels = ", ".join(list(dict.fromkeys(by_words[n] for n in near))[:3])
    told = f"nearest: {labels}; " if labels else ""
    raise InputError(f"there is no field “{text}”", todo=f"{told}{ALL_FIELDS}")


def _words(text: str) -> tuple[str, ...]:
    plain = name_now(text.strip()).lower().replace("tyre", "tire")
    return tuple(re.findall(r"[a-z0-9]+", plain))


def _part(asked: tuple[str, ...], name: tuple[str, ...]) -> bool:
    """Tell whether each word that was typed is one of the name, or the beginning of one."""
    return all(
        any(w.startswith(a) or (len(w) > 3 and a.startswith(w)) for w in name) for a in asked
    )


def value(name: str, text: str, catalogue: Catalogue | None = None) -> Typed:
    """Give the value that a person typed for a field; `record.judge` weighs it.

    A number may have its unit (`23 Nm`); without one it is in the owner's unit. It is brought to
    the field's unit unrounded, and what was typed is kept beside it. Raises InputError for text
    that cannot be a value of the field, and for a unit that measures something else.
    """
    found = field(name, catalogue)
    if found.kind != "number" or found.unit is None:
        made = found.kind_object.parse(text)
        return Typed(made)
    bare, unit = units.typed(text)
    number = found.kind_object.parse(bare)
    given = unit or found.own_unit or found.unit
    if not isinstance(number, Decimal) or given == found.unit:
        return Typed(number)
    if found.unit not in units.NAMES or not units.alike(given, found.unit):
        raise InputError(
            f"{given} is no unit of {found.label}", todo=f"type it in {found.own_unit}"
        )
    made = units.convert(number, given, found.unit)
    return Typed(made, f"{number:f} {given}")


def beyond(field: Field, value: Value) -> tuple[str, ...]:
    """Give the doubt that a number lies outside what its field can plausibly be."""
    if not isinstance(value, Decimal):
        return ()
    for limit, off in ((field.low, "below"), (field.high, "above")):
        if limit is not None and (value < limit if off == "below" else value > limit):
            told, bound = field.show(value), field.show(limit)
            told = told.removesuffix(f" {field.own_unit}")
            return (f"{told} is {off} {bound}, hardly possible for {field.label}",)
    return ()


def place(name: str, position: Position, catalogue: Catalogue | None = None) -> Position:
    """Give the position as the field writes it (`"3"` is 3). Raises InputError for a wrong one."""
    found = field(name, catalogue)
    if not found.positions:
        if position is None:
            return None
        raise InputError(f"{found.label} has no positions", todo="leave the position out")
    for known in found.positions:
        if str(known).lower() == str(position).strip().lower():
            return known
    names = ", ".join(str(p) for p in found.positions)
    raise InputError(f"{found.label} needs its position", todo=f"give one of {names}")
