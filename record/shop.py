"""Sums of the workshop: torque, the wrench with an adapter, safety wire, compression. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from capture.errors import InputError
from extract.values.units import convert
from record.rules import rules

WAYS = ("in line", "back", "square")


@dataclass(frozen=True, slots=True)
class Torque:
    """One torque in the three units of the trade."""

    ft_lb: Decimal
    in_lb: Decimal
    n_m: Decimal

    def show(self) -> str:
        """Give `17 ft-lb = 204 in-lb = 23.05 N·m`."""
        return f"{short(self.ft_lb)} ft-lb = {short(self.in_lb)} in-lb = {self.n_m:.2f} N·m"


@dataclass(frozen=True, slots=True)
class Turns:
    """Turns of safety wire to the inch that one source gives, and whether a count is within."""

    low: Decimal
    high: Decimal
    inside: bool
    source: str


@dataclass(frozen=True, slots=True)
class Compression:
    """A differential compression reading: psi held of 80, as a share, and the loss in per cent."""

    held_psi: Decimal
    share: Decimal
    loss_percent: Decimal
    ask: str


def torque(value: Decimal, unit: str = "ft-lb") -> Torque:
    """Give a torque in ft-lb, in-lb and N·m (1 lbf·ft = 1.355 817 948 331 4 N·m: SP 811, B)."""
    return Torque(*(convert(value, unit, to) for to in ("ft-lb", "in-lb", "N·m")))


def wrench_setting(
    wanted: Decimal, length: Decimal, extension: Decimal, way: str = "in line"
) -> Decimal:
    """Give what the wrench must show so that `wanted` reaches the fastener through an adapter.

    setting = wanted * L / (L + A), with the adapter pointing away from the handle in line with it;
    wanted * L / (L - A) pointing back toward the handle; unchanged at a right angle. L is the
    length of the wrench from its drive to the hand, A the adapter's from drive to fastener, in one
    unit; the setting is in the unit of `wanted`. AC 43.13-1B 7-40h; formula as in TM
    1-1500-204-23-9. Raises `InputError` for lengths that cannot be.
    """
    if way not in WAYS:
        raise InputError(
            f"'{way}' is no way to set an adapter", todo=f"use one of: {', '.join(WAYS)}"
        )
    if length <= 0 or extension < 0 or wanted < 0:
        raise InputError(
            "a length or a torque is below nothing", todo="give them as positive numbers"
        )
    if way == "square":
        return wanted
    arm = length + extension if way == "in line" else length - extension
    if arm <= 0:
        raise InputError(
            "the adapter pointing back is as long as the wrench", todo="use a longer wrench"
        )
    return wanted * length / arm


def wire_turns(diameter: Decimal, turns: Decimal) -> tuple[Turns, ...]:
    """Set turns to the inch of double-twisted wire beside what each source gives for it.

    `diameter` is in inches; one within 0.0006 in of a size is that size, as millimetre wire is.
    NASM33540 by diameter and AC 43.13-1B for any wire; both are inclusive. The sources differ, and
    makers differ from both: each is named, none decides. Empty of the first where it has no line.
    """
    size = wire_size(diameter)
    lines = [r for r in rules()["wire"] if r["diameter"][0] <= size <= r["diameter"][1]]
    return tuple(
        Turns(Decimal(low), Decimal(high), low <= turns <= high, line["source"])
        for line in (*lines, rules()["wire_any"])
        for low, high in [line["turns"]]
    )


def wire_size(diameter: Decimal) -> Decimal:
    """Give the inch size that a wire of this diameter (in) stands for; else the diameter."""
    rule = rules()["wire_sizes"]
    nearest: Decimal = min(rule["inches"], key=lambda size: abs(size - diameter))
    return nearest if abs(nearest - diameter) <= rule["near"] else diameter


def wire_note(diameter: Decimal, hole: Decimal | None = None, apart: Decimal | None = None) -> str:
    """Say what AC 43.13-1B 7-123b has to say about a double-twist wire that thin; else nothing.

    At least 0.032 in where the hole is over 0.045 in; 0.020 in is allowed for holes of 0.045 to
    0.062 in with parts under 2 in apart. Without hole and distance the question is put.
    """
    rule, told, diameter = rules()["wire_least"], diameter, wire_size(diameter)
    if diameter >= rule["diameter"] or (hole is not None and hole <= rule["hole"][0]):
        return ""
    fits = (
        hole is not None and apart is not None and hole <= rule["hole"][1] and apart < rule["apart"]
    )
    if fits and diameter >= rule["small"]:
        return ""
    return (
        f"wire of {short(told, 4)} in: {rule['source']} asks for {rule['diameter']} in double twist"
        f" where the hole is over {rule['hole'][0]} in, and allows {rule['small']} in only for "
        f"holes up to {rule['hole'][1]} in with parts under {rule['apart']} in apart"
    )


def compression(held: Decimal) -> Compression:
    """Give a reading of `held` psi out of 80 as a share and as a loss.

    loss = (80 - held) / 80 * 100 per cent: AC 43.13-1B 8-14, which calls a loss of more than 25 per
    cent suspect, asks for a run of three minutes and a second check, and holds only where the maker
    says nothing. The test is not on the preventive-maintenance list: record it as reported.
    Raises `InputError` outside 0 to 80.
    """
    rule = rules()["compression"]
    full = Decimal(rule["test_psi"])
    if not 0 <= held <= full:
        raise InputError(f"{held}/{full} cannot be", todo=f"the first figure is from 0 to {full}")
    loss = (full - held) / full * 100
    ask = (
        f"more than {rule['loss_percent']} % lost: run at least {rule['run_min']} minutes, check "
        f"again and ask a mechanic; the maker's limit comes first ({rule['source']})"
    )
    return Compression(held, held / full, loss, ask if loss > rule["loss_percent"] else "")


def short(value: Decimal, places: int = 2) -> str:
    """Give a number with at most `places` decimals and no zero at its end."""
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
