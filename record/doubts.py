"""Doubts from what is known of an aircraft and its earlier values. A doubt never changes a value.

Pure and light, so that `try` can raise them without opening a record.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date
from decimal import Decimal
from itertools import pairwise
from statistics import median

from extract.values.catalogue import Catalogue, Field
from extract.values.draft import Draft
from extract.values.known import Known
from record import typed
from record.terms import METERS, TACH

LASTS = {"tach_time": "last_tach", "hour_meter_time": "last_hour_meter"}
DAY_H = Decimal(24)
TORQUES = ("filter_torque", "plug_torque")
IN_SUMP = ("oil_level_before", "oil_drained", "oil_added", "oil_level")
DONE_ON = ("service_date",)  # days on which something was done; any other may lie ahead
EARLIER = 3  # values needed before anything is called usual
SPREADS = 5  # robust standard deviations that are far; the project's own choice
NEARLY = Decimal("0.005")  # a converted figure is rounded by no more than this share
# How many of the other unit make one of the field's: exact, NIST SP 811 and Handbook 44 App. C.
SLIPS = {
    "qt": (("litres", Decimal("0.946352946")),),
    "ft-lb": (("inch-pounds", Decimal(12)), ("newton metres", Decimal("1.3558179483314004"))),
    "fl oz": (("millilitres", Decimal("29.5735295625")),),
    "in": (("millimetres", Decimal("25.4")), ("thousandths", Decimal(1000))),
}
ALIKE = str.maketrans("OQDILBSZG", "000118526")  # letters and figures that look or sound alike


def doubted(
    drafts: Iterable[Draft],
    known: Known,
    catalogue: Catalogue,
    before: Callable[[Draft], Sequence[Decimal]] = lambda draft: (),
) -> tuple[Draft, ...]:
    """Give the drafts with what there is to say against them; values stay as they are.

    `before` gives the earlier values of a draft's field and position, oldest first.
    """
    made = []
    for draft in drafts:
        field = catalogue.fields.get(draft.name)
        doubts = typed.beyond(field, draft.value) if field else ()
        if isinstance(draft.value, Decimal):
            earlier = before(draft)
            if draft.name in LASTS:
                doubts += _meter(draft, draft.value, known, earlier)
            else:
                doubts += _number(draft, draft.value, known, earlier, field)
        elif isinstance(draft.value, str):
            doubts += _text(draft, draft.value, known)
        elif isinstance(draft.value, date) and draft.name in DONE_ON:
            doubts += _date(draft, draft.value, known)
        made.append(draft.with_doubt(*doubts))
    return _meters_together(made, known)


def _meter(
    draft: Draft, value: Decimal, known: Known, before: Sequence[Decimal]
) -> tuple[str, ...]:
    last: Decimal | None = getattr(known, LASTS[draft.name])
    if last is None:
        return ()
    on = f" of {known.last_date}" if known.last_date else ""
    if value < last:
        return (f"lower than the last known {last} h{on}",)
    day = known.on or (draft.said_at.date() if draft.said_at else None)
    if day and known.last_date and day >= known.last_date:
        # Both are whole days, so that up to one day more may have passed.
        most = ((day - known.last_date).days + 1) * DAY_H * METERS[draft.name].fastest
        if value - last > most:
            return (f"{value - last} h more than the last known {last} h{on}: not possible yet",)
    steps = [b - a for a, b in pairwise(before) if b > a]
    if len(before) >= EARLIER and steps and value - last > 3 * max(steps):
        return (
            f"{value - last} h since the last known {last} h{on}; never more than {max(steps)}",
        )
    return ()


def _number(
    draft: Draft,
    value: Decimal,
    known: Known,
    before: Sequence[Decimal],
    field: Field | None = None,
) -> tuple[str, ...]:
    doubts: tuple[str, ...] = ()

    def shown(number: Decimal) -> str:
        return field.show(number) if field else f"{number} {draft.unit or ''}".rstrip()

    usual = median(before) if len(before) >= EARLIER else None
    limits: tuple[Decimal, Decimal] | None = None
    if draft.name in TORQUES:
        limits = getattr(known, draft.name)
    elif draft.name in IN_SUMP and known.sump_capacity is not None:
        limits = Decimal(0), known.sump_capacity
        if value > known.sump_capacity:
            doubts += (f"more than the sump takes ({shown(known.sump_capacity)})",)
    if draft.name in TORQUES and limits and not limits[0] <= value <= limits[1]:
        low, high = map(shown, limits)
        doubts += (f"outside the limits of {low.split()[0]} to {high}",)
    if usual is not None:
        if not _far(value, usual, before):
            return doubts  # a quart and a litre are so alike that a usual value would be doubted
        doubts += (f"far from the usual {shown(usual)}",)
    points = [p for p in (usual, limits[1] if limits and draft.name in IN_SUMP else None) if p]
    return doubts + _slip(draft, value, points, limits if draft.name in TORQUES else None)


def _far(value: Decimal, usual: Decimal, before: Sequence[Decimal]) -> bool:
    # Median and MAD, scaled to the standard deviation of a normal spread by 1.4826; where more than
    # half of the values are equal the MAD is nothing, and the mean deviation scaled by 1.2533 takes
    # its place (Iglewicz and Hoaglin 1993, from memory). Never tighter than a tenth of the usual
    # value, since three equal values have no spread at all.
    off = [abs(b - usual) for b in before]
    spread = Decimal("1.4826") * median(off) or Decimal("1.2533") * sum(off) / len(off)
    return abs(value - usual) > max(SPREADS * spread, abs(usual) / 10)


def _slip(
    draft: Draft,
    value: Decimal,
    points: Sequence[Decimal],
    limits: tuple[Decimal, Decimal] | None,
) -> tuple[str, ...]:
    if value in points or (limits and limits[0] <= value <= limits[1]):
        return ()
    for other, factor in SLIPS.get(draft.unit or "", ()):
        for meant, told in (
            (value / factor, "{value} {other} would be {meant} {unit}: was it {other}?"),
            (value * factor, "was {meant} {unit} meant, and {other} said by mistake?"),
        ):
            near = any(abs(meant - p) <= p * NEARLY for p in points)
            if near or (limits and limits[0] <= meant <= limits[1]):
                shown = f"{round(meant, 1).normalize():f}"
                return (told.format(value=value, other=other, meant=shown, unit=draft.unit),)
    return ()


def _text(draft: Draft, value: str, known: Known) -> tuple[str, ...]:
    if draft.name == "filter_part_number" and known.filter_part_number:
        return _part(value, known.filter_part_number)
    if draft.name == "oil_grade" and known.oil_grade and _flat(value) != _flat(known.oil_grade):
        return (f"the usual grade is {known.oil_grade}",)
    return ()


def _part(value: str, expected: str) -> tuple[str, ...]:
    read, whole = _flat(value), _flat(expected)
    # "dash two two seven A" is how people say the end of a longer number.
    if read == whole or (value.startswith("-") and whole.endswith(read)):
        return ()
    end = whole[-len(read) :] if value.startswith("-") else whole
    if read.translate(ALIKE) == end.translate(ALIKE):
        return (f"like the expected {expected} but for signs that are easily mixed up",)
    if _one_off(read, end):
        return (f"one letter or figure away from the expected {expected}",)
    return (f"not the expected {expected}",)


def _one_off(a: str, b: str) -> bool:
    """Tell whether one sign was changed, left out or put in, or two neighbours were swapped."""
    if abs(len(a) - len(b)) > 1:
        return False
    start = next((i for i, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), None)
    if start is None:
        return True
    x, y = a[start:], b[start:]
    return x[1:] in (y[1:], y) or x == y[1:] or (x[:2] == y[1::-1] and x[2:] == y[2:])


def _date(draft: Draft, value: date, known: Known) -> tuple[str, ...]:
    doubts: tuple[str, ...] = ()
    spoken = draft.said_at.date() if draft.said_at else known.on
    if spoken and value > spoken:
        doubts += (f"later than the recording of {spoken}",)
    elif spoken and (spoken - value).days > 1:
        doubts += (f"{(spoken - value).days} days before the recording of {spoken}",)
    if known.last_date and value < known.last_date:
        doubts += (f"before the last known service of {known.last_date}",)
    return doubts


def _meters_together(drafts: Sequence[Draft], known: Known) -> tuple[Draft, ...]:
    """Doubt both meters where the tach ran faster against the clock than it can."""
    ran: dict[str, Decimal] = {}
    for draft in drafts:
        last = getattr(known, LASTS[draft.name]) if draft.name in LASTS else None
        if last is not None and isinstance(draft.value, Decimal):
            ran[draft.name] = draft.value - last
    tach, hours = ran.get("tach_time"), ran.get("hour_meter_time")
    if tach is None or hours is None or hours < 0 or tach <= hours * TACH.fastest:
        return tuple(drafts)
    doubt = f"since the last service the tach ran {tach} h, the hour meter only {hours} h"
    return tuple(d.with_doubt(doubt) if d.name in LASTS else d for d in drafts)


def _flat(text: str) -> str:
    return "".join(c for c in text.upper() if c.isalnum())
