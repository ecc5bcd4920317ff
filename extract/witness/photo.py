"""Photo text to drafts: the hours of a counter, the part number and handwriting of a label. Pure.

A torque printed on a label is a limit and never what was applied; lot and serial numbers are no
field.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal, InvalidOperation

from capture.observed import PhotoText, Reading
from extract.values.catalogue import Catalogue
from extract.values.draft import Alternative, Draft, Value
from extract.values.known import NOTHING, Known

NO_FILTER = "the label does not say that it belongs to a filter"
NO_PART = "the label does not say that this is the part number"
NO_METER = "nothing in the picture says which meter this is"
_FIELDS = {"tach": "tach_time", "hobbs": "hour_meter_time"}
_CEILING = 0.97  # no picture is ever surer than this
_LONG_FLIGHT = Decimal(1000)  # hours between two services that nobody flies
_PART = re.compile(
    r"\b(?:P\s?[/|\\]\s?N|(?:P[I1]N|PN|PART\s*(?:NO|NUMBER|NUM|#)?|MODEL)\b)\s*[:.;#]*\s*"
    r"(?P<part>[A-Z0-9-].*)$",
    re.I,
)
_NOT_PART = re.compile(
    r"^(?:LOT|L\s?\d{5}|S\s?/\s?N|SN|SER|TORQUE|CAPACITY|CHANGE|FOR|DATE|TACH|OIL|BATCH|MFG|EXP)\b",
    re.I,
)
_PROMPT = re.compile(r"\s*(?:P\s?[/|\\]\s?N|PART\s*(?:NO|NUMBER|NUM|#))\s*[.:;#]*\s*", re.I)
_ALIKE = str.maketrans("OQDILBSZG", "000118526")
_MONTHS = ("JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC")


def read_photo(
    photo: PhotoText, catalogue: Catalogue, known: Known = NOTHING, words: Sequence[str] = ()
) -> tuple[Draft, ...]:
    """Give the drafts of one photo; none where there is nothing to read.

    `words` are words spoken about the time of the photo; they decide which meter a close-up shows.
    """
    if photo.subject == "label":
        drafts = [*_part_number(photo, known), *_written(photo)]
    elif photo.subject in ("tach", "hobbs", "counter"):
        drafts = _hours(photo, known, words)
    else:
        drafts = []
    return tuple(d for d in drafts if d.name in catalogue.fields)


def _draft(
    photo: PhotoText,
    name: str,
    value: Value,
    unit: str | None,
    read: Reading,
    confidence: float,
    doubts: Sequence[str] = (),
    others: Sequence[Alternative] = (),
) -> Draft:
    said_at = photo.taken.at if photo.taken else None
    return Draft(
        name, value, unit, None, photo.media, None, None, said_at, read.text,
        min(_CEILING, confidence), tuple(doubts), tuple(others), read.quad,
    )  # fmt: skip


# --- hours ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Meter:
    name: str
    last: Decimal | None
    doubt: str = ""


def _hours(photo: PhotoText, known: Known, words: Sequence[str]) -> list[Draft]:
    counters = [
        r for r in photo.readings if r.kind in ("drum", "lcd") and _number(r.text) is not None
    ]
    if not counters:
        return []
    first = counters[0]
    value = _number(first.text)
    assert value is not None  # noqa: S101 - only such were kept
    meter = _meter(photo, first, known, words)
    doubts = [*first.doubts, meter.doubt]
    for other in counters[1:]:
        if other.probability > 0.5 and len(other.text) > 3:
            doubts.append(f"another counter in the picture reads {other.text}")
    if first.kind == "drum" and len(first.text.replace(".", "")) < 2:
        doubts.append("only part of the reading could be made out")
    others = [
        Alternative(v, p, "another reading of the drums")
        for text, p in first.alternatives
        if p >= 0.02 and (v := _number(text)) is not None and v != value
    ]
    draft = _draft(photo, meter.name, value, "h", first, first.probability,
                   [d for d in doubts if d], others)  # fmt: skip
    return [_follow(draft, meter.last)]


def _number(text: str) -> Decimal | None:
    try:
        return Decimal(text)
    except InvalidOperation:
        return None


def _meter(photo: PhotoText, first: Reading, known: Known, words: Sequence[str]) -> _Meter:
    lasts = {"tach_time": known.last_tach, "hour_meter_time": known.last_hour_meter}
    if photo.subject in _FIELDS:
        name = _FIELDS[photo.subject]
        return _Meter(name, lasts[name])
    spoken = " ".join(words).lower()
    tach, hobbs = (
        bool(re.search(r"\bta(?:ch|ck|k)\b|tachometer", spoken)),
        bool(re.search(r"\bh[ou]b+e?s\b", spoken)),
    )
    if tach != hobbs:
        name = "tach_time" if tach else "hour_meter_time"
        return _Meter(name, lasts[name], "only what was said tells which meter this is")
    value = _number(first.text)
    near = {n: abs(value - at) for n, at in lasts.items() if at is not None and value is not None}
    doubt = NO_METER
    if near:
        name = min(near, key=lambda n: near[n])
        return _Meter(name, lasts[name], doubt)
    numerals = any(
        re.fullmatch(r"[1-3]?[05]|40", r.text) for r in photo.readings if r.kind == "text"
    )
    return _Meter(
        "tach_time" if numerals and first.kind == "drum" else "hour_meter_time", None, doubt
    )


def _fits(value: Value, last: Decimal) -> bool:
    return isinstance(value, Decimal) and last <= value <= last + _LONG_FLIGHT


def _follow(draft: Draft, last: Decimal | None) -> Draft:
    """Doubt what cannot follow the last recorded hours; another reading that can goes first."""
    if last is None or _fits(draft.value, last):
        return draft
    what = f"{draft.value} h does not fit after the {last} h recorded last"
    for other in draft.alternatives:
        if other.confidence >= 0.1 and _fits(other.value, last):
            rest = tuple(a for a in draft.alternatives if a is not other)
            passed = Alternative(
                draft.value, draft.confidence, "cannot follow the last recorded hours"
            )
            return replace(draft, value=other.value, confidence=min(0.5, other.confidence),
                           alternatives=(passed, *rest)).with_doubt(what)  # fmt: skip
    return replace(draft, confidence=draft.confidence * 0.5).with_doubt(what)


# --- labels --------------------------------------------------------------------------------------


def _plain(part: str) -> str:
    return re.sub(r"[\s]+", "", part.upper())


def _tidy(part: str) -> str:
    text = re.sub(r"\s+", " ", part.upper()).strip(" .,:;|_*'\"")
    return re.sub(r"\s*-\s*", "-", text)


def _part_number(photo: PhotoText, known: Known) -> list[Draft]:
    texts = [r for r in photo.readings if r.kind == "text" and not r.handwritten]
    expected = known.filter_part_number
    words = " ".join(r.text for r in texts)
    filter_named = re.search(r"F[I1L]LT|[I1L]LTER", words, re.I)
    if not filter_named and re.search(
        r"\bSAE\b|\b\d{1,2}W-?\d{2}\b|(MOTOR|AVIATION)\s+OIL", words, re.I
    ):
        return []  # an oil bottle has numbers too
    numbered = [
        (r, m) for r in texts if (m := _PART.search(r.text)) and re.search(r"\d", m["part"])
    ]
    if numbered:
        read, match = numbered[0]
        part = _tidy(match["part"])
        others = {_tidy(m["part"]) for _, m in numbered[1:]} - {part}
        doubts = [f"the label has another part number, {other}" for other in sorted(others)]
        if not filter_named and not (expected and _plain(expected) == _plain(part)):
            doubts.append(NO_FILTER)  # the number that the profile has needs no words round it
        return [_part(photo, read, part, expected, tuple(doubts))]
    for prompt in texts:
        if _PROMPT.fullmatch(prompt.text) and (below := _below(prompt, texts)):
            return [_part(photo, below, _tidy(below.text), expected, ())]
    if expected:
        for read in texts:
            if _plain(read.text).translate(_ALIKE) == _plain(expected).translate(_ALIKE):
                part = _tidy(read.text)
                doubts = [NO_PART] if _plain(expected) != _plain(part) else []
                return [_part(photo, read, part, expected, tuple(doubts))]
    return []


def _below(prompt: Reading, texts: Sequence[Reading]) -> Reading | None:
    """Give the line that stands close under a prompt such as `PART NO.`, if it can be a number."""
    left, right = (end(x for x, _ in prompt.quad) for end in (min, max))
    middle = sum(y for _, y in prompt.quad) / 4
    height = max(y for _, y in prompt.quad) - min(y for _, y in prompt.quad)
    under = []
    for read in texts:
        centre = sum(x for x, _ in read.quad) / 4, sum(y for _, y in read.quad) / 4
        beneath = middle < centre[1] < middle + 4 * height and read is not prompt
        xs = [x for x, _ in read.quad]
        if beneath and max(xs) > left and min(xs) < right:
            under.append((centre[1], read))
    if not under:
        return None
    nearest = min(under, key=lambda item: item[0])[1]
    return nearest if re.search(r"\d", nearest.text) and not _NOT_PART.match(nearest.text) else None


def _part(
    photo: PhotoText, read: Reading, part: str, expected: str | None, doubts: tuple[str, ...]
) -> Draft:
    reasons, others = list(doubts), []
    sure = read.probability
    for text, p in read.alternatives:
        match = _PART.search(text)
        second = _tidy(match["part"]) if match else ""
        if second and _plain(second) != _plain(part):
            others.append(Alternative(second, min(p, 0.5), "read so at a closer look"))
            reasons.append(f"at a closer look it reads {second}")
            sure = min(sure, 0.6)
    if expected and _plain(expected) == _plain(part):
        sure = max(sure, 0.97)
    elif expected and _plain(expected).translate(_ALIKE) == _plain(part).translate(_ALIKE):
        others.insert(0, Alternative(expected.upper(), 0.5, "the profile's, alike to the eye"))
        reasons.append(f"the profile expects {expected}, which looks alike")
        sure = min(sure, 0.5)
    elif expected:
        reasons.append(f"the profile expects {expected}")
    if sure < 0.9:
        reasons.append("the print is not clear enough to be sure")
    if re.search(r"\d[OQIBSZ]\d|[A-Z][0158][A-Z]", _plain(part)):
        reasons.append("a letter among figures, or a figure among letters, may be its look-alike")
    if len(_plain(part)) < 3:
        reasons.append("it is short for a part number")
    return _draft(photo, "filter_part_number", part, None, read, sure, reasons, others)


def _written(photo: PhotoText) -> list[Draft]:
    """Give the date and hours that someone wrote on the label; always to be compared by eye."""
    hand = [r for r in photo.readings if r.handwritten]
    if not hand:
        return []
    prompts = {
        name: next((r for r in photo.readings if r.kind == "text" and not r.handwritten
                    and re.search(word, r.text, re.I) and not re.search(r"\d", r.text)), None)
        for name, word in (("date", r"\bDATE\b"), ("tach", r"\b(TACH|HOURS|HRS)\b"))
    }  # fmt: skip
    by: dict[str, list[Reading]] = {"date": [], "tach": []}
    for read in hand:
        text = read.text.strip()
        if re.search(r"[A-Z]|/|\d-\d", text, re.I) or re.fullmatch(r"20\d\d|[0-3]?\d", text):
            by["date"].append(read)
        elif re.fullmatch(r"\d[\d., ]{3,}", text):
            by["tach"].append(read)
        else:
            by[_nearer(read, prompts)].append(read)
    doubt = "written by hand; compare it with the crop, it may be an earlier service's"
    drafts = []
    if by["date"]:
        line = sorted(by["date"], key=_left)
        day = written_date(" ".join(r.text for r in line))
        if day:
            drafts.append(_draft(photo, "service_date", day, None, _joined(line), 0.6, (doubt,)))
    for read in by["tach"][:1]:
        digits = re.sub(r"[^\d.]", "", read.text.replace(",", ".").replace(" ", ""))
        value = _number(digits) if digits.count(".") <= 1 and digits.strip(".") else None
        if value is not None and "." in digits:
            drafts.append(_draft(photo, "tach_time", value, "h", read, 0.6, (doubt,)))
        elif value is not None:
            why = "no decimal point was made out; it was taken to stand before the last figure"
            whole = Alternative(value, 0.3, "without a decimal point")
            drafts.append(
                _draft(photo, "tach_time", value / 10, "h", read, 0.4, (doubt, why), (whole,))
            )
    return drafts


def _left(read: Reading) -> float:
    return min(x for x, _ in read.quad)


def _nearer(read: Reading, prompts: dict[str, Reading | None]) -> str:
    def away(prompt: Reading | None) -> float:
        return abs(_left(read) - _left(prompt)) if prompt else float("inf")

    return "date" if away(prompts["date"]) < away(prompts["tach"]) else "tach"


def _joined(line: Sequence[Reading]) -> Reading:
    xs = [x for r in line for x, _ in r.quad]
    ys = [y for r in line for _, y in r.quad]
    quad = ((min(xs), min(ys)), (max(xs), min(ys)), (max(xs), max(ys)), (min(xs), max(ys)))
    return replace(line[0], text=" ".join(r.text for r in line), quad=quad)


def written_date(text: str) -> date | None:
    """Read a date as mechanics write it: `27 DEC 2025`, `DEC 27 25`, `12/27/25` (US order)."""
    text = text.upper().replace(",", " ").replace("'", " ")
    month = next((m for m in _MONTHS if m in text), None)
    numbers = [int(n) for n in re.findall(r"\d+", text)]
    if month and len(numbers) == 1 and len(str(numbers[0])) in (5, 6) and text.find(month) == 0:
        return None
    if month and len(numbers) == 2:
        return _date(numbers[1], _MONTHS.index(month) + 1, numbers[0])
    if not month and len(numbers) == 3:
        if numbers[0] > 1900:
            return _date(numbers[0], numbers[1], numbers[2])
        return _date(numbers[2], numbers[0], numbers[1])
    return None


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year + 2000 if year < 100 else year, month, day)
    except ValueError:
        return None
