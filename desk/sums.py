"""The sums of one service as lines of text, each with the figure it came from."""

from __future__ import annotations

from decimal import Decimal

from capture.errors import InputError
from desk.profile import Profile
from extract.values.units import Units
from record import shop
from record.compute import Interval, additive_for, in_units
from record.history import Line, figure, is_filter_change
from record.rules import rules
from record.service import Service
from record.shop import compression, short, torque, wire_note, wire_turns


def sums_text(line: Line, profile: Profile) -> list[str]:
    """Give every sum that the confirmed values of a service allow."""
    one = line.service
    units = profile.units
    made = [*_hours(line), *_oil(line, units), *_additive(one, profile), *_torque(one)]
    made += _wire(one)
    made += [*_cylinders(one), *line.asides]
    head = f"SUMS, job {one.job.id}{f', {one.on.isoformat()}' if one.on else ''}"
    return [head, "", *(made or ["nothing to reckon from"])]


def _hours(line: Line) -> list[str]:
    if line.hours is None:
        return [f"hours since the last oil change: not known, {line.why}"]
    said = [f"hours since the last oil change: {line.hours.show('h', 1)}"]
    if is_filter_change(line.service) and line.filter_hours is not None:
        said.append(f"hours since the last filter: {line.filter_hours.show('h', 1)}")
    return said


def _oil(line: Line, units: Units) -> list[str]:
    if line.oil is None:
        return [f"oil used: not known, {line.oil_why}"] if line.oil_why else []
    oil, step, own = line.oil, rules()["dipstick"]["resolution_qt"], units.own("qt")
    said = [
        f"oil used (burnt, leaked or blown out): {in_units(oil.used, 'qt', units).show(own)}, with "
        f"{units.show(line.topped_up, 'qt')} topped up in between"
    ]
    if oil.per_hour is not None and oil.per_quart is not None:
        rate = in_units(oil.per_hour, "qt", units).show(f"{own}/h", 3)
        one = units.value(Decimal(1), "qt")
        per = oil.per_quart
        back = Interval(per.low / one, per.value / one, per.high / one)
        said.append(f"that is {rate}, or {back.show(f'h/{own}', _places(back))}")
    said.append(
        f"  (dipstick read to {units.show(step, 'qt')}, {line.meter.name} to a tenth: the span in "
        "brackets)"
    )
    return [*said, *(f"  {note}" for note in oil.notes)]


def _places(hours: Interval) -> int:
    return 2 if hours.low < 10 else 1 if hours.low < 100 else 0


def _additive(one: Service, profile: Profile) -> list[str]:
    added, put = figure(one, "oil_added"), figure(one, "additive_added")
    if added is None or (profile.additive_per_qt is None and put is None):
        return []
    per_qt = profile.additive_per_qt
    wanted = additive_for(added, per_qt)
    by = "the profile's ratio" if per_qt is not None else f"{rules()['additive']['source']}"
    units = profile.units
    oil, share = units.show(added, "qt"), units.show(wanted, "fl oz")
    said = f"additive for {oil}: {share} by {by}"
    return [f"{said}; {units.show(put, 'fl oz')} noted" if put is not None else said]


def _torque(one: Service) -> list[str]:
    found = [e for e in one.entries.values() if e.name in ("filter_torque", "plug_torque")]
    said = []
    for entry in found:
        value = figure(one, entry.name, entry.position)
        if value is not None:
            place = f" {entry.position}" if entry.position is not None else ""
            said.append(f"{entry.name.replace('_', ' ')}{place}: {torque(value).show()}")
    return said


def _wire(one: Service) -> list[str]:
    diameter, twist = figure(one, "lockwire_diameter"), figure(one, "lockwire_twist")
    said = []
    if diameter is not None and twist is not None:
        for turns in wire_turns(diameter, twist):
            where = "within" if turns.inside else "outside"
            span = f"{turns.low} to {turns.high}"
            said.append(
                f"{short(twist)} turns an inch of {short(diameter, 4)} in wire: {where} {span}: "
                f"{turns.source}"
            )
    if diameter is not None and (note := wire_note(diameter)):
        said.append(note)
    return said


def _cylinders(one: Service) -> list[str]:
    said = []
    for entry in one.entries.values():
        held = figure(one, entry.name, entry.position)
        if entry.name != "cylinder_compression" or held is None or not 0 <= held <= 80:
            continue
        got = compression(held)
        share = f"{short(held)}/80, {got.share:.0%} held, {short(got.loss_percent)} % lost"
        said.append(f"cylinder {entry.position}: {share}{f'; {got.ask}' if got.ask else ''}")
    return said


def torque_lines(wanted: str, unit: str, length: str, adapter: str, way: str) -> list[str]:
    """Give a typed torque in three units, and with an adapter what the wrench must show.

    Raises `InputError` for a number, a unit or a way that cannot be.
    """
    unit = {"nm": "N·m", "n·m": "N·m"}.get(unit.lower(), unit.lower())
    if unit not in ("ft-lb", "in-lb", "N·m"):
        raise InputError(f"--unit {unit}: no unit of torque", todo="use ft-lb, in-lb or Nm")
    value = number(wanted, "the torque") or Decimal(0)
    told = [shop.torque(value, unit).show()]
    if not length and not adapter:
        return told
    arm, reach = number(length, "--length"), number(adapter, "--adapter")
    if arm is None or reach is None:
        raise InputError("both --length and --adapter are needed", todo="give them in one unit")
    setting = shop.wrench_setting(value, arm, reach, way)
    return [
        *told,
        f"wrench set to {shop.short(setting)} {unit}  (adapter {way}, {length} and {adapter} long)",
        "AC 43.13-1B 7-40h. The maker's current instructions come first.",
    ]


def number(text: str, what: str) -> Decimal | None:
    """Read a number of 0 or more as typed; None for nothing. Raises `InputError`."""
    from extract.values.kinds import KINDS

    if not text:
        return None
    value = KINDS["number"].parse(text)
    if not isinstance(value, Decimal) or value < 0:
        raise InputError(f"{what}: {text} is below nothing", todo="give a positive number")
    return value
