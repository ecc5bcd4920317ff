"""A meter that was changed, stated by a person. Knows no screen."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from capture.errors import InputError
from desk.opening import Opened
from desk.sums import number


def changed(
    here: Opened, *, hour_meter: bool, old: str, new: str, on: str, by: str, because: str
) -> str:
    """State that a meter was changed on a day (ISO), from what it read to what the new one read.

    Gives it in words. Raises `InputError` for what cannot be, `RefusedError` without a name.
    """
    from record.meters import state_change
    from record.terms import METERS

    try:
        day = date.fromisoformat(on)
    except ValueError:
        raise InputError(
            f"{on or 'no day'}: a day is meant", todo="write it as 2026-03-14"
        ) from None
    one = METERS["hour_meter_time" if hour_meter else "tach_time"]
    was, begins = number(old, "--old"), number(new, "--new")
    if was is None or begins is None:
        raise InputError(
            "both readings are needed", todo="say what the old one and the new one read"
        )
    aircraft = here.settings.profile.registration or None
    with here.store.session() as session:
        job = state_change(
            session, one, was, Decimal(begins), day, by, because, aircraft, here.catalogue
        )
    return (
        f"job {job}: the {one.name} was changed on {day}, {was} h on the old, {begins} h on the "
        "new; hours are counted on"
    )
