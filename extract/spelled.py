"""What is said letter by letter or figure by figure: dates, oil grades and part numbers."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from extract.doc import Part
from extract.numbers import _whole, find_numbers
from extract.words import HOMOPHONES, MONTHS, ORDINALS, TENS, table

_S = table("spelled")
LETTERS: dict[str, str] = _S["letters"]
SOUNDS: dict[str, str] = _S["sounds"]
COMMERCIAL: dict[str, str] = _S["commercial"]
_DASH = ("dash", "hyphen", "minus")
_CODE = re.compile(r"^-?[a-z]{0,4}-?\d[a-z\d-]*$")
_TYPED_GRADE = re.compile(r"^(?:sae)?(\d{1,2})w-?(\d{2})$")
_NO_LETTERS = ("psi", "rpm", "sae", "am", "pm", "tv", "ok", "egt", "cht", "ad", "fbo", "tq", "pn")


@dataclass(frozen=True, slots=True)
class Spelled:
    """A date, grade or code in the parts from `start` up to `end`.

    `kind` is `date`, `grade` or `code`. A date without a year has `value` None and `day`, `month`.
    `doubts` are short sentences.
    """

    kind: str
    start: int
    end: int
    value: str | date | None
    day: int = 0
    month: int = 0
    doubts: tuple[str, ...] = ()


def find_spelled(parts: Sequence[Part]) -> tuple[Spelled, ...]:
    """Find dates, grades and codes, first to last; none overlaps another."""
    made: list[Spelled] = []
    at = 0
    while at < len(parts):
        found = _date(parts, at) or _grade(parts, at) or _code(parts, at)
        if found is None:
            at += 1
        else:
            made.append(found)
            at = found.end
    return tuple(made)


# dates


def _date(parts: Sequence[Part], at: int) -> Spelled | None:
    norm = parts[at].norm
    if re.match(r"^(19|20)\d\d-\d\d-\d\d$", norm):
        return _made_date(at, at + 1, int(norm[:4]), int(norm[5:7]), int(norm[8:]))
    slashed = [part.norm for part in parts[at : at + 3]]
    if len(slashed) == 3 and all(part.glued for part in parts[at + 1 : at + 3]):
        if all(piece.isdigit() for piece in slashed):
            return _all_figures(at, *map(int, slashed))
    if norm in MONTHS:
        return _month_first(parts, at)
    if iso := _spoken_iso(parts, at):
        return iso
    if figures := _spoken_figures(parts, at):
        return figures
    return _day_first(parts, at)


def _month_first(parts: Sequence[Part], at: int) -> Spelled | None:
    i = at + 1
    if i < len(parts) and parts[i].norm == "the":
        i += 1
    day = _day(parts, i)
    if day is None:
        return None
    year, end, doubt = _year(parts, day[1])
    return _made_date(at, end, year, MONTHS[parts[at].norm], day[0], doubt)


def _day_first(parts: Sequence[Part], at: int) -> Spelled | None:
    day = _day(parts, at)
    if day is None:
        return None
    i = day[1]
    if i < len(parts) and parts[i].norm == "of":
        i += 1
    if i >= len(parts) or parts[i].norm not in MONTHS or parts[i - 1].after:
        return None
    year, end, doubt = _year(parts, i + 1)
    return _made_date(at, end, year, MONTHS[parts[i].norm], day[0], doubt)


def _day(parts: Sequence[Part], i: int) -> tuple[int, int] | None:
    """Read a day of the month: *fourteenth*, *twenty first*, *14th*, *14*, *fourteen*."""
    if i >= len(parts):
        return None
    norm = parts[i].norm
    following = parts[i + 1].norm if i + 1 < len(parts) and not parts[i].after else ""
    if norm.isdigit() and 1 <= int(norm) <= 31:
        return int(norm), i + 2 if following in ("th", "st", "nd", "rd") else i + 1
    if found := re.match(r"^(\d{1,2})(st|nd|rd|th)$", norm):
        return int(found[1]), i + 1
    if norm in ("twenty", "thirty") and following in ORDINALS and ORDINALS[following] < 10:
        return int(TENS[norm]) + ORDINALS[following], i + 2
    if norm in ORDINALS:
        return ORDINALS[norm], i + 1
    number = _whole(parts, i)
    if number is None or number.start != i or not number.pieces:
        return None
    first = number.pieces[0][1]
    if number.style in ("cardinal", "groups") and first.isdigit() and 1 <= int(first) <= 31:
        end = number.pieces[1][0] if len(number.pieces) > 1 else number.end
        return int(first), end
    return None


def _year(parts: Sequence[Part], i: int) -> tuple[int, int, str]:
    """Read the year at part `i`: the year (0: none), where it ends, a doubt."""
    start = i
    while i < len(parts) and parts[i].norm in ("of", "in", "year", "the"):
        i += 1
    number = _whole(parts, i) if i < len(parts) else None
    if number is None:
        return 0, start, ""
    if 1990 <= number.value <= 2099 and number.value == int(number.value):
        return int(number.value), number.end, ""
    if number.style == "cardinal" and 20 <= number.value <= 60 and not parts[i - 1].after:
        ends = number.end >= len(parts) or bool(parts[number.end - 1].after)
        if ends:
            return 2000 + int(number.value), number.end, "only two figures of the year were said"
    return 0, start, ""


def _spoken_iso(parts: Sequence[Part], at: int) -> Spelled | None:
    """*two zero two six, zero four, one eight*: year, month and day in figures."""
    found, i = [], at
    while len(found) < 3 and i < len(parts):
        number = _whole(parts, i)
        if number is None or "." in number.digits:
            return None
        found.append(number)
        i = number.end
    if len(found) < 3 or [len(n.digits) for n in found] != [4, 2, 2]:
        return None
    year, month, day = (int(n.digits) for n in found)
    if not 2000 <= year <= 2060 or not 1 <= month <= 12 or not 1 <= day <= 31:
        return None
    return _made_date(at, i, year, month, day)


def _spoken_figures(parts: Sequence[Part], at: int) -> Spelled | None:
    """*five twenty-eight twenty twenty-six*: month, day and year in figures, spoken."""
    number = _whole(parts, at)
    if number is None or number.style != "groups" or len(number.pieces) != 4:
        return None
    first, second, century, year = (int(text) for _, text in number.pieces)
    before = [part.norm for part in parts[max(0, at - 2) : at]]
    if (
        century != 20
        or not 20 <= year <= 60
        or not set(before) & {"is", "date", "today", "on", "dated"}
    ):
        return None
    made = _all_figures(at, first, second, 2000 + year)
    return None if made is None else replace(made, end=number.end)


def _all_figures(at: int, a: int, b: int, c: int) -> Spelled | None:
    year = c if c > 99 else 2000 + c
    if a > 12:
        return _made_date(at, at + 3, year, b, a)
    doubt = "" if b > 12 or a == b else "day and month could be the other way round"
    return _made_date(at, at + 3, year, a, b, doubt)


def _made_date(
    at: int, end: int, year: int, month: int, day: int, doubt: str = ""
) -> Spelled | None:
    doubts = (doubt,) if doubt else ()
    try:
        value = date(year or 2024, month, day)
    except ValueError:
        return None
    return Spelled("date", at, end, value if year else None, day, month, doubts)


# grades


def _grade(parts: Sequence[Part], at: int) -> Spelled | None:
    if typed := _TYPED_GRADE.match(parts[at].norm):
        return Spelled("grade", at, at + 1, f"{int(typed[1])}W-{typed[2]}")
    start = at
    if parts[at].norm == "sae":
        at += 1
    elif [part.norm for part in parts[at : at + 3]] == ["s", "a", "e"]:
        at += 3
    said_sae = at > start
    if at >= len(parts):
        return None
    number = _two_figures(parts, at)
    if number is not None:
        low, i = number
        width = _w(parts, i)
        high = _two_figures(parts, i + width) if width else None
        if high is not None and low in (5, 10, 15, 20, 25) and high[0] in (20, 30, 40, 50, 60):
            return Spelled("grade", start, high[1], f"{low}W-{high[0]}")
        if said_sae and low in (20, 30, 40, 50, 60):
            return Spelled("grade", start, i, f"SAE {low}")
        if i < len(parts) and parts[i].norm in ("weight", "wt") and low in (20, 30, 40, 50, 60):
            return Spelled("grade", start, i + 1, f"SAE {low}")
    return _single(parts, start)


def _single(parts: Sequence[Part], at: int) -> Spelled | None:
    """*single grade fifty*, *straight fifty weight*, *monograde forty*, *W one hundred*."""
    words = [part.norm for part in parts[at : at + 2]]
    if words[:1] in (["straight"], ["monograde"], ["grade"]):
        length = 1
    elif (
        len(words) == 2
        and words[0] in ("single", "mono", "straight")
        and words[1] in ("grade", "weight")
    ):
        length = 2
    elif words[:1] == ["w"] or words == ["double", "u"]:
        length = 1 if words[0] == "w" else 2
    else:
        return None
    i = at + length
    if i < len(parts) and parts[i].norm in ("sae", "oil", "grade"):
        i += 1
    number = _whole(parts, i) if i < len(parts) else None
    if number is None or number.start != i:
        return None
    end = number.end
    if _w(parts, end) or (len(number.pieces) > 1 and _w(parts, number.pieces[1][0])):
        return None  # "oil grade twenty W fifty"
    if end < len(parts) and parts[end].norm in ("weight", "wt"):
        end += 1
    text = str(number.value)
    if text in ("20", "30", "40", "50", "60") and words[0] not in ("w", "double"):
        return Spelled("grade", at, end, f"SAE {text}")
    if text in COMMERCIAL:
        doubt = f"{text} was said, the commercial number of {COMMERCIAL[text]}"
        return Spelled("grade", at, end, COMMERCIAL[text], doubts=(doubt,))
    return None


def _two_figures(parts: Sequence[Part], at: int) -> tuple[int, int] | None:
    """Read one number below a hundred: a single group, so that it does not swallow what follows."""
    if at >= len(parts):
        return None
    number = _whole(parts, at)
    if number is None or not number.pieces:
        return None
    text = number.pieces[0][1]
    if number.style == "digits":
        text = number.digits
    if not text.isdigit() or int(text) >= 100:
        return None
    single = number.style == "digits" or len(number.pieces) == 1
    return int(text), number.end if single else number.pieces[1][0]


def _w(parts: Sequence[Part], at: int) -> int:
    """Give how many parts from here say the letter W."""
    words = [part.norm for part in parts[at : at + 2]]
    if words[:1] == ["w"] or words[:1] == ["dub"]:
        return 1
    return 2 if words in (["double", "u"], ["double", "you"], ["dub", "u"]) else 0


# part numbers


def _code(parts: Sequence[Part], at: int) -> Spelled | None:
    """Read letters, figures and dashes; a code has a figure, and a letter or a dash."""
    if parts[at].norm in ("a", "an", "i"):
        if not (parts[at].text == "A" and at and _is_letter(parts, at + 1)):
            return None
    text, i, sounds = "", at, 0
    while i < len(parts):
        step = _symbol(parts, i, text)
        if step is None:
            break
        symbol, end, sound = step
        text += symbol
        sounds += sound
        i = end
        if parts[i - 1].after and not _goes_on(parts, i, text):
            break
    if text.startswith("pn") and parts[at].norm == "p" and len(text) > 4:
        text = text[2:].lstrip("-") if text[2].isalpha() or text[2].isdigit() else text[2:]
    while text.endswith("-"):
        text, i = text[:-1], i - 1
    letters = sum(c.isalpha() for c in text)
    if not any(c.isdigit() for c in text) or not (letters or "-" in text):
        return None
    if letters == 1 and text[0].isalpha() and len(text) < 3:
        return None
    if letters > 5 or text[-1:] == "i" or (text[0].isdigit() and not _plain_code(text)):
        return None
    doubts = ("letters or figures may sound like others here",) if sounds else ()
    return Spelled("code", at, i, text.upper(), doubts=doubts)


def _plain_code(text: str) -> bool:
    """A code that begins with a figure holds a dash or has letters behind several figures."""
    return "-" in text or bool(re.match(r"^\d{3,}[a-y]+\d*$", text))


def _symbol(parts: Sequence[Part], i: int, sofar: str) -> tuple[str, int, int] | None:
    """Give the next symbols of a code, where they end, and how many are only a sound."""
    norm, raw = parts[i].norm, parts[i].text
    if norm in _DASH:
        return ("-", i + 1, 0) if i + 1 < len(parts) else None
    if norm == "slash" and sofar:
        return "/", i + 1, 0
    number = _whole(parts, i)
    if number is not None and number.start == i and "." not in number.digits:
        return number.digits, number.end, number.homophones
    if norm in ("oh", "o") and sofar:
        return "0", i + 1, 0
    if norm in HOMOPHONES and sofar and _digit_near(parts, i):
        return HOMOPHONES[norm], i + 1, 1
    if _is_letter(parts, i):
        if norm == "a" and raw == "a" and sofar and not _ends_code(parts, i):
            return None
        return LETTERS.get(norm, norm), i + 1, 0
    if norm in SOUNDS and sofar and sofar[-1].isdigit() and _ends_code(parts, i):
        return SOUNDS[norm], i + 1, 1
    if _CODE.match(norm) and not norm.isdigit():
        return norm, i + 1, 0
    if re.match(r"^[a-z]{2,3}$", norm) and norm not in _NO_LETTERS:
        shout = raw.isupper() or not re.search(r"[aeiouy]", norm)
        ahead = parts[i + 1].norm if i + 1 < len(parts) else ""
        if shout and (ahead in _DASH or ahead in HOMOPHONES or (ahead and _whole(parts, i + 1))):
            return norm, i + 1, 0
    return None


def _is_letter(parts: Sequence[Part], i: int) -> bool:
    if i >= len(parts):
        return False
    return parts[i].norm in LETTERS or bool(re.match(r"^[a-z]$", parts[i].norm))


def _digit_near(parts: Sequence[Part], i: int) -> bool:
    near = parts[i + 1 : i + 2]
    return (
        bool(near) and not parts[i].after and bool(find_numbers(near) or near[0].norm in HOMOPHONES)
    )


def _ends_code(parts: Sequence[Part], i: int) -> bool:
    """Say whether a letter that is also a word stands where a code ends."""
    if parts[i].after or i + 1 >= len(parts):
        return True
    return parts[i + 1].norm in _S["after_code"]


def _goes_on(parts: Sequence[Part], i: int, text: str) -> bool:
    """A comma inside a code read slowly: *G, M, two two eight*."""
    if i < len(parts) and parts[i - 1].after == "," and text[-1].isdigit() and len(text) > 2:
        last = _is_letter(parts, i) and parts[i].norm not in ("a", "i")
        return last and _ends_code(parts, i)
    return (
        parts[i - 1].after == ","
        and text[-1].isalpha()
        and len(text) < 3
        and i < len(parts)
        and (_is_letter(parts, i) or _whole(parts, i) is not None)
    )
