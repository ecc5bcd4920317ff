"""Heard words to their parts, each of which knows the heard word that it comes from.

A part is a heard word, or a piece of one where it holds several: `twenty-three` is two parts,
`it's` is *it* and *is*, `17ft-lb` is a number and its unit. Fillers (*uh*) make no part; the part
after them remembers the hesitation. Punctuation makes no part either; the part before keeps it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from capture.observed import Word
from extract.words.lists import (
    CONTRACTIONS,
    DIGITS,
    FILLERS,
    NUMERAL_UNITS,
    PARTICIPLES,
    REPEATS,
    SPELLINGS,
)

STRONG = ".?!;…"
_EDGES = re.compile(r"^([\s\"'“”‘’(\[{*_]*)(.*?)([\s\"'“”‘’)\]}*_.,;:?!…–—-]*)$", re.DOTALL)
_GLUED = re.compile(r"^([\d,]*\.?\d+(?:/\d+)?)[-\s]?([a-z°\"”′″·%/-]+\.?)$")
_GRADE = re.compile(r"^\d{1,2}w-?\d{2}$")


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a heard word: its text as heard, its norm, the number of its word, what follows it.

    `after` is the punctuation behind it; `hesitant` says that a filler stands before it; `glued`
    that it is joined to the part before without a space; `rescued` that its norm is not what was
    heard but what it sounds like (see extract.mend.rescue), `taught` that the owner said so.
    """

    text: str
    norm: str
    word: int
    after: str = ""
    hesitant: bool = False
    glued: bool = False
    rescued: bool = False
    taught: bool = False


def parts_of(words: Sequence[str]) -> tuple[Part, ...]:
    """Split heard words into parts."""
    made: list[Part] = []
    hesitant = False
    for number, word in enumerate(words):
        core, after = _trim(word)
        norm = core.lower()
        if not core or norm in FILLERS:
            hesitant = hesitant or bool(core)
            if made and after.strip(","):
                made[-1] = _with_after(made[-1], after)
            continue
        pieces = list(_pieces(core))
        for place, (text, piece) in enumerate(pieces):
            last = place == len(pieces) - 1
            made.append(
                Part(text, piece, number, after if last else "", hesitant and not place, place > 0)
            )
        hesitant = False
    return tuple(_alone(part, made[n + 1 : n + 2]) for n, part in enumerate(made))


def _alone(part: Part, following: Sequence[Part]) -> Part:
    """Put right what only the part behind tells of: *she'd cooled*, *double. Seven*."""
    if (
        part.norm in REPEATS
        and part.after
        and following
        and (following[0].norm in DIGITS or following[0].norm.isdecimal())
    ):
        return replace(part, after="")  # nobody stops there: it is how a model writes a breath
    return _had(part, following)


def _had(part: Part, following: Sequence[Part]) -> Part:
    """*she'd cooled* is *had*, *she'd want* is *would*."""
    if part.norm != "would" or not part.glued or not following:
        return part
    word = following[0].norm
    return replace(part, norm="had") if word.endswith("ed") or word in PARTICIPLES else part


def words_of(text: str) -> tuple[str, ...]:
    """Split typed text into words as a recogniser would give them."""
    spaced = re.sub(r"(?<=[A-Za-z])(\.{2,}|…|--+|[;:!?—–])(?=\S)", r"\1 ", text)
    spaced = re.sub(r"(?<=[A-Za-z]{2})([.,])(?=[A-Za-z]{2})", r"\1 ", spaced)
    return tuple(spaced.split())


def _trim(word: str) -> tuple[str, str]:
    word = word.replace("’", "'").replace("‘", "'").strip()
    found = _EDGES.match(word)
    if found is None:  # pragma: no cover - the pattern matches every string
        return word, ""
    _, core, tail = found.groups()
    if core.startswith("-") and not re.match(r"^-[A-Za-z0-9]", core):
        core = core.lstrip("-")
    return core, "".join(c for c in tail if c in ".,;:?!…–—" or c == "-").replace("-", ",") if (
        tail.strip("\"'")
    ) else ""


def _with_after(part: Part, after: str) -> Part:
    return replace(part, after=part.after + after)


def _pieces(core: str) -> Iterator[tuple[str, str]]:  # noqa: C901 - one branch a kind of word
    low = core.lower()
    if low == "p/n":
        yield core, "pn"
    elif low in CONTRACTIONS:
        for norm in CONTRACTIONS[low]:
            yield core, norm
    elif (found := re.match(r"^(.+?)('s|'re|'ve|'ll|'d|'m|n't)$", low)) and "'" in low:
        stem, tail = found.groups()
        cut = len(stem)
        yield from _pieces(core[:cut])
        yield core[cut:], CONTRACTIONS[tail][0]
    elif _GRADE.match(low) or re.match(r"^-?[\d,]*\.?\d+(/\d+)?$", low):
        yield core, low
    elif (found := _GLUED.match(low)) and found[2].strip(".") in NUMERAL_UNITS:
        yield core[: len(found[1])], found[1]
        for piece in re.split(r"[-/]", found[2].strip(".-")):
            yield piece, piece
    elif re.match(r"^-?[a-z]*-?\d[a-z\d-]*$", low):
        yield core, low  # a part number, or a word with figures
    elif re.match(r"^([a-z]\.)+[a-z]?$", low):
        flat = low.replace(".", "")
        yield core, SPELLINGS.get(flat, flat)
    elif "-" in low.strip("-") or "/" in low.strip("/"):
        for piece in re.split(r"[-/]", core):
            if piece:
                yield from _pieces(piece)
    else:
        yield core, SPELLINGS.get(low, low)


def span_words(parts: Sequence[Part], start: int, end: int) -> tuple[int, int]:
    """Give the first and the last heard word of the parts from `start` up to `end`."""
    return parts[start].word, parts[max(start, end - 1)].word


def heard(words: Iterable[Word]) -> str:
    """Join heard words as they were heard."""
    return " ".join(word.text for word in words).strip()
