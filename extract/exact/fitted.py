"""A candidate convert to the unit of a field: the values that it may have there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from extract.exact.again import IN_GROUPS
from extract.exact.letters import grade_names
from extract.exact.measures import Unit, all_units, convert, rulers
from extract.exact.reading import Candidate, Reading
from extract.values.catalogue import Field

FOREIGN = " is no measure of it"
_SAME = Decimal("0.000001")
_HOT = 140  # oil is seldom colder in °F after a run, nor hotter in °C
_LOOSE_MIL = 5  # a *mil* of wire below this is a millimetre, above it a thousandth of an inch


@dataclass(frozen=True, slots=True)
class Fitted:
    """A value in the field's unit, the reading it comes from, and what had to be supposed.

    `supposed` is empty where the words say it all, else a few words: the unit or the point that
    nobody said.
    """

    value: Decimal | str | date
    reading: Reading
    supposed: str = ""


def values_for(
    candidate: Candidate, field: Field, year: int | None = None
) -> tuple[Decimal | str | date, ...]:
    """Give the exact values that a candidate may have in a field, the likeliest first.

    `year` is that of the day on which it was said, for a date without one.
    """
    return tuple(fit.value for fit in fitted(candidate, field, year))


def fitted(candidate: Candidate, field: Field, year: int | None = None) -> tuple[Fitted, ...]:
    """Give the values that a candidate may have in a field, each with its reading."""
    made: list[Fitted] = []
    for fit in _all(candidate, field, year):
        if not any(_alike(fit.value, other.value) for other in made):
            made.append(fit)
    made.sort(key=lambda fit: _rank(fit, field))
    return tuple(made)


def _alike(a: Decimal | str | date, b: Decimal | str | date) -> bool:
    if isinstance(a, Decimal) and isinstance(b, Decimal):
        return abs(a - b) <= _SAME * max(abs(a), abs(b))
    return a == b


def _rank(fit: Fitted, field: Field) -> tuple[int, int]:
    """What is plausible goes first, then what has the tenths that its meter shows.

    Beyond that the order of the readings stands.
    """
    if not isinstance(fit.value, Decimal):
        return 0, 0
    if field.decimals != 1:
        return int(not field.plausible(fit.value)), 0
    whole = 2 if "." not in fit.reading.digits else int(fit.reading.how != IN_GROUPS)
    return int(not field.plausible(fit.value)), whole


def _all(candidate: Candidate, field: Field, year: int | None) -> Iterator[Fitted]:
    for reading in candidate.readings:
        if field.kind == "number":
            if reading.kind == "number" and (reading.how != IN_GROUPS or field.decimals == 1):
                yield from _numbers(reading, candidate, field)
        elif field.kind == "date":
            if reading.kind == "date" and (day := _day(reading, year)) is not None:
                yield Fitted(day, reading, "" if reading.value else "no year was said")
        elif field.kind == "text":
            yield from _texts(reading, field)


def _day(reading: Reading, year: int | None) -> date | None:
    if isinstance(reading.value, date):
        return reading.value
    try:
        return date(year, reading.month, reading.day) if year else None
    except ValueError:
        return None


def _texts(reading: Reading, field: Field) -> Iterator[Fitted]:
    wanted = "grade" if field.spelled == "grade" else "code"
    if reading.kind == wanted:
        yield Fitted(str(reading.value), reading)
    elif reading.kind == "number" and reading.unit is None:
        if wanted == "code":
            yield Fitted(reading.digits, reading, "it has no letter")
        else:
            for name in grade_names(reading.digits):
                yield Fitted(name, reading, "taken for a grade")


def _numbers(reading: Reading, candidate: Candidate, field: Field) -> Iterator[Fitted]:
    value, unit = reading.value, reading.unit
    if not isinstance(value, Decimal) or field.unit is None:
        return
    target = all_units()[field.unit]
    if unit is None or (unit.name == "in" and target.name == "in" and value >= 1):
        yield from _bare(reading, value, candidate, field, target)
    elif unit.name == "mil" and (meant := _mil(value, target)) is not None:
        yield Fitted(convert(value, meant, target), reading)
    elif unit.name == "°" or (unit.loose and unit.dimension == "twist"):
        yield from _bare(reading, value, candidate, field, target)
    elif unit.dimension == target.dimension:
        yield Fitted(convert(value, unit, target), reading)
        metric = unit.name != target.name or field.step < 1
        if metric and (tenth := _unsaid_point(reading, value, unit, target, field)) is not None:
            yield Fitted(tenth, reading, "no point was said")
    elif unit.name == "lb":
        yield Fitted(value, reading)
        if target.dimension == "torque":
            yield Fitted(convert(value, all_units()["in-lb"], target), reading, "taken as in-lb")
    else:
        for fit in _own(reading, value, field, target):
            yield Fitted(fit.value, reading, f"{unit.name}{FOREIGN}")


def _mil(value: Decimal, target: Unit) -> Unit | None:
    if target.dimension == "volume":
        return all_units()["ml"]
    if target.dimension == "length":
        return all_units()["mm" if value < _LOOSE_MIL else "thou"]
    return None


def _unsaid_point(
    reading: Reading, value: Decimal, unit: Unit, target: Unit, field: Field
) -> Decimal | None:
    """*twelve six volts*, *seven five quarts*: with its point it can be, without it cannot."""
    if field.plausible(convert(value, unit, target)) or "." in reading.digits:
        return None
    for by in (10, 100, 1000):
        less = convert(value / by, unit, target)
        if len(reading.digits) >= len(str(by)) and field.plausible(less):
            return less
    return None


def _bare(
    reading: Reading, value: Decimal, candidate: Candidate, field: Field, target: Unit
) -> Iterator[Fitted]:
    """Read a number without a unit: in one said elsewhere, in the field's own, in one that fits."""
    fits: list[Fitted] = []
    carried = [unit for u in candidate.carried if (unit := _meant(u, value, target)) is not None]
    for unit in _in_order(carried, target):
        if unit.name == target.name:
            fits += _own(reading, value, field, target)
        else:
            fits += _in(reading, value, unit, target, field, f"{unit.name} said elsewhere")
    yield from fits
    doubtful = target.name == "°F" and value < _HOT and not carried
    if doubtful or not any(_plausible(fit, field) for fit in fits):
        yield from _guessed(reading, value, field, target)


def _in_order(carried: Sequence[Unit], target: Unit) -> list[Unit]:
    """Put the field's own unit where it was said; else behind a unit that is kept to, or first."""
    if target.name in {unit.name for unit in carried}:
        return list(carried)
    kept = bool(carried) and carried[0].name in rulers()
    return [*carried, target] if kept else [target, *carried]


def _plausible(fit: Fitted, field: Field) -> bool:
    return isinstance(fit.value, Decimal) and field.plausible(fit.value)


def _guessed(reading: Reading, value: Decimal, field: Field, target: Unit) -> Iterator[Fitted]:
    """Read a number in each unit that people use for the field, where the value can be."""
    for name in field.units:
        unit = all_units()[name]
        if unit.dimension == target.dimension and unit.name != target.name:
            found = _in(reading, value, unit, target, field, f"taken as {unit.name}")
            yield from (fit for fit in found if _plausible(fit, field))


def _meant(unit: Unit, value: Decimal, target: Unit) -> Unit | None:
    if unit.name == "mil":
        return _mil(value, target)
    return unit if unit.dimension == target.dimension and not unit.loose else None


def _in(
    reading: Reading, value: Decimal, unit: Unit, target: Unit, field: Field, why: str
) -> Iterator[Fitted]:
    yield Fitted(convert(value, unit, target), reading, why)
    if (less := _unsaid_point(reading, value, unit, target, field)) is not None:
        yield Fitted(less, reading, f"{why}, no point was said")


def _own(reading: Reading, value: Decimal, field: Field, target: Unit) -> Iterator[Fitted]:
    """Read a number without a unit in the field's own."""
    digits = reading.digits
    if target.name == "in" and "." not in digits:
        if digits.startswith("0"):
            inches = Decimal(f"0.{digits}")
            yield Fitted(inches, reading)
            metric = convert(Decimal(f"0.{digits[1:] or 0}"), all_units()["mm"], target)
            if not field.plausible(inches) and field.plausible(metric):
                yield Fitted(metric, reading, "taken as mm")
            return
        large = value >= 1000 and value % 1000 == 0  # the last sound of *thousandths* is lost
        yield Fitted(value / (1_000_000 if large else 1000), reading, "taken as thousandths")
        return
    tenths = _has_tenth(reading) if field.decimals == 1 else ""
    if tenths == "sure":
        yield Fitted(value / 10, reading, "no point was said")
    yield Fitted(value, reading)
    if tenths == "may be":
        yield Fitted(value / 10, reading, "no point was said")
    fine = field.step < 1 and not tenths
    if fine and (less := _unsaid_point(reading, value, target, target, field)) is not None:
        yield Fitted(less, reading, "no point was said")
    if target.name == "rpm" and value < 30:
        yield Fitted(value * (100 if value >= 6 else 1000), reading, "taken as hundreds")


def _has_tenth(reading: Reading) -> str:
    """Say whether the last figure of *eighteen forty-two six* is its tenth: `sure`, `may be`."""
    groups = reading.groups
    if len(groups) < 2 or "." in reading.digits or len(groups[-1]) != 1:
        return ""
    grouped = any(len(group) > 1 for group in groups)
    return "sure" if (grouped and len(reading.digits) >= 3) or len(groups) >= 5 else "may be"
