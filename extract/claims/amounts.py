"""A quantity brought to the unit of a field, and the doubts that this raises."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from extract.exact.quantities import Quantity, convert, plain, units
from extract.talk.statements import Page, Statement
from extract.values.catalogue import Field


def value_of(field: Field, quantity: Quantity) -> tuple[Decimal, list[str]]:
    """Bring a quantity to the field's unit: the value and the doubts that this raises."""
    number, unit = quantity.number, quantity.unit
    target = units()[field.unit or ""]
    if unit is None:
        return _without_unit(field, quantity)
    if unit.name == "mil" and target.dimension in ("volume", "length"):
        return _mil(field, number.value)
    if unit.dimension == target.dimension:
        if unit.name == "in" and number.value >= 1 and field.unit == "in":
            return _without_unit(field, quantity)
        return convert(number.value, unit, target), []
    if unit.name in field.units:
        doubts = (
            [f"only “{unit.name}” was said, taken as {field.unit}"] if field.unit == "ft-lb" else []
        )
        return plain(number.value), doubts
    return plain(number.value), [f"{unit.name} was said, which is no unit of {field.label}"]


def _mil(field: Field, value: Decimal) -> tuple[Decimal, list[str]]:
    """A *mil* is a millilitre of oil, and of wire a millimetre or a thousandth of an inch."""
    target = units()[field.unit or ""]
    meant = "ml" if target.dimension == "volume" else "mm" if value < 5 else "thou"
    doubts = [f"“mil” taken as {meant}"] if meant == "thou" else []
    return convert(value, units()[meant], target), doubts


def _without_unit(field: Field, quantity: Quantity) -> tuple[Decimal, list[str]]:
    number = quantity.number
    if field.unit == "in" and number.digits.startswith("0") and "." not in number.digits:
        return Decimal("0." + number.digits), []
    value = plain(number.value)
    if field.unit == "in" and value >= 1000 and value % 1000 == 0:
        # "thirty-two thousand": the last sound of *thousandths* is often lost
        return value / 1_000_000, ["“thousand” was taken for thousandths"]
    if (tenths := _unsaid_point(field, quantity)) is not None:
        return tenths, ["no point was said, taken as tenths"]
    if field.bare is not None and not field.plausible(value):
        bare = units()[field.bare]
        other = convert(value, bare, units()[field.unit or ""])
        if field.plausible(other):
            doubts = [] if field.unit == "in" else [f"no unit was said, taken as {bare.name}"]
            return other, doubts
    return value, []


def _unsaid_point(field: Field, quantity: Quantity) -> Decimal | None:
    """*twenty-four six on the battery*: 24.6, where only that can be the value."""
    number = quantity.number
    last = number.pieces[-1][1] if number.pieces else ""
    if number.style != "groups" or len(number.pieces) != 2 or len(last) != 1 or field.decimals == 1:
        return None
    value = Decimal(number.digits) / 10
    fine = field.step == Decimal("0.1") and not field.plausible(number.value)
    return plain(value) if fine and field.plausible(value) else None


def inherit(
    page: Page, i: int, field: Field, quantity: Quantity, made: Sequence[Statement]
) -> tuple[Quantity, list[str]]:
    """*out came five litres, in went six*: a number without a unit after one in a foreign unit."""
    if quantity.unit is not None or not made or field.unit is None:
        return quantity, []
    spoken = page.slots[made[-1].slot].what
    unit = spoken.unit if isinstance(spoken, Quantity) else None
    close = page.sentence(i) - page.sentence(made[-1].slot) <= 1
    if unit is None or not close or unit.name == field.unit or unit.name not in field.units:
        return quantity, []
    if unit.loose or unit.dimension != units()[field.unit].dimension or field.unit == "in":
        return quantity, []
    return replace(quantity, unit=unit), [
        f"no unit was said, taken as {unit.name} like the one before"
    ]
