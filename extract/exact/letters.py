"""Part numbers and oil grades, as they are spelled, typed or misheard."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from extract.exact.amiss import amiss, kilo, otherwise
from extract.exact.reading import Candidate, Reading
from extract.exact.terms import Atom, atoms_at
from extract.words.lists import DIGITS, table
from extract.words.parts import Part

_SPELLED = table("spelled")
LETTERS: dict[str, str] = _SPELLED["letters"]
SOUNDS: dict[str, str] = _SPELLED["sounds"]
COMMERCIAL: dict[str, str] = _SPELLED["commercial"]
_DASH = ("dash", "hyphen", "minus")
_STROKE = ("slash", "stroke")
_TYPED = re.compile(r"^-?[a-z]{0,5}-?\d[a-z\d/-]*$|^[a-z]{1,4}-[a-z\d-]*\d[a-z\d-]*$")
_WRITTEN = re.compile(
    r"(?<![A-Za-z\d])[A-Za-z\d]{1,6}-[A-Za-z\d]+(?:[-/][A-Za-z\d]+)*(?![A-Za-z\d])"
)
_TYPED_GRADE = re.compile(r"^(?:sae)?(\d{1,2})w-?(\d{2})$")
_LOW, _HIGH = ("5", "10", "15", "20", "25"), ("20", "30", "40", "50", "60")
_ALONE = (*_HIGH, "65", "70", "80", "100", "120")
_NO_LETTERS = frozenset(_SPELLED["no_letters"])
_LONGEST = 14
LOOSE = "letters beside figures"
_WITH_AN, _SURE_SOUNDS = frozenset(_SPELLED["with_an"]), frozenset(_SPELLED["sure_sounds"])


def grades(parts: Sequence[Part]) -> list[Candidate]:
    """Find every oil grade, first to last."""
    made = []
    at = 0
    while at < len(parts):
        found = _grade_at(parts, at)
        if found is not None:
            made.append(found)
        at = found.end if found is not None else at + 1
    return made


def grade_names(text: str) -> tuple[str, ...]:
    """Give the grades that a number alone may name: *fifty*, *one hundred*, *twenty fifty*."""
    if len(text) == 4 and text[:2] in _LOW and text[2:] in _HIGH:
        return (f"{text[:2]}W-{text[2:]}",)
    names = (f"SAE {text}",) if text in _ALONE else ()
    return (*((COMMERCIAL[text],) if text in COMMERCIAL else ()), *names)


def _grade(start: int, end: int, *names: str, how: str = "as said", doubt: str = "") -> Candidate:
    readings = tuple(
        Reading("grade", name, how="its commercial number" if n else how, doubt=doubt)
        for n, name in enumerate(dict.fromkeys(names))
    )
    return Candidate(start, end, readings)


def _grade_at(parts: Sequence[Part], at: int) -> Candidate | None:
    norms = [part.norm for part in parts[at : at + 3]]
    if typed := _TYPED_GRADE.match(norms[0]):
        return _grade(at, at + 1, f"{int(typed[1])}W-{typed[2]}")
    if found := re.match(r"^(?:sae|w)-?(\d{2,3})$", norms[0]):
        names = grade_names(found[1])
        by_number = norms[0].startswith("w")  # "W100" is said by its commercial number
        names = names if by_number else names[::-1]
        return _grade(at, at + 1, *names) if names else None
    i = at + 1 if norms[0] == "sae" else at + 3 if norms == ["s", "a", "e"] else at
    if i >= len(parts):
        return None
    if (two := _viscosity(parts, i)) is not None:
        return _grade(at, two[2], f"{two[0]}W-{two[1]}")
    if i > at and (alone := _number(parts, i)) is not None and alone[0] in _ALONE:
        return _grade(at, alone[1], f"SAE {alone[0]}")
    return _single(parts, at)


def _number(parts: Sequence[Part], i: int) -> tuple[str, int] | None:
    """Read one number below a hundred or a hundred; *five zero* in figures too."""
    atoms = atoms_at(parts, i) if i < len(parts) else []
    if not atoms or not atoms[0].text.isdecimal():
        return None
    if atoms[0].kind == "d" and len(atoms) > 1 and atoms[1].kind == "d":
        return atoms[0].text + atoms[1].text, atoms[1].end
    if atoms[0].tens_end and atoms[0].text not in (*_ALONE, *_LOW):
        return str(int(atoms[0].text) // 10 * 10), atoms[0].tens_end  # "fifty eight and a half"
    return atoms[0].text, atoms[0].end


def _viscosity(parts: Sequence[Part], i: int) -> tuple[str, str, int] | None:
    """*twenty W fifty*, *two zero whiskey five zero*, *fifteen weight fifty*, *20 W 50*."""
    glued_low = re.match(r"^(\d{1,2})w-?$", parts[i].norm) if i < len(parts) else None
    low = (glued_low[1], i) if glued_low else _number(parts, i)
    if low is None or low[0] not in _LOW:
        return None
    k = i + 1 if glued_low else _w(parts, low[1])
    high = _number(parts, k) if k > low[1] else None
    if high is None and k == low[1] + 1 and (glued := re.match(r"^w-?(\d\d)$", parts[low[1]].norm)):
        high = glued[1], k
    return (low[0], high[0], high[1]) if high is not None and high[0] in _HIGH else None


def _w(parts: Sequence[Part], i: int) -> int:
    """Give where the letter W that begins at a part ends, or the part itself."""
    words = [part.norm for part in parts[i : i + 2]]
    if words[:1] and (words[0] in ("w", "dub", "whiskey", "whisky", "weight", "wt", "winter")):
        k = i + 1
        if words[0] == "dub" and words[1:] and words[1] in ("u", "you", "yuh"):
            k = i + 2
    elif len(words) == 2 and words[0] == "double" and words[1] in ("u", "you", "yew", "ewe"):
        k = i + 2
    elif words[:1] and re.match(r"^w-?\d\d$", words[0]):
        k = i + 1
    else:
        return i
    return k + 1 if k < len(parts) and parts[k].norm in _DASH else k


_AT_ONCE = ("away", "off", "up", "after", "from", "back", "down", "in", "into", "out", "to")
_STRAIGHT = ("straight", "single", "monograde", "mono", "grade", "w", "single-grade", "straits")


def _single(parts: Sequence[Part], at: int) -> Candidate | None:
    """*straight fifty*, *sixty weight*, *W one hundred*, *forty, straight*, *grade fifty*."""
    i = _lead(parts, at)
    number = _number(parts, i)
    if number is None or number[0] not in _ALONE or _viscosity(parts, i) is not None:
        return None
    text, end = number
    if end < len(parts) and not parts[end - 1].after and atoms_at(parts, end):
        return None  # "grade twenty fifty"
    behind = [part.norm for part in parts[end : end + 3]]
    if behind[:1] == ["straight"] and behind[1:2] and behind[1] in _AT_ONCE:
        behind = []  # "up to sixty-five straight away"
    weight = behind[:1] in (["weight"], ["wt"])
    closes = behind[weight : weight + 1] in (["straight"], ["grade"], ["monograde"], ["single"])
    if i == at and not weight and not closes:
        return None
    end += weight + (closes and behind[weight] in ("straight", "grade"))
    if text not in COMMERCIAL:
        return _grade(at, end, f"SAE {text}")
    doubt = f"{text} was said, the commercial number of {COMMERCIAL[text]}"
    return _grade(at, end, COMMERCIAL[text], f"SAE {text}", doubt=doubt)


def _lead(parts: Sequence[Part], at: int) -> int:
    """Give where the words before a single grade end, or the part itself: there are none."""
    i = at
    while i < len(parts) and i < at + 3 and parts[i].norm in (*_STRAIGHT, "weight", "oil"):
        i += 1
    if i == at and [p.norm for p in parts[at : at + 2]] in (["double", "u"], ["double", "you"]):
        return at + 2
    return i if {part.norm for part in parts[at:i]} & set(_STRAIGHT) else at


@dataclass(frozen=True, slots=True)
class _Symbol:
    """A piece of a code: its text, where it ends; `letter` where it is a letter spelled."""

    text: str
    end: int
    kind: str


def codes(parts: Sequence[Part], words: Sequence[str] = ()) -> list[Candidate]:
    """Find every part number, first to last; `words` are the heard words, dashes and all."""
    made = []
    at = 0
    while at < len(parts):
        found = _typed_code(parts, at, words) or _code_at(parts, at)
        if found is not None:
            made.append(found)
        at = found.end if found is not None else at + 1
    return made


def _code_at(parts: Sequence[Part], at: int) -> Candidate | None:
    symbols = _symbols(parts, at)
    while symbols and symbols[-1].kind == "-":
        symbols.pop()
    text = "".join(symbol.text for symbol in symbols)
    kinds = "".join(symbol.kind for symbol in symbols)
    if not any(c.isdecimal() for c in text) or not re.search(r"[a-z/-]", text):
        return None
    letters = sum(c.isalpha() for c in text)
    dashed = "-" in text or "/" in text
    if letters > 6 or len(text) > _LONGEST or (len(text) < 3 and not dashed):
        return None
    if kinds in ("la", "al", "ln", "nl", "sn", "ns") and not dashed and not _firm(text):
        return None
    if text[0].isdecimal() and not dashed and not re.match(r"^\d{3,}[a-z]{1,2}\d*$", text):
        return None
    start, names = at, [text]
    loose = not dashed and "t" not in kinds and any(
        parts[k].norm.isdecimal() for k in range(at, symbols[-1].end)
    )  # fmt: skip
    if text.startswith("pn") and len(text) > 4 and not text.startswith("pn-"):
        names = [text[2:], text]
    if text[0] == "o" and parts[at].norm in ("o", "oh"):
        names.append("0" + text[1:])
    names += _dashes(names[0], symbols)
    names += otherwise(parts, at, text, letters="l" in kinds)
    loose = loose or bool(re.match(r"^\d{1,3}-\d{1,3}$", text))  # 16-18 may be a range
    how = LOOSE if loose else "as said"
    names = [*kilo(parts, at, text), *names]
    doubt = amiss(parts, at, symbols[-1].end, sounds="s" in kinds)
    readings = tuple(
        Reading("code", name.upper(), how="cut otherwise" if n else how, doubt=doubt)
        for n, name in enumerate(dict.fromkeys(names))
    )
    return Candidate(start, symbols[-1].end, readings)


def _typed_code(parts: Sequence[Part], at: int, words: Sequence[str]) -> Candidate | None:
    """*HF-2200/3* in one word, of which the parts have lost the dash and the stroke."""
    end = at + 1
    while end < len(parts) and parts[end].glued:
        end += 1
    if end == at + 1 or parts[at].glued or parts[at].word >= len(words):
        return None
    found = _WRITTEN.search(words[parts[at].word])
    if found is None or not any(c.isdecimal() for c in found[0]):
        return None
    letters = sum(c.isalpha() for c in found[0])
    if not 1 <= letters <= 5 or len(found[0]) > _LONGEST:
        return None
    return Candidate(at, end, (Reading("code", found[0].upper()),))


def _firm(text: str) -> bool:
    """Say whether a letter and figures are more than *R 30* or *L 29*."""
    return bool(re.match(r"^[a-z]\d{3,}$|^\d{3,}[a-z]$", text))


def _dashes(text: str, symbols: Sequence[_Symbol]) -> list[str]:
    """Give what the code would be with a dash between its letters and figures, none being said."""
    if "-" in text or "/" in text or len(symbols) < 2:
        return []
    first = re.sub(r"^([a-z]+)(\d)", r"\1-\2", text)
    both = re.sub(r"(\d)([a-z]+)$", r"\1-\2", first)
    return [name for name in (first, both) if name != text]


def _symbols(parts: Sequence[Part], at: int) -> list[_Symbol]:
    """Collect letters, figures, dashes and strokes from a part on."""
    made: list[_Symbol] = []
    i = at
    while i < len(parts):
        symbol = _symbol(parts, i, made)
        if symbol is None:
            break
        made.append(symbol)
        i = _as_in(parts, symbol.end)
        if i > symbol.end:
            made[-1] = _Symbol(symbol.text, i, symbol.kind)
        if symbol.kind == "t" and not (i < len(parts) and parts[i].norm in (*_DASH, *_STROKE)):
            break
        if parts[i - 1].after and not _goes_on(parts, i, made):
            break
    return made


def _as_in(parts: Sequence[Part], i: int) -> int:
    """*D as in dog*, *B for bravo*: skip how a letter was made plain."""
    words = [part.norm for part in parts[i : i + 3]]
    if words[:2] == ["as", "in"] and len(words) == 3:
        return i + 3
    return i


def _goes_on(parts: Sequence[Part], i: int, made: Sequence[_Symbol]) -> bool:
    """A comma inside a code read slowly, where a dash or a single letter stands beside it."""
    if i >= len(parts) or parts[i - 1].after.strip(","):
        return False
    ahead = parts[i].norm
    if made[-1].kind == "-":
        return True
    if ahead in _DASH:
        return made[0].kind != "-"  # "dash nine oh, dash nine zero six": begun again
    if parts[i - 2].after == "," and any(symbol.kind == "-" for symbol in made):
        return {atom.kind for atom in atoms_at(parts, i)} == {"d"}  # "dash, four, double seven"
    letters = all(symbol.kind in "la" for symbol in made)
    spelled = ahead in LETTERS or (len(ahead) == 1 and ahead.isalpha())
    if letters and len(made) <= 3:
        return spelled or bool(atoms_at(parts, i))
    if ahead in DIGITS and parts[i - 1].norm in DIGITS and not letters:
        return parts[i - 2].after == ","  # "N B, two, seven, seven"
    if made[-1].kind == "n" and len(made) > 1:
        return (
            spelled and ahead not in ("a", "i", "o") and bool(parts[i].after or i + 1 == len(parts))
        )
    return False


def _symbol(parts: Sequence[Part], i: int, made: Sequence[_Symbol]) -> _Symbol | None:  # noqa: C901 - one branch a kind
    norm, raw = parts[i].norm, parts[i].text
    if norm in _DASH:
        return _Symbol("-", i + 1, "-") if i + 1 < len(parts) else None
    if norm in _STROKE:
        return _Symbol("/", i + 1, "-") if made else None
    if norm in ("oh", "o") and not made and _spells(parts, i + 1):
        return _Symbol("o", i + 1, "l")
    if (
        _TYPED.match(norm)
        and re.search(r"[a-z-]", norm)
        and (len(norm) > 2 or norm.startswith("-"))
    ):
        return _Symbol(norm, i + 1, "t")
    if atoms := _figures(parts, i, made):
        return _Symbol("".join(atom.text for atom in atoms), atoms[-1].end, "n")
    if norm in ("oh", "o") and made:
        return _Symbol("0", i + 1, "n")
    if norm in table("exact")["soft"] and made and made[-1].kind in "n-":
        return _Symbol(DIGITS[table("exact")["soft"][norm]], i + 1, "n")
    if norm == "x" and [part.norm for part in parts[i + 1 : i + 2]] == ["ray"]:
        return _Symbol("x", i + 2, "a")
    if norm in LETTERS:
        return _Symbol(LETTERS[norm], i + 1, "a")
    if len(norm) == 1 and norm.isalpha():
        return _Symbol(norm, i + 1, "l") if _is_letter(parts, i, made) else None
    if (norm in SOUNDS or norm == "el") and _sounds(parts, i, made):
        return _Symbol(SOUNDS.get(norm, norm[-1]), i + 1, "s")
    if re.match(r"^[a-z]{2,3}$", norm) and norm not in _NO_LETTERS and raw.isupper():
        ahead = parts[i + 1].norm if i + 1 < len(parts) and not parts[i].after else ""
        if ahead and (ahead in _DASH or atoms_at(parts, i + 1)):
            return _Symbol(norm, i + 1, "l" * 1)
    return None


def _figures(parts: Sequence[Part], i: int, made: Sequence[_Symbol]) -> list[Atom]:
    """Give the figures that a code goes on with: all of the run, but no second typed number."""
    atoms = atoms_at(parts, i)
    if not atoms or "." in "".join(atom.text for atom in atoms):
        return []
    if atoms[0].kind == "f":
        return atoms[:1] if "," not in parts[i].text else []
    if (
        not made
        and atoms[-1].end < len(parts)
        and parts[atoms[-1].end].norm not in (*_DASH, *_STROKE)
    ):
        ahead = parts[atoms[-1].end].norm
        if ahead not in LETTERS and not (
            len(ahead) == 1 and ahead.isalpha() and ahead not in "aiv"
        ):
            return []
    return [atom for atom in atoms if atom.kind != "f"]


def _spells(parts: Sequence[Part], i: int) -> bool:
    if i >= len(parts):
        return False
    norm = parts[i].norm
    return norm in LETTERS or norm in _DASH or (len(norm) == 1 and norm.isalpha())


def _is_letter(parts: Sequence[Part], i: int, made: Sequence[_Symbol]) -> bool:
    """*a*, *i* are words mostly, save a capital beside other letters or figures."""
    if parts[i].norm not in ("a", "i"):
        return True
    if made:
        return parts[i].text.isupper() or bool(parts[i].after) or i + 1 == len(parts)
    if parts[i].norm == "a" and i + 1 < len(parts) and parts[i + 1].norm in _WITH_AN:
        return not parts[i].after  # "has a R dash": the article before this letter is *an*
    return parts[i].text == "A" and _spells(parts, i + 1)


def _sounds(parts: Sequence[Part], i: int, made: Sequence[_Symbol]) -> bool:
    """A letter written as a word: between letters, before a dash, or where a code ends."""
    if made:
        if made[-1].kind in "-s" or made[-1].kind == "l":
            return True
        dashed = any(symbol.kind == "-" for symbol in made)
        if dashed and parts[i].norm in _SURE_SOUNDS:
            return True
        after = parts[i].after or i + 1 >= len(parts)
        return made[-1].kind == "n" and bool(after)
    for k in range(i, min(i + 4, len(parts))):
        norm = parts[k].norm
        if norm in _DASH:
            return k > i
        if (
            norm not in (*SOUNDS, "el")
            and norm not in LETTERS
            and len(norm) > 1
            and not atoms_at(parts, k)
        ):
            return False
        if k > i and parts[k - 1].after:
            return False
    return False
