"""Read a counter's window: straighten it, see each drum's phase, and decide by how drums carry.

A drum's phase is the digit that has not yet been replaced plus how far it has turned to the next.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from capture.observed import Reading
from capture.photo_carry import carry
from capture.photo_cut import straighten as cut_out
from capture.photo_find import Found, session

if TYPE_CHECKING:
    from PIL.Image import Image

WIDE, HIGH = 320, 80
_BOX = ((24, 14), (296, 14), (296, 66), (24, 66))  # where the counter lies in the strip
_LEAST_DRUMS, _MOST_DRUMS = 3, 9
_SURE, _LEAST = 0.9, 0.2
_MOVED = 0.12  # of the way to the next digit; less is a drum at rest
_UNCLEAR = "the figures are not clear enough to be sure of"
_CUTS = ((0.0, 0.0), (0.03, 0.1), (-0.02, -0.06))  # by how much each cut is larger, along and down


@dataclass(frozen=True, slots=True)
class Drum:
    """One drum as seen: `x` its middle (0 to 320), `phase` (100,) how likely each tenth of a digit
    from 0.0 to 9.9 is, `other_colour`, `legible` and `there` how likely that is.
    """  # noqa: D205

    x: float
    phase: np.ndarray
    other_colour: float
    legible: float
    there: float = 1.0


@dataclass(frozen=True, slots=True)
class Strip:
    """A straightened window as seen: `kind` (3,) how likely drums, segments or neither are."""

    kind: np.ndarray
    drums: tuple[Drum, ...]
    dot: float | None


class StripReader:
    """The reader network."""

    def __init__(self, models_dir: Path) -> None:
        self._net = session(models_dir, "reader")

    def see(self, image: Image, quad: np.ndarray) -> Strip:
        """Look at the window with these corners; three slightly different cuts are averaged."""
        cuts = [straighten(image, _grown(quad, *grow)) for grow in _CUTS]
        batch = np.stack([np.asarray(one) for one in cuts]).transpose(0, 3, 1, 2)
        columns, kind = self._net.run(None, {"image": batch.astype(np.float32) / 255})
        return _strip(_aligned(columns), kind.mean(0))


def _grown(quad: np.ndarray, along: float, down: float) -> np.ndarray:
    a: np.ndarray = (quad[1] - quad[0] + quad[2] - quad[3]) / 4 * along
    d = (quad[3] - quad[0] + quad[2] - quad[1]) / 4 * down
    return np.asarray(quad + np.array([-a - d, a - d, a + d, -a + d]))


def _aligned(columns: np.ndarray) -> np.ndarray:
    """Average the cuts after undoing how much wider or narrower each one is."""
    at = np.arange(columns.shape[2]) * 4 + 2.0
    total: np.ndarray = columns[0].copy()
    for cut, along in zip(columns[1:], (along for along, _ in _CUTS[1:]), strict=True):
        where = ((at - 160) / (1 + along) + 160 - 2) / 4
        low = np.clip(np.floor(where).astype(int), 0, len(at) - 2)
        part = np.clip(where - low, 0, 1)
        total += cut[:, low] * (1 - part) + cut[:, low + 1] * part
    return np.asarray(total / len(columns))


def straighten(image: Image, quad: np.ndarray) -> Image:
    """Give the strip of 320 × 80 pixels in which the window lies where the reader expects it."""
    return cut_out(image, quad, (WIDE, HIGH), _BOX)


def _sigmoid(x: np.ndarray) -> np.ndarray:
    return np.asarray(1 / (1 + np.exp(-x)))


def _soft(x: np.ndarray) -> np.ndarray:
    e = np.exp(x - x.max())
    return np.asarray(e / e.sum())


def _strip(columns: np.ndarray, kind: np.ndarray) -> Strip:
    """Pick the drums out of the columns."""
    here, other, dots, legible = (_sigmoid(columns[row]) for row in (100, 101, 102, 103))
    drums: list[Drum] = []
    taken = np.zeros(len(here), bool)
    for column in np.argsort(-here):
        if here[column] < 0.35 or taken[column]:
            continue
        taken[max(0, column - 3) : column + 4] = True
        near = slice(max(0, column - 1), column + 2)
        phase = _soft(columns[:100, near].mean(1))
        marks = (float(other[near].mean()), float(legible[near].mean()), float(here[column]))
        drums.append(Drum(float(column * 4 + 2), phase, *marks))
    drums.sort(key=lambda drum: drum.x)
    dot = int(dots.argmax())
    return Strip(
        _soft(kind), tuple(drums[:_MOST_DRUMS]), dot * 4 + 2.0 if dots[dot] > 0.4 else None
    )


def read_counter(strip: Strip, found: Found) -> Reading | None:
    """Give the reading of a counter's window, or None where it cannot be read. Pure."""
    ghost = bool(strip.drums) and strip.drums[0].there < 0.8 and strip.drums[0].legible < 0.4
    if ghost:  # the window's own edge, more likely than a drum
        strip = replace(strip, drums=strip.drums[1:])
    if strip.kind[2] > 0.6 or len(strip.drums) < 2:
        return None
    hidden = sum(drum.legible < 0.4 for drum in strip.drums)
    if hidden >= 2 or hidden * 3 > len(strip.drums):
        return None
    lcd = strip.kind[1] > strip.kind[0]
    read = _read_segments(strip) if lcd else _read_drums(strip)
    if read is None:
        return None
    texts, doubts = read
    doubts += _layout_doubts(strip, lcd)
    if ghost:
        doubts.append("something on the left may be another drum; it was left out")
    if hidden:
        doubts.append("one of the figures is covered or cannot be made out")
    sure = texts[0][1] * min(1.0, 0.35 + found.score) * (0.5 if hidden else 1.0)
    if sure < _LEAST:
        return None
    quad = tuple((float(x), float(y)) for x, y in found.quad)
    return Reading(
        "lcd" if lcd else "drum",
        texts[0][0],
        quad,
        min(0.99, sure),
        tuple(texts[1:4]),
        tuple(doubts),
    )


def _layout_doubts(strip: Strip, lcd: bool) -> list[str]:
    xs = np.array([drum.x for drum in strip.drums])
    gaps = np.diff(xs)
    doubts = []
    if len(xs) < (2 if lcd else 4):
        doubts.append(f"only {len(xs)} figures were found")
    if len(gaps) >= 2 and gaps[:-1].max() > 1.65 * np.median(gaps):
        doubts.append("a figure may have been missed between two others")
    if not lcd and len(gaps) and xs[0] - _BOX[0][0] > 1.35 * float(np.median(gaps)):
        doubts.append("there is room for another drum on the left")
    return doubts


def _around(phase: np.ndarray, reach: int) -> np.ndarray:
    """Give for each digit how likely the drum stands within `reach` tenths of it."""
    steps = np.arange(-reach, reach + 1)
    return np.array([phase[(digit * 10 + steps) % 100].sum() for digit in range(10)])


def _read_segments(strip: Strip) -> tuple[list[tuple[str, float]], list[str]] | None:
    chances = np.array([_around(drum.phase, 5) for drum in strip.drums])
    chances /= chances.sum(1, keepdims=True)
    best = chances.argmax(1)
    sure = float(chances.max(1).prod())
    doubts = []
    xs = [drum.x for drum in strip.drums]
    places = 1
    if strip.dot is None:
        doubts.append("no decimal point was seen; it was taken to stand before the last figure")
    else:
        places = sum(x > strip.dot for x in xs)
        if places != 1:
            doubts.append(f"the decimal point stands before the last {places} figures")
    if sure < _SURE:
        doubts.append(_UNCLEAR)
    texts = [(_point(best, places), sure)]
    ranked = np.sort(chances, axis=1)
    weak = int((ranked[:, -1] - ranked[:, -2]).argmin())
    other = best.copy()
    other[weak] = int(np.argsort(chances[weak])[-2])
    texts.append((_point(other, places), sure * float(ranked[weak, -2] / ranked[weak, -1])))
    if strip.dot is None:
        texts.insert(1, (_point(best, 0), 0.2))
    return texts, doubts


def _point(digits: np.ndarray, places: int) -> str:
    """Write digits with so many behind the point, without needless zeros in front."""
    text = "".join(str(int(d)) for d in digits)
    if places <= 0 or places >= len(text):
        return text.lstrip("0") or "0"
    return (text[:-places].lstrip("0") or "0") + "." + text[-places:]


def _read_drums(strip: Strip) -> tuple[list[tuple[str, float]], list[str]] | None:
    chances, moved = carry([drum.phase for drum in strip.drums])
    ranked = sorted(chances.items(), key=lambda item: -item[1])[:6]
    (best, sure), count = ranked[0], len(strip.drums)
    places = 0
    for drum in reversed(strip.drums):
        if drum.other_colour < 0.5:
            break
        places += 1
    doubts = []
    if places == 0 or places >= count - 1:
        places = 1
        doubts.append("no drum of another colour was seen; the last one was taken for tenths")
    elif places > 1:
        doubts.append(f"the last {places} drums are of another colour")
    if count < _LEAST_DRUMS:
        return None
    part = moved[best]
    if sure < _SURE:
        doubts.append(_UNCLEAR)
    if part > _MOVED:  # set on counters drawn by the recipe; near a digit it errs more
        sure *= 0.93 if 0.25 < part < 0.75 else 0.8
    texts = [(_point(_digits(best, count), places), sure)]
    texts += [(_point(_digits(value, count), places), p) for value, p in ranked[1:]]
    if part > _MOVED:
        last = best % 10
        doubts.append(f"the last drum stands between {last} and {(last + 1) % 10}")
        after = _point(_digits((best + 1) % 10**count, count), places)
        texts = [texts[0], (after, max(0.15, dict(texts).get(after, 0.0)))] + [
            t for t in texts[1:] if t[0] != after
        ]
    return texts, doubts


def _digits(value: int, count: int) -> np.ndarray:
    return np.array([value // 10**place % 10 for place in range(count - 1, -1, -1)])
