"""What a person types, made a value of its field by the catalogue."""

from __future__ import annotations

from decimal import Decimal

from capture.errors import InputError
from extract.values.catalogue import Catalogue, Field, load
from extract.values.draft import Position, Value


def field(name: str, catalogue: Catalogue | None = None) -> Field:
    """Give a field by its name. Raises InputError when the catalogue has none of that name."""
    found = (catalogue or load()).fields.get(name)
    if found is None:
        raise InputError(f"there is no field named {name!r}", todo="see the field catalogue")
    return found


def value(
    name: str, text: str, catalogue: Catalogue | None = None
) -> tuple[Value, tuple[str, ...]]:
    """Give the value that a person typed for a field, with doubts if it is hardly possible.

    A person may overrule the plausible range; the doubt is kept with the decision. Raises
    InputError for text that cannot be a value of the field.
    """
    found = field(name, catalogue)
    made = found.kind_object.parse(text)
    return made, beyond(found, made)


def beyond(field: Field, value: Value) -> tuple[str, ...]:
    """Give the doubt that a number lies outside what its field can plausibly be."""
    if not isinstance(value, Decimal):
        return ()
    for limit, off in ((field.low, "below"), (field.high, "above")):
        if limit is not None and (value < limit if off == "below" else value > limit):
            unit = f" {field.unit}" if field.unit else ""
            return (f"{value} is {off} {limit}{unit}, hardly possible for {field.label}",)
    return ()


def place(name: str, position: Position, catalogue: Catalogue | None = None) -> Position:
    """Give the position as the field writes it (`"3"` is 3). Raises InputError for a wrong one."""
    found = field(name, catalogue)
    if not found.positions:
        if position is None:
            return None
        raise InputError(f"{found.label} has no positions", todo="leave the position out")
    for known in found.positions:
        if str(known) == str(position).strip().lower():
            return known
    names = ", ".join(str(p) for p in found.positions)
    raise InputError(f"{found.label} needs its position", todo=f"give one of {names}")
