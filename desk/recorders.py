"""Recorders whose clock was wrong: put right for every memo of the device, or asked about.

Knows no screen. What is known of a clock is what somebody says aloud ("time now is ten forty-two");
which memos are of one device, the pattern of their names says. Memos of one device may arrive in
several batches within a day: they share what is known of it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from statistics import median
from typing import Any

from capture.observed import Instant
from desk import observe
from desk.observe import PUT_RIGHT, ClockError
from record import jobs
from record import media as rows
from record.media import Media

HOUR = timedelta(hours=1)
AROUND = timedelta(minutes=10)  # photos are taken while people talk, or this long before or after
MANY = 2  # memos, and photos, of which an hour between them is asked about
AGREE = timedelta(minutes=5)  # two times said that put a clock right by the same, people rounding

Original = Callable[[Media], Instant]
"""Gives when a memo began by its own clock, whatever the record says now."""


@dataclass
class _Device:
    memos: list[Media] = field(default_factory=list)
    wrong: list[ClockError] = field(default_factory=list)
    right: list[str] = field(default_factory=list)


def put_right(
    session: Any, batch: Sequence[Media], original: Original | None, tell: Callable[[str], None]
) -> set[int]:
    """Date by a time said aloud all memos of the same recorder; give the jobs of those moved.

    `original` None leaves the memos of other batches out: this one's clock was put right by hand.
    Where the times said in two memos of one recorder do not agree, nothing is moved and that is
    asked about; so are memos of other names in the batch, which may be of the same recorder.
    """
    numbers = {memo.id for memo in batch}
    devices: dict[str, _Device] = {}
    for memo in _with_neighbours(session, batch, lone=original is None):
        one = devices.setdefault(observe.recorder(memo.original), _Device())
        one.memos.append(memo)
        heard = rows.transcript_of(session, memo.id)
        if heard is None or memo.began is None:
            continue
        if memo.began.source == "spoken" and original is not None:
            by = memo.began.at - original(memo).at
            one.wrong.append(ClockError(by, memo.began.uncertainty_s, memo.began.doubt, memo.name))
        elif (error := observe.clock_error(heard, memo.began)) is not None:
            one.wrong.append(error)
        elif observe.says_time(heard):
            one.right.append(memo.name)
    moved: set[int] = set()
    silent = [m for d in devices.values() if not (d.wrong or d.right) for m in d.memos]
    silent = [m for m in silent if m.id in numbers]
    for one in devices.values():
        done = _shift(session, one, tell) if one.wrong else []
        moved |= {memo.job for memo in done if memo.job is not None}
        if done:
            _ask_about(one, silent, tell)
    return moved


def ask_about_hours(session: Any, batch: Sequence[Media], tell: Callable[[str], None]) -> None:
    """Ask where the photos of a batch lie beside its memos by just an hour.

    As after a change of summer time: all of them outside of the memos' span as it is dated, and all
    inside if the memos' clock is moved.
    """
    now = [rows.get(session, one.id) for one in batch]
    memos = [m for m in now if m.kind == "memo" and m.began and not jobs.is_weak(m.began)]
    photos = [p.began.at for p in now if p.kind == "photo" and p.began and p.began.source == "exif"]
    times = [m.began.at for m in memos if m.began]
    if len(times) < MANY or len(photos) < MANY or any(_said(m) for m in memos):
        return
    for shift in (HOUR, -HOUR):
        first, last = min(times) - AROUND, max(times) + AROUND
        as_is = [first <= at <= last for at in photos]
        moved = [first + shift <= at <= last + shift for at in photos]
        if not any(as_is) and all(moved):
            when, sign = ("before", "+") if shift > timedelta(0) else ("after", "-")
            names = " ".join(repr(memo.name) for memo in memos)
            tell(
                f"the memos were made an hour {when} the photos, by their clocks. Is the "
                f"recorder's an hour off? If so: `cowlnote clock {names} --shift {sign}1h`"
            )


def _said(memo: Media) -> bool:
    return memo.began is not None and memo.began.source in PUT_RIGHT


def _with_neighbours(session: Any, batch: Sequence[Media], *, lone: bool) -> list[Media]:
    """Give the memos of a batch as they are dated now, and those of the same recorders and day."""
    found = {memo.id: rows.get(session, memo.id) for memo in batch}
    names = {observe.recorder(memo.original) for memo in batch}
    begun = [memo.began.at for memo in found.values() if memo.began]
    for other in () if lone else rows.media(session, every=False):
        near = other.began and any(abs(other.began.at - at) <= jobs.ONE_JOB for at in begun)
        alike = other.kind == "memo" and observe.recorder(other.original) in names
        if near and alike and (other.job is None or jobs.get(session, other.job).is_open):
            found.setdefault(other.id, other)
    return list(found.values())


def _shift(session: Any, one: _Device, tell: Callable[[str], None]) -> list[Media]:
    """Put one recorder's memos right, or say why not; give those that were moved."""
    shifts = [error.shift for error in one.wrong]
    by_name = {error.media: error for error in one.wrong}
    waiting = [
        memo
        for memo in one.memos
        if memo.began
        and memo.began.source not in PUT_RIGHT
        and (memo.began.source != "file" or memo.name in by_name)
        and memo.name not in one.right
    ]
    if not waiting:
        return []
    if one.right or max(shifts) - min(shifts) > AGREE:
        told = [f"{error.media}: {_minutes(error.shift)}" for error in one.wrong]
        told += [f"{name}: right" for name in one.right]
        tell(
            f"the times said aloud do not agree on the recorder's clock ({', '.join(told)}); "
            "it was left alone: `cowlnote clock` puts it right by hand"
        )
        return []
    shift = timedelta(seconds=median(s.total_seconds() for s in shifts))
    for memo in waiting:
        if memo.began is not None:
            error = by_name.get(memo.name, one.wrong[0])
            by = error.shift if memo.name in by_name else shift
            right = Instant(memo.began.at + by, "spoken", error.uncertainty_s, error.doubt)
            rows.set_began(session, memo.id, right)
    names = ", ".join(memo.name for memo in waiting)
    tell(f"{one.wrong[0].doubt}: {names}")
    return waiting


def _minutes(shift: timedelta) -> str:
    minutes = round(shift.total_seconds() / 60)
    return f"{abs(minutes)} min {'slow' if minutes > 0 else 'fast'}"


def _ask_about(one: _Device, silent: Sequence[Media], tell: Callable[[str], None]) -> None:
    if not silent:
        return
    shift = one.wrong[0].shift
    minutes = round(abs(shift).total_seconds() / 60)
    sign = "+" if shift > timedelta(0) else "-"
    names = ", ".join(m.name for m in silent)
    tell(
        f"are these of the same recorder? Their clock was left alone: {names}; if they are, "
        f"`cowlnote clock FILE… --shift {sign}{minutes // 60}h{minutes % 60:02d}m`"
    )
