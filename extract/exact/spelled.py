"""What is said letter by letter or figure by figure: dates, oil grades and part numbers."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from extract.exact.dates import date_at
from extract.exact.digits import whole
from extract.exact.numbers import find_numbers
from extract.words.lists import DIGITS, HOMOPHONES, table
from extract.words.parts import Part

_S = table("spelled")
LETTERS: dict[str, str] = _S["letters"]
SOUNDS: dict[str, str] = _S["sounds"]
COMMERCIAL: dict[str, str] = _S["commercial"]
_DASH = ("dash", "hyphen", "minus")
_CODE = re.compile(r"^-?[a-z]{0,4}-?\d[a-z\d-]*$")
_TYPED_GRADE = re.compile(r"^(?:sae)?(\d{1,2})w-?(\d{2})$")
_NO_LETTERS = ("psi", "rpm", "sae", "am", "pm", "tv", "ok", "egt", "cht", "ad", "fbo", "tq", "pn")

SOUND_ALIKE = "some letters and figures sound alike; compare it with the part"


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
        found = _day(parts, at) or _grade(parts, at) or _code(parts, at)
        if found is None:
            at += 1
        else:
            made.append(found)
            at = found.end
    return tuple(made)


def _day(parts: Sequence[Part], at: int) -> Spelled | None:
    day = date_at(parts, at)
    if day is None:
        return None
    return Spelled("date", day.start, day.end, day.value, day.day, day.month, day.doubts)


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
        width = _w(parts, i) or int(i < len(parts) and parts[i].norm in ("weight", "wt"))
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
    grades = ("single", "mono", "straight")
    if len(words) == 2 and words[0] in grades and words[1] in ("grade", "weight"):
        length = 2
    elif words[:1] in (["straight"], ["single"], ["monograde"], ["grade"]):
        length = 1
    elif words[:1] == ["w"] or words == ["double", "u"]:
        length = 1 if words[0] == "w" else 2
    else:
        return None
    i = at + length
    if i < len(parts) and parts[i].norm in ("sae", "oil", "grade"):
        i += 1
    number = whole(parts, i) if i < len(parts) else None
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
    number = whole(parts, at)
    if number is None or not number.pieces:
        return None
    text = number.pieces[0][1]
    if number.style == "digits":
        text = number.digits
    if not text.isdecimal() or int(text) >= 100:
        return None
    single = number.style == "digits" or len(number.pieces) == 1
    return int(text), number.end if single else number.pieces[1][0]


def _w(parts: Sequence[Part], at: int) -> int:
    """Give how many parts from here say the letter W."""
    words = [part.norm for part in parts[at : at + 3]]
    size = 1 if words[:1] in (["w"], ["dub"]) else 0
    size = 2 if words[:2] in (["double", "u"], ["double", "you"], ["dub", "u"]) else size
    return size + 1 if size and words[size : size + 1] in (["dash"], ["hyphen"]) else size


# part numbers


def _code(parts: Sequence[Part], at: int) -> Spelled | None:
    """Read letters, figures and dashes; a code has a figure, and a letter or a dash."""
    if not _may_begin(parts, at):
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
        text = text[2:].lstrip("-") if text[2].isalpha() or text[2].isdecimal() else text[2:]
    while text.endswith("-"):
        text, i = text[:-1], i - 1
    letters = sum(c.isalpha() for c in text)
    if not any(c.isdecimal() for c in text) or not (letters or "-" in text):
        return None
    if letters == 1 and text[0].isalpha() and len(text) < 3:
        return None
    if letters > 5 or text[-1:] == "i" or (text[0].isdecimal() and not _plain_code(text)):
        return None
    doubts = (SOUND_ALIKE,) if sounds else ()
    return Spelled("code", at, i, text.upper(), doubts=doubts)


def _may_begin(parts: Sequence[Part], at: int) -> bool:
    """*a*, *an*, *I* are words, save a capital A, or one after an article, before a letter."""
    if parts[at].norm not in ("a", "an", "i"):
        return True
    if parts[at].norm == "a" and at > 0 and parts[at - 1].norm in ("a", "an"):
        return _is_letter(parts, at + 1)
    return parts[at].text == "A" and at > 0 and _is_letter(parts, at + 1)


def _plain_code(text: str) -> bool:
    """A code that begins with a figure holds a dash or has letters behind several figures."""
    return "-" in text or bool(re.match(r"^\d{3,}[a-y]+\d*$", text))


def _symbol(  # noqa: C901 - one branch a kind of symbol
    parts: Sequence[Part], i: int, sofar: str
) -> tuple[str, int, int] | None:
    """Give the next symbols of a code, where they end, and how many are only a sound."""
    norm, raw = parts[i].norm, parts[i].text
    if norm in _DASH:
        return ("-", i + 1, 0) if i + 1 < len(parts) else None
    if norm == "slash" and sofar:
        return "/", i + 1, 0
    number = whole(parts, i)
    if number is not None and number.start == i and "." not in number.digits:
        return number.digits, number.end, number.homophones
    if norm in ("oh", "o") and sofar:
        return "0", i + 1, 0
    if norm in HOMOPHONES and sofar and _digit_near(parts, i):
        return HOMOPHONES[norm], i + 1, 1
    if norm == "x" and [p.norm for p in parts[i + 1 : i + 2]] == ["ray"]:
        return "x", i + 2, 0
    if _is_letter(parts, i):
        if norm == "a" and raw == "a" and sofar and not _ends_code(parts, i):
            return None
        return LETTERS.get(norm, norm), i + 1, 0
    if norm in SOUNDS and sofar and sofar[-1].isdecimal() and _ends_code(parts, i):
        return SOUNDS[norm], i + 1, 1
    if _CODE.match(norm) and not norm.isdecimal():
        return norm, i + 1, 0
    if re.match(r"^[a-z]{2,3}$", norm) and norm not in _NO_LETTERS:
        shout = raw.isupper() or not re.search(r"[aeiouy]", norm)
        ahead = parts[i + 1].norm if i + 1 < len(parts) else ""
        if shout and (ahead in _DASH or ahead in HOMOPHONES or (ahead and whole(parts, i + 1))):
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
    """A comma inside a code read slowly: *G, M, two two eight*, *N B, two, seven, seven*."""
    if 1 < i < len(parts) and parts[i].norm in DIGITS and parts[i - 1].norm in DIGITS:
        return parts[i - 2].after == "," == parts[i - 1].after
    if i < len(parts) and parts[i - 1].after == "," and text[-1].isdecimal() and len(text) > 2:
        last = _is_letter(parts, i) and parts[i].norm not in ("a", "i")
        return last and _ends_code(parts, i)
    if parts[i - 1].after != "," or i >= len(parts):
        return False
    number = whole(parts, i)
    if text[-1].isalpha() and len(text) < 3:
        return _is_letter(parts, i) or number is not None
    return False
