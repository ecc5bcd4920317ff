"""Registrations of aircraft, spoken in a note or printed in a picture. Never a value of a field.

The United States form is N, then one to five figures of which the last one or two may be letters
other than I and O (14 CFR 47.15(b)). That a real one begins with no zero is not held against it
here. Of other nationalities only marks of the same shape as the aircraft's own are known.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from jellyfish import levenshtein_distance

from extract.words.lists import DIGITS, TEENS, TENS, table

_LETTERS: dict[str, str] = table("spelled")["letters"]
_SOUNDS: dict[str, str] = table("spelled")["sounds"]
_US = re.compile(r"N(\d{1,5}|\d{1,4}[A-HJ-NP-Z]|\d{1,3}[A-HJ-NP-Z]{2})")
_CUES = ("tail", "registration", "aircraft", "airplane", "plane", "ship", "november")
_NO_MARK = frozenset(
    ("dash", "part", "number", "serial", "filter", "pn", "lot", "batch", "squawk", "frequency")
)
_YEARS = re.compile(r"N(19|20)\d\d")
ALIKE = 2  # edits between a mark and one much like it
_LOOKS = str.maketrans("OI", "01")  # no registration of this form has the letters


def normal_form(registration: str) -> str:
    """Give a registration as it is compared: capitals, no dash or space; O and I as figures."""
    flat = re.sub(r"[^A-Z0-9]", "", registration.upper())
    return f"N{flat[1:].translate(_LOOKS)}" if re.match(r"N[\dOI]", flat) else flat


def spoken(words: Sequence[str], own: str = "") -> tuple[str, ...]:
    """Give the registrations said in heard words, in their normal form, `own` among them if said.

    One without its N is known by the words before it (*tail number*), or by its last letter spoken
    in the alphabet where it is as long as `own`.
    """
    bare = [re.sub(r"[^a-z0-9-]", "", word.lower()).strip("-") for word in words]
    symbols = [_symbols(word) for word in bare]
    found = []
    for start, end in _runs(bare, symbols):
        mark = _mark(bare, symbols, start, end, normal_form(own))
        if mark:
            found.append(mark)
    return tuple(dict.fromkeys(found))


def told(hearings: Sequence[Sequence[str]], own: str) -> tuple[bool, tuple[str, ...]]:
    """Weigh what several hearings of one memo name: whether `own` was said, and which others were.

    Where the end of `own` was not heard, what there is of it is `own`. Another counts where the
    first hearing has it or two have; where one hearing has `own`, a mark much like it in a hearing
    without is taken for the same words misheard.
    """
    home = normal_form(own)
    found = [{_completed(mark, home) for mark in spoken(words, own)} for words in hearings]
    said = any(home in marks for marks in found)
    counted: dict[str, int] = {}
    for place, marks in enumerate(found):
        for mark in marks - {home}:
            if said and home not in marks and levenshtein_distance(mark, home) <= ALIKE:
                continue
            counted[mark] = counted.get(mark, 0) + (2 if place == 0 else 1)
    sure = sorted(mark for mark, votes in counted.items() if votes > 1)
    whole = (m for m in sure if not any(o != m and o.startswith(m) for o in sure))
    return said, tuple(whole)


def _completed(mark: str, home: str) -> str:
    """Give the own mark for its beginning, all figures of it there: "… one seven. We're back"."""
    cut = mark[1:].isdecimal() and home.startswith(mark) and home[len(mark) :].isalpha()
    return home if cut else mark


def printed(text: str, own: str = "") -> tuple[str, ...]:
    """Give the registrations in a line read off a picture, as `spoken` does."""
    if re.search(r"(?i)\b(p/?n|s/?n|part|serial|lot|model|no\.)", text):
        return ()
    home = normal_form(own)
    found = []
    for token in re.findall(r"[A-Z0-9]+(?:-[A-Z0-9]+)?", text.upper()):
        flat = normal_form(token)
        us = "-" not in token and len(flat) >= 4 and _US.fullmatch(flat)
        if (us and not _YEARS.fullmatch(flat)) or _alike(flat, home):
            found.append(flat)
    return tuple(dict.fromkeys(found))


def _symbols(word: str) -> str:
    """Give what a bare word stands for in a code, in capitals, or nothing."""
    low = word.replace("-", "")
    for known in (_LETTERS, DIGITS, TEENS):
        if low in known:
            return known[low].upper()
    if low in TENS:
        return TENS[low]
    if "-" in word:
        inner = [_symbols(part) for part in word.split("-") if part]
        return "".join(inner) if all(inner) else ""
    if low != "a" and re.fullmatch(r"[a-z]?\d+[a-z]{0,2}|[a-z]", low):
        return low.upper()
    return ""


def _runs(bare: Sequence[str], symbols: Sequence[str]) -> Iterator[tuple[int, int]]:
    """Give stretches of words that stand for letters and figures; an N begins another."""
    start = 0
    while start < len(symbols):
        end = start
        while end < len(symbols) and symbols[end]:
            if end > start and (bare[end] in ("november", "n") or _US.fullmatch(symbols[end])):
                break
            end += 1
        if end > start:
            yield start, end
        start = max(end, start + 1)


def _mark(bare: Sequence[str], symbols: Sequence[str], start: int, end: int, home: str) -> str:
    """Read a run of letters and figures as a registration, or give nothing."""
    flat = normal_form("".join(symbols[start:end]))
    if end < len(bare) and bare[end] in _SOUNDS:  # *cue*: believed only of the aircraft's own
        for longer in (flat + _SOUNDS[bare[end]].upper(), f"N{flat}{_SOUNDS[bare[end]].upper()}"):
            if longer == home:
                return home
    if cut := re.match(r"(N\d{1,4}[A-HJ-NP-Z]{1,2})\d", flat):
        flat = cut[1]  # "… x-ray, six quarts": what follows the letter is of the next thing
    if _alike(flat, home):
        return flat
    before = bare[max(0, start - 4) : start]
    if _US.fullmatch(flat):
        other = flat[1:].isdecimal() and _NO_MARK & {*before} and "tail" not in before
        return "" if other or len(flat) < 4 or _dated(bare[start:end], flat) else flat
    marked = f"N{flat}"
    if not _US.fullmatch(marked) or len(marked) < 4:
        return ""
    if "tail" in before or "registration" in before:
        return marked
    named = bare[end - 1].replace("-", "") in _LETTERS
    cued = named or any(cue in before for cue in _CUES)
    return marked if cued and _shape(marked) == _shape(home) and not _NO_MARK & {*before} else ""


def _dated(bare: Sequence[str], flat: str) -> bool:
    """*november twenty twenty-six*, *November 2026*: a month and a year, or a day."""
    if not flat[1:].isdecimal() or bare[0] != "november":
        return False
    tens = {part for word in bare for part in word.split("-")}
    return bool(_YEARS.fullmatch(flat) or tens & {*TENS, *TEENS})


def _shape(mark: str) -> str:
    return re.sub(r"[A-Z]", "A", re.sub(r"\d", "0", mark))


def _alike(flat: str, home: str) -> bool:
    """Tell whether a mark of another nationality is of the aircraft's own shape and nationality."""
    if not home or _US.fullmatch(home):
        return bool(home) and flat == home
    return len(flat) == len(home) and flat[:2] == home[:2] and _shape(flat) == _shape(home)
