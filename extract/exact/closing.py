"""What closes a number: *over eighty*, its unit, and what follows a unit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from extract.exact.measures import Unit, convert, rulers, unit_behind, unit_here
from extract.exact.reading import Candidate, Reading
from extract.exact.tails import fraction_at, over_at, point_at, tenths_at
from extract.exact.terms import atoms_at, joins
from extract.words.parts import Part


def closed(parts: Sequence[Part], start: int, end: int, readings: list[Reading]) -> Candidate:
    """Add *over eighty*, the unit, and what follows a unit: *and a half*, *and three tenths*."""
    if (over := over_at(parts, end)) is not None:
        below = [r for r in readings if isinstance(r.value, Decimal) and r.value <= over[0]]
        return Candidate(start, over[1], tuple(replace(r, over=over[0]) for r in below or readings))
    found = unit_behind(parts, end)
    if found is None:
        return Candidate(start, end, tuple(readings))
    unit, stop = found
    more, stop = behind_unit(parts, stop)
    made = [_with(reading, unit, more) for reading in readings]
    if not more and len(readings) == 1 and (longer := _longer(parts, made[0], stop)) is not None:
        made.insert(0 if unit.name in rulers() else 1, longer)
    return Candidate(start, stop, tuple(made))


def _with(reading: Reading, unit: Unit, more: Decimal) -> Reading:
    """Give a reading its unit, and what was said behind the unit."""
    if not more or not isinstance(reading.value, Decimal):
        return replace(reading, unit=unit)
    total = reading.value + more
    return replace(reading, value=total, unit=unit, digits=str(total))


def _longer(parts: Sequence[Part], first: Reading, stop: int) -> Reading | None:
    """*five litres seven*, *five litres and six decilitres*: all of it as one value.

    The words behind the unit may be another thing (*seven quarts and nine ounces of additive*), so
    that this is a reading beside the plain one and never takes its place.
    """
    if first.unit is None or not isinstance(first.value, Decimal) or "." in first.digits:
        return None
    if (figures := _digit_behind(parts, first.unit, stop)) is not None:
        digits = f"{first.digits}.{figures}"
        return Reading("number", Decimal(digits), first.unit, "figures behind the unit", digits)
    if (small := smaller_behind(parts, first.unit, stop)) is not None:
        total = first.value + small
        return Reading("number", total, first.unit, "with a smaller unit", str(total))
    return None


def _digit_behind(parts: Sequence[Part], unit: Unit, stop: int) -> str | None:
    """*four bar two*: the figures that follow a unit and nothing else."""
    if unit.dimension not in ("volume", "pressure", "voltage") or unit.loose:
        return None
    if stop >= len(parts) or parts[stop - 1].after:
        return None
    atoms = atoms_at(parts, stop)
    if len(atoms) != 1 or atoms[0].kind not in "dg" or atoms[0].text == "1":
        return None
    end = atoms[0].end
    if unit_behind(parts, end) is not None or point_at(parts, end) or over_at(parts, end):
        return None
    return atoms[0].text


def behind_unit(parts: Sequence[Part], stop: int) -> tuple[Decimal, int]:
    """*a quart and a half*, *hours and three tenths*: what is added, and where it ends."""
    none = Decimal(0), stop
    if stop >= len(parts) or parts[stop].norm not in ("and", "an", "plus"):
        return none
    if (tenths := tenths_at(parts, stop)) is not None:
        return Decimal(f"0.{tenths[0]}"), tenths[1]
    more = fraction_at(parts, stop)
    slipped = more is not None and {p.norm for p in parts[stop : more[1]]} & joins()["unsure"]
    if more is None or slipped or unit_behind(parts, more[1]) is not None:
        return none
    article = [p.norm for p in parts[more[1] : more[1] + 1]] in (["a"], ["an"])
    return none if article and unit_here(parts, more[1] + 1) is not None else more


def smaller_behind(parts: Sequence[Part], unit: Unit, stop: int) -> Decimal | None:
    """*five litres and six decilitres*, *a gallon and a quart*: what the smaller unit adds."""
    if stop >= len(parts) or parts[stop].norm not in ("and", "an", "plus"):
        return None
    atoms = atoms_at(parts, stop + 1) if stop + 1 < len(parts) else []
    article = [p.norm for p in parts[stop + 1 : stop + 2]] in (["a"], ["an"])
    if not atoms and article and (one := unit_here(parts, stop + 2)) is not None:
        return convert(Decimal(1), one[0], unit) if _is_part(one[0], unit) else None
    second = unit_behind(parts, atoms[0].end) if len(atoms) == 1 else None
    if second is None or not _is_part(second[0], unit):
        return None
    return convert(atoms[0].value, second[0], unit)


def _is_part(small: Unit, unit: Unit) -> bool:
    """Say whether a unit is a smaller one of the same measure, as a quart of a gallon."""
    measured = small.dimension == unit.dimension == "volume" and not (small.loose or unit.loose)
    return measured and small.factor < unit.factor
