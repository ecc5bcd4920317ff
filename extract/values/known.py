"""What is already known about the aircraft and its record, as one frozen value.

It ranks readings and raises doubts. It never makes a value that nobody said.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Known:
    """The profile and the record, as far as reading needs them; None where it is not known.

    `last_tach`, `last_hour_meter` in hours, read on `last_date`; `sump_capacity` in qt;
    `filter_torque` and `plug_torque` are (low, high) in ft-lb as the profile has them from the
    maker's papers; `filter_part_number` is the one expected; `oil_grade` the usual one (`SAE 50`);
    `additive` and `words` are words this owner uses, for hearing and spelling; `heard` are pairs
    (as heard, as meant) of words that recognition makes of this owner's, never of values; `on` is
    the day of the job.
    """

    last_tach: Decimal | None = None
    last_hour_meter: Decimal | None = None
    last_date: date | None = None
    sump_capacity: Decimal | None = None
    filter_torque: tuple[Decimal, Decimal] | None = None
    plug_torque: tuple[Decimal, Decimal] | None = None
    filter_part_number: str | None = None
    oil_grade: str | None = None
    additive: str | None = None
    words: tuple[str, ...] = ()
    heard: tuple[tuple[str, str], ...] = ()
    on: date | None = None


NOTHING = Known()
