"""What closes a number: *over eighty*, its unit, and what follows a unit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from extract.exact.measures import brought, unit_behind, unit_here
from extract.exact.quantities import Unit
from extract.exact.reading import Candidate, Reading
from extract.exact.tails import fraction_at, over_at, point_at, tenths_at
from extract.exact.terms import atoms_at
from extract.words.parts import Part


def closed(parts: Sequence[Part], start: int, end: int, readings: list[Reading]) -> Candidate:
    """Add *over eighty*, the unit, and what follows a unit: *and a half*, *and three tenths*."""
    if (over := over_at(parts, end)) is not None:
        kept = [r for r in readings if r.value is not None and r.value <= over[0]] or readings  # type: ignore[operator]
        return Candidate(start, over[1], tuple(replace(r, over=over[0]) for r in kept))
    found = unit_behind(parts, end)
    if found is None:
        return Candidate(start, end, tuple(readings))
    unit, stop = found
    more, stop = behind_unit(parts, unit, stop)
    made = []
    if not more and len(readings) == 1 and (tenth := _digit_behind(parts, unit, stop)) is not None:
        digits = f"{readings[0].digits}.{tenth[0]}"
        if "." not in readings[0].digits:
            said = Reading("number", Decimal(digits), unit, "figures behind the unit", digits)
            made, stop = [said], tenth[1]
    for reading in readings:
        value = Decimal(reading.digits) if reading.how != "fraction" else reading.value
        total = (value or Decimal(0)) + more  # type: ignore[operator]
        digits = str(total) if more else reading.digits
        made.append(replace(reading, value=total, unit=unit, digits=digits))
    return Candidate(start, stop, tuple(made))


def _digit_behind(parts: Sequence[Part], unit: Unit, stop: int) -> tuple[str, int] | None:
    """*five litres seven*, *four bar two*: the figures behind the point follow the unit."""
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
    return atoms[0].text, end


def behind_unit(parts: Sequence[Part], unit: Unit, stop: int) -> tuple[Decimal, int]:
    """*a quart and a half*, *hours and three tenths*, *five litres and six decilitres*."""
    none = Decimal(0), stop
    if stop >= len(parts) or parts[stop].norm not in ("and", "an", "plus"):
        return none
    if (tenths := tenths_at(parts, stop)) is not None:
        return Decimal(f"0.{tenths[0]}"), tenths[1]
    if (more := fraction_at(parts, stop)) is not None and unit_behind(parts, more[1]) is None:
        return more
    atoms = atoms_at(parts, stop + 1) if stop + 1 < len(parts) else []
    if not atoms and [p.norm for p in parts[stop + 1 : stop + 2]] in (["a"], ["an"]):
        small = unit_here(parts, stop + 2)
        if small is not None and _is_part(small[0], unit):
            return brought(Decimal(1), small[0], unit), small[1]
    second = unit_behind(parts, atoms[0].end) if len(atoms) == 1 else None
    if second is not None and _is_part(second[0], unit):
        return brought(atoms[0].value, second[0], unit), second[1]
    return none


def _is_part(small: Unit, unit: Unit) -> bool:
    """Say whether a unit is a smaller one of the same measure, as a quart of a gallon."""
    measured = small.dimension == unit.dimension == "volume" and not (small.loose or unit.loose)
    return measured and small.factor < unit.factor
