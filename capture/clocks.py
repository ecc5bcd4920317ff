"""When a thing began: from the clocks that saw it, in the order of how far they can be trusted.

Pure: takes what was read elsewhere, reads no clock itself. Moments are aware datetimes.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from capture.observed import Instant, Kept, Word

FIRST_YEAR, LAST_YEAR = 2000, 2099
NEAR_S, APART_S = 3.0, 90.0
"""Two clocks this near tell the same moment; further apart than that, they do not."""

_DAY = r"(?P<y>20\d\d)(?P<s>[-_.]?)(?P<m>0[1-9]|1[0-2])(?P=s)(?P<d>0[1-9]|[12]\d|3[01])"
_TIME = r"(?P<H>[01]\d|2[0-3])[-_.:h]?(?P<M>[0-5]\d)(?:[-_.:m]?(?P<S>[0-5]\d))?"
_DAY_FIRST = r"(?P<d>0[1-9]|[12]\d|3[01])[-_.](?P<m>0[1-9]|1[0-2])[-_.](?P<y>20\d\d)"
_BETWEEN = r"(?:[-_ .,T]|at){1,4}"
_HALF = r"(?:\s?(?P<p>[AaPp])\.?[Mm])?"
NAMED = tuple(
    re.compile(rf"(?<!\d){pattern}(?!\d)")
    for pattern in (
        _DAY + _BETWEEN + _TIME + _HALF,
        _DAY_FIRST + _BETWEEN + _TIME + _HALF,
        _DAY + _TIME,
        r"(?P<y>\d\d)(?P<m>0[1-9]|1[0-2])(?P<d>0[1-9]|[12]\d|3[01])_" + _TIME,
    )
)
"""Names as phones and recorders give them: `20260321_104653`, `Voice 2026-03-21 10-46-53`,
`2026-03-21T10.46.53`, `21-03-2026 10.46`, `20260321104653`, `260321_1046`. From memory: common
practice, no published list."""


def name_time(name: str) -> datetime | None:
    """Give the naive time in a file's name, or None. A date without a time of day is none."""
    for pattern in NAMED:
        for found in pattern.finditer(re.sub(r"(_\d{6})\d{3}(?!\d)", r"\1", name)):
            parts = found.groupdict()
            year, hour = int(parts["y"]), int(parts["H"])
            if half := (parts.get("p") or "").lower():
                hour = hour % 12 + (12 if half == "p" else 0)
            day = (year + (2000 if year < 100 else 0), int(parts["m"]), int(parts["d"]))
            try:
                return datetime(*day, hour, int(parts["M"]), int(parts["S"] or 0))  # noqa: DTZ001 - a name has no offset
            except ValueError:  # the thirtieth of February
                continue
    return None


def _sane(at: datetime) -> bool:
    return FIRST_YEAR <= at.year <= LAST_YEAR


def _placed(at: datetime, zone: ZoneInfo) -> tuple[datetime, str]:
    """Put a time into the zone, unless it has an offset of its own; and say what is doubtful."""
    if at.tzinfo is not None:
        return (at.astimezone(zone) if at.utcoffset() == timedelta(0) else at), ""
    early, late = (at.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if early.utcoffset() == late.utcoffset():
        return early, ""
    back = early.astimezone(UTC).astimezone(zone)
    if back.replace(tzinfo=None) != at:
        return back, f"{at:%H:%M} did not exist on that day: the clocks went forward"
    return early, f"{at:%H:%M} came twice on that day: the clocks went back"


def _against_name(
    raw: datetime, begun: datetime, told: datetime, zone: ZoneInfo, duration_s: float
) -> tuple[datetime, str]:
    """Hold a container's time against the file's name: two witnesses agree, or there is a doubt.

    Common practice of recorders, without a published source: some write when they stopped, some
    write local time where UTC belongs. The name then has the beginning.
    """
    named, _ = _placed(told, zone)
    apart = (begun - named).total_seconds()
    stopped = duration_s > NEAR_S and abs(apart - duration_s) <= NEAR_S
    local = abs((raw.replace(tzinfo=None) - told).total_seconds()) <= NEAR_S
    if stopped or local:
        return named, ""
    if abs(apart) <= max(APART_S, duration_s):
        return begun, ""
    return begun, f"the file says {begun:%Y-%m-%d %H:%M}, its name {named:%Y-%m-%d %H:%M}"


def began_at(
    kept: Kept,
    *,
    container: datetime | None,
    exif: datetime | None,
    zone: ZoneInfo,
    shift: timedelta = timedelta(0),
    duration_s: float = 0.0,
) -> Instant:
    """Say when a memo or photo began, from the best clock that there is.

    In order: `exif` (DateTimeOriginal, with its offset where it has one), `container` (the time in
    a sound file), a date in the file's name, the file's own time, which is a doubt. A time without
    an offset is read in `zone`; one in UTC is told in `zone`. `shift` is added for a clock known to
    be wrong, but not to a file's own time, which another clock wrote. Times outside 2000 to 2099
    are unset clocks. `duration_s` tells a container's time of stopping from one of starting. Where
    the file and its name contradict each other, the time is as uncertain as they are apart.
    """
    told = name_time(kept.name)
    for source, at in (("exif", exif), ("container", container), ("name", told)):
        if at is None or not _sane(at):
            continue
        begun, doubt = _placed(at, zone)
        rough = source == "name" and at.second == 0  # perhaps only the minute was named
        off = 60.0 if rough else 1.0
        if source == "container" and told is not None and _sane(told):
            begun, differ = _against_name(at, begun, told, zone, duration_s)
            if differ:  # either may be right
                off = abs((begun - _placed(told, zone)[0]).total_seconds())
            doubt = doubt or differ
        return Instant(begun + shift, source, off, doubt)
    doubt = "only the file's own time is known, and copying a file can change it"
    return Instant(kept.modified.astimezone(zone), "file", 3600.0, doubt)


_CUES = (
    ("time", "now", "is"),
    ("time", "is", "now"),
    ("time", "now"),
    ("time", "check"),
    ("the", "time", "is"),
    ("the", "time", "is", "now"),
    ("it", "is", "now"),
    ("it's", "now"),
)
_OPENERS = frozenset(("the", "so", "and", "okay", "ok", "right", "um", "uh", "er", "well"))
_TEENS = "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen"
_SMALL = {
    word: n
    for n, word in enumerate(f"zero one two three four five six seven eight nine {_TEENS}".split())
}
_SMALL |= {"oh": 0, "o": 0, "niner": 9}
_TENS = {"twenty": 20, "thirty": 30, "forty": 40, "fifty": 50}
_NUMBERS = frozenset((*_SMALL, *_TENS, "point", "decimal", "hundred", "thousand", "and"))
_PAUSE_S = 0.4


def _below_sixty(words: Sequence[str], *, two_figures: bool) -> tuple[int | None, int]:
    """Read an hour or minutes off the front: (value, words used). Minutes need two figures."""
    first, second = (*words, "", "")[:2]
    unit = _SMALL.get(second, 10)
    if first in ("oh", "o", "zero") and unit < 10:
        return unit, 2
    if first in _TENS:
        return (_TENS[first] + unit, 2) if 0 < unit < 10 and second != "oh" else (_TENS[first], 1)
    if two_figures and first in ("hundred", "o'clock"):
        return 0, 1
    value = _SMALL.get(first)
    return (value, 1) if value is not None and not (two_figures and value < 10) else (None, 0)


def _plain(words: Sequence[Word]) -> list[tuple[str, float, bool]]:
    """Give (bare word, start, whether a sentence or a breath begins there)."""
    made: list[tuple[str, float, bool]] = []
    fresh, before = True, 0.0
    for word in words:
        fresh = fresh or word.start_s - before > _PAUSE_S
        for part in re.split(r"[-\s]+", word.text.lower()):
            bare = part.strip(".,?!;:")
            if bare:
                made.append((bare, word.start_s, fresh))
                fresh = False
        fresh, before = word.text[-1:] in ".,?!;:", word.end_s
    return made


def spoken_clock(words: Sequence[Word]) -> tuple[time, float] | None:
    """Find "time now is ten forty-two": the time of day said, and the second at which it was.

    The cue must open a sentence, so that the time on a counter is none ("tach time now is twelve
    thirty"); hour and minutes follow it, with no further figure after them. "p.m." is honoured; a
    twelve-hour time is given as said. The second is the start of the cue.
    """
    plain = _plain(words)
    texts = [text for text, _, _ in plain]
    for at, (_, second, fresh) in enumerate(plain):
        if not (fresh or (at and texts[at - 1] in _OPENERS)):
            continue
        for cue in sorted(_CUES, key=len, reverse=True):
            if tuple(texts[at : at + len(cue)]) != cue:
                continue
            rest = texts[at + len(cue) :]
            hour, used = _below_sixty(rest, two_figures=False)
            minute, more = _below_sixty(rest[used:], two_figures=True)
            after = rest[used + more :]
            if hour is None or minute is None or hour > 23 or (after and after[0] in _NUMBERS):
                continue
            half = "".join(after[:2]).replace(".", "")[:2]
            if 1 <= hour <= 12 and half in ("am", "pm"):
                hour = hour % 12 + (12 if half == "pm" else 0)
            return time(hour, minute), second
    return None
