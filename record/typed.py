"""What a person types, made a value of its field by the catalogue."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from capture.errors import InputError
from extract.values import units
from extract.values.catalogue import Catalogue, Field, load
from extract.values.draft import Position, Value


def field(name: str, catalogue: Catalogue | None = None) -> Field:
    """Give a field by its name. Raises InputError when the catalogue has none of that name."""
    found = (catalogue or load()).fields.get(name)
    if found is None:
        raise InputError(f"there is no field named {name!r}", todo="see the field catalogue")
    return found


@dataclass(frozen=True, slots=True)
class Typed:
    """A value as a person typed it: in the field's unit, its doubts, and as typed if otherwise."""

    value: Value
    doubts: tuple[str, ...] = ()
    said: str | None = None


def value(name: str, text: str, catalogue: Catalogue | None = None) -> Typed:
    """Give the value that a person typed for a field, with doubts if it is hardly possible.

    A number may have its unit (`23 Nm`); without one it is in the owner's unit. It is brought to
    the field's unit unrounded, and what was typed is kept beside it. A person may overrule the
    plausible range; the doubt is kept with the decision. Raises InputError for text that cannot be
    a value of the field, and for a unit that measures something else.
    """
    found = field(name, catalogue)
    if found.kind != "number" or found.unit is None:
        made = found.kind_object.parse(text)
        return Typed(made, beyond(found, made))
    bare, unit = units.typed(text)
    number = found.kind_object.parse(bare)
    given = unit or found.own_unit or found.unit
    if not isinstance(number, Decimal) or given == found.unit:
        return Typed(number, beyond(found, number))
    if found.unit not in units.NAMES or not units.alike(given, found.unit):
        raise InputError(
            f"{given} is no unit of {found.label}", todo=f"type it in {found.own_unit}"
        )
    made = units.convert(number, given, found.unit)
    return Typed(made, beyond(found, made), f"{number:f} {given}")


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
