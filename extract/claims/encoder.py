"""The trained reader: what each candidate is of and whether it was done, which words state a state.

A small encoder of English, trained on marked notes of many hands (models/recipes/reading), reads a
note once, a long one in windows that overlap. It gives likelihoods only: values are the exact ones
of `extract.exact`, so that nothing can be invented. It knows no cue, and no field that its training
did not hold.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from capture.errors import ModelMissingError
from extract.exact.reading import Candidate
from extract.words.lists import DATA, table
from extract.words.parts import Part

FOLDER = DATA / "reader"
PINNED: Mapping[str, str] = table("reader")["sha256"]
STATED = "stated"
REPLACED, CUT, THING = "replaced", "cut", "thing"
_WINDOW, _STEP = 220, 110  # pieces of text


@dataclass(frozen=True, slots=True)
class Told:
    """What the trained reader says of one note; rows are candidates or parts, and add up to 1.

    `out` (candidates, outs): the field stated, or why none is; `field` (candidates, fields): what
    it is of, stated or not; `place` (candidates, places); `point` (candidates, 1 + candidates):
    what replaces it, first column nothing; `state` (parts, states), first column none; `status`
    (parts, statuses).
    """

    names: Mapping[str, Sequence[str]]
    out: Any
    field: Any
    place: Any
    point: Any
    state: Any
    status: Any


def pieces_of(parts: Sequence[Part]) -> list[tuple[str, int]]:
    """Give the texts that the encoder reads, each with the part it belongs to, -1 for a mark."""
    made: list[tuple[str, int]] = []
    for k, part in enumerate(parts):
        made.append((part.norm or "?", k))
        if part.after:
            made.append((part.after[0], -1))
    return made


def signs_of(candidate: Candidate) -> list[str]:
    """Give what the number itself tells of a candidate, each as a short text."""
    first = candidate.readings[0]
    made = [f"kind {kind}" for kind in sorted(candidate.kinds)]
    made.append(f"unit {first.unit.name if first.unit else 'none'}")
    made += [f"carried {unit.name}" for unit in candidate.carried[:1]]
    if isinstance(first.value, Decimal):
        value = float(first.value)
        size = int(2 * math.log10(value)) if value > 0 else -9
        made += [f"size {size}", f"figures {len(first.digits.replace('.', ''))}"]
        made.append(f"point {'.' in first.digits}")
        made.append(f"over {first.over is not None}")
    made.append(f"said {first.how}")
    return made


def read(
    parts: Sequence[Part], candidates: Sequence[Candidate], folder: Path | None = None
) -> Told:
    """Read a note of any length."""
    import numpy as np

    session, tokenizer, names = _loaded(folder or FOLDER)
    pieces = pieces_of(parts)
    told = _nothing(len(parts), len(candidates), names)
    best, best_of = np.full(len(parts), -1.0), np.full(len(candidates), -1.0)
    for start in _starts(len(pieces)):
        window = pieces[start : start + _WINDOW]
        held = sorted({k for _, k in window if k >= 0})
        if not held:
            continue
        low, high = held[0], held[-1] + 1
        mine = [n for n, c in enumerate(candidates) if low <= c.start and c.end <= high]
        got = session.run(
            None, _given(window, low, high, [candidates[n] for n in mine], tokenizer, names)
        )
        for k in range(low, high):
            if (inner := min(k - low, high - 1 - k)) > best[k]:
                best[k] = inner
                told.state[k], told.status[k] = got[4][k - low], got[5][k - low]
        for row, n in enumerate(mine):
            inner = min(candidates[n].start - low, high - candidates[n].end)
            if inner > best_of[n]:
                best_of[n] = inner
                told.out[n], told.field[n], told.place[n] = got[0][row], got[1][row], got[2][row]
                told.point[n] = 0
                told.point[n, [0, *(m + 1 for m in mine)]] = got[3][row]
    return told


def _nothing(count: int, many: int, names: Mapping[str, Sequence[str]]) -> Told:
    """Give what is told of `count` parts and `many` candidates before anything was read."""
    import numpy as np

    return Told(
        names,
        np.zeros((many, len(names["out"])), np.float32),
        np.zeros((many, len(names["field"])), np.float32),
        np.zeros((many, len(names["place"])), np.float32),
        np.zeros((many, many + 1), np.float32),
        np.zeros((count, len(names["state"])), np.float32),
        np.zeros((count, len(names["status"])), np.float32),
    )


def _starts(length: int) -> range:
    return range(0, max(1, length - _WINDOW + _STEP), _STEP) if length > _WINDOW else range(1)


def _given(
    window: Sequence[tuple[str, int]],
    low: int,
    high: int,
    candidates: Sequence[Candidate],
    tokenizer: Any,
    names: Mapping[str, Sequence[str]],
) -> dict[str, Any]:
    """Give the inputs of the graph for one window (see models/recipes/reading/train.py)."""
    import numpy as np

    coded = tokenizer.encode([text for text, _ in window], is_pretokenized=True)
    first, last = [0] * (high - low), [0] * (high - low)
    for n, w in enumerate(coded.word_ids):
        if w is not None and window[w][1] >= 0:
            k = window[w][1] - low
            first[k], last[k] = first[k] or n, n
    for k in range(1, high - low):
        if not first[k]:
            first[k], last[k] = last[k - 1], last[k - 1]
    at = {sign: n + 1 for n, sign in enumerate(names["signs"])}
    many = max(1, len(candidates))  # the graph needs a row
    inside = np.zeros((many, high - low), np.float32)
    signs = np.zeros((many, len(names["signs"]) + 1), np.float32)
    start, end = np.zeros(many, np.int64), np.zeros(many, np.int64)
    for n, c in enumerate(candidates):
        start[n], end[n] = c.start - low, c.end - 1 - low
        inside[n, c.start - low : c.end - low] = 1 / (c.end - c.start)
        for sign in signs_of(c):
            signs[n, at.get(sign, 0)] += 1
    return {
        "ids": np.asarray([coded.ids], np.int64),
        "first": np.asarray(first, np.int64),
        "last": np.asarray(last, np.int64),
        "start": start,
        "end": end,
        "inside": inside,
        "signs": signs,
        "ahead": np.triu(np.ones((many, many), np.float32), 1),
    }


@cache
def _loaded(folder: Path) -> tuple[Any, Any, Mapping[str, Sequence[str]]]:
    """Load the reader of a folder; that of the program as it was pinned, and no other."""
    import onnxruntime as ort
    from tokenizers import Tokenizer

    how = ort.SessionOptions()
    how.intra_op_num_threads = 1
    how.log_severity_level = 3
    graph, names, tokenizer = (
        _bytes(folder / name) for name in ("reader.onnx", "reader.json", "tokenizer.json")
    )
    session = ort.InferenceSession(graph, how, providers=["CPUExecutionProvider"])
    return session, Tokenizer.from_str(tokenizer.decode()), json.loads(names)


def _bytes(path: Path) -> bytes:
    """Give the bytes of a file: what is used is what was checked.

    Raises ModelMissingError where it cannot be read, or is not the one that was pinned. A reader in
    another folder is one that is being trained, and is nobody's to pin.
    """
    todo = "install the program again, as it was delivered"
    try:
        content = path.read_bytes()
    except OSError as error:
        raise ModelMissingError(f"cannot be read ({error.strerror})", path, todo) from None
    right = path.parent != FOLDER or hashlib.sha256(content).hexdigest() == PINNED[path.name]
    if not right:
        raise ModelMissingError("the trained reader is damaged: it is another file", path, todo)
    return content
