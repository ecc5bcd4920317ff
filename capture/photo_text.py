"""What a photo says: counters by our own readers, lines by an OCR library, and its subject.

The subject is decided by what is seen: words on the dial or panel round the counter, the numerals
of a tachometer's scale, the wording of a label. A counter of something else (an altimeter's
pressure window, a voltmeter) is no reading.
"""

from __future__ import annotations

import math
import re
import tempfile
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from capture.observed import Instant, PhotoText, Reading
from capture.photo import Photo, Quad, look

if TYPE_CHECKING:
    from PIL.Image import Image

READER = "cowlnote-drums 1, rapidocr"
_LINES_PX, _WORDS_PX = 1280, 800  # for lines to keep; for the words that name a counter
_TACH = re.compile(r"\bR\.?P\.?M\b|\bTACH|[X×]\s?1000?\b", re.I)
_HOURS = re.compile(r"\bHOURS?\b|\bHRS?\b|\bHOURMETER\b|\bQUARTZ\b|\bHOBBS\b", re.I)
_ELSE = re.compile(
    r"\bVOLTS?\b|\bAMPS?\b|\bALT\b|\bALTIMETER\b|\bIN\.?\s?HG\b|\bMILLIBARS?\b|\bMB\b|\bHPA\b|\bPSI\b|"
    r"\bFEET\b|\bCLOCK\b|\bUTC\b|\bGAL(LONS)?\b|\bFUEL\b|\bMHZ\b",
    re.I,
)
_LABEL = re.compile(
    r"\bP\s?[/I1|]?\s?N\b|\bPART\s+N|\bFILTER\b|\bTORQUE\b|\bLOT\b|\bINSTALLED\b|\bS/N\b|\bCAPACITY\b|"
    r"\bCHANGE\s+EVERY\b|\bGASKET\b",
    re.I,
)
_NUMBERED = re.compile(r"\bP\s?[/I1|\\]\s?N|\bPN\b|\bPART\b", re.I)
_PROMPT = re.compile(r"\b(DATE|TACH|INSTALLED|HOURS|INST)\b", re.I)
_WRITTEN = re.compile(
    r"^[\d\s.,/\-':]+$|\b(JAN|FEB|MAR|APR|MAY|JUN|JUL|AUG|SEP|SEPT|OCT|NOV|DEC)[A-Z]*\b|"
    r"\d(JAN|FEB|MAR|APR|MAY|JUN|JUL|AUG|SEP|OCT|NOV|DEC)",
    re.I,
)


class PhotoReader(Protocol):
    """Anything that reads a photo."""

    def read(self, path: Path, media: str) -> PhotoText:
        """Read the photo at `path`, which the person knows as `media`."""


@dataclass(frozen=True, slots=True)
class _Seen:
    reading: Reading
    figures: int
    score: float


class Eye:
    """The photo reader; its networks are opened at the first photo.

    Raises ModelMissingError if they are not in `models_dir/photo`, InputError for a bad picture.
    """

    def __init__(self, models_dir: Path) -> None:
        self._models_dir = models_dir
        self._engines: tuple[Any, Any, Any] | None = None

    def open(self) -> None:
        """Open the networks, and the process that opens pictures, before the first photo comes."""
        from PIL import Image

        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "blank.png"
            Image.new("RGB", (320, 240)).save(path)
            self.read(path, path.name)

    def read(self, path: Path, media: str) -> PhotoText:
        """Read the photo at `path`, which the person knows as `media`."""
        photo = look(path)
        counters = self._counters(photo)
        lines = self._lines(photo, counters)
        counters = hour_counters(lines, counters)
        lines = tuple(x for x in lines if not any(_within(x.quad, c.quad) for c in counters))
        subject = subject_of(lines, counters)
        if subject == "label":
            lines = tuple(
                self._again(photo, line) if _NUMBERED.search(line.text) else line
                for line in mark_written(lines)
            )
        if subject in ("label", "other"):
            counters = ()
        taken = photo.taken
        dated = Instant(taken, "exif") if taken is not None and taken.tzinfo else None
        return PhotoText(media, photo.size, subject, (*counters, *lines), READER, dated)

    def _tools(self) -> tuple[Any, Any, Any]:
        if self._engines is None:
            from rapidocr import RapidOCR

            from capture.photo_drums import StripReader
            from capture.photo_find import CounterFinder

            ocr = RapidOCR(
                params={
                    "Global.log_level": "critical",
                    "Global.use_cls": False,  # the picture is upright already
                    "Det.limit_type": "max",
                    "Det.limit_side_len": 960,
                    "EngineConfig.onnxruntime.intra_op_num_threads": 1,
                }
            )
            self._engines = CounterFinder(self._models_dir), StripReader(self._models_dir), ocr
        return self._engines

    def _counters(self, photo: Photo) -> tuple[Reading, ...]:
        """Give what the counters show, the likeliest main counter first."""
        from PIL import Image as Images

        seen = self._seen(photo.image)
        upright = max((one.score * one.reading.probability for one in seen), default=0.0)
        if upright < 0.6:
            # a camera held on its side that did not say so
            width, height = photo.image.size
            for turn, back in (
                (Images.Transpose.ROTATE_270, lambda x, y: (y, height - x)),
                (Images.Transpose.ROTATE_90, lambda x, y: (width - y, x)),
            ):
                turned = [
                    one
                    for one in self._seen(photo.image.transpose(turn))
                    if one.score * one.reading.probability > max(0.45, 1.5 * upright)
                    and one.figures >= 4
                ]
                if turned:
                    seen = [replace(one, reading=_moved(one.reading, back)) for one in turned]
                    break
        seen.sort(key=lambda one: -one.score * one.reading.probability * min(one.figures, 5))
        first = [one.reading for one in seen]
        return tuple(_moved(one, lambda x, y: (x * photo.scale, y * photo.scale)) for one in first)

    def _seen(self, image: Image) -> list[_Seen]:
        from capture.photo_drums import read_counter

        finder, reader, _ = self._tools()
        seen = []
        for found in finder.find(image):
            strip = reader.see(image, found.quad)
            reading = read_counter(strip, found)
            if reading is not None:
                seen.append(_Seen(reading, len(strip.drums), found.score))
        return seen

    def _lines(self, photo: Photo, counters: Sequence[Reading]) -> tuple[Reading, ...]:
        """Give the lines of print, also what the OCR library makes of the counters."""
        longest = _WORDS_PX if any(one.probability > 0.6 for one in counters) else _LINES_PX
        part = min(1.0, longest / max(photo.image.size))
        size = (max(1, round(photo.image.width * part)), max(1, round(photo.image.height * part)))
        pixels = _brightened(np.asarray(photo.image.resize(size, reducing_gap=2.0)))[..., ::-1]
        result = self._tools()[2](pixels, use_det=True, use_cls=False, use_rec=True)
        if result.txts is None:
            return ()
        scale = photo.size[0] / size[0]
        lines = []
        for text, score, box in zip(result.txts, result.scores, result.boxes, strict=True):
            quad = tuple((float(x) * scale, float(y) * scale) for x, y in box)
            if plain := _plain(text):
                lines.append(Reading("text", plain, quad, float(score)))
        return tuple(lines)

    def _again(self, photo: Photo, line: Reading) -> Reading:
        """Read a line twice more, cut out level; what comes out differently is kept beside it."""
        from capture.photo_cut import level

        others: dict[str, float] = {}
        for tall in (40, 80):
            cut = level(photo.image, np.array(line.quad) / photo.scale, tall)
            pixels = _brightened(np.asarray(cut))[..., ::-1]
            result = self._tools()[2](pixels, use_det=False, use_cls=False, use_rec=True)
            text = _plain(result.txts[0]) if result.txts else ""
            if text and _bare(text) != _bare(line.text):
                others[text] = float(result.scores[0])
        return replace(line, alternatives=tuple(others.items()))


def _plain(text: str) -> str:
    """Give the text without the full-width signs that the OCR library likes."""
    return unicodedata.normalize("NFKC", text).strip()


def _brightened(pixels: np.ndarray) -> np.ndarray:
    """Stretch a dark picture's tones, for the OCR library."""
    low, high = np.percentile(pixels[::4, ::4], (1, 99.7))
    if high > 150:
        return pixels
    stretched = (pixels.astype(np.float32) - low) * (230 / max(high - low, 12.0))
    return np.asarray(np.clip(stretched, 0, 255), np.uint8)


def _bare(text: str) -> str:
    return re.sub(r"[\s.:]", "", text)


def _moved(reading: Reading, how: Any) -> Reading:
    return replace(reading, quad=tuple(how(x, y) for x, y in reading.quad))


def _middle(quad: Quad) -> tuple[float, float]:
    return sum(x for x, _ in quad) / len(quad), sum(y for _, y in quad) / len(quad)


def _within(quad: Quad, counter: Quad) -> bool:
    """Tell whether the middle of `quad` lies inside a counter."""
    x, y = _middle(quad)
    turns = []
    for (x0, y0), (x1, y1) in zip(counter, (*counter[1:], counter[0]), strict=True):
        turns.append((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0))
    return all(t >= 0 for t in turns) or all(t <= 0 for t in turns)


def scale_numerals(lines: Sequence[Reading]) -> int:
    """Count the numerals of a tachometer's scale; none where others speak against it."""
    found, other = set(), 0
    for line in lines:
        text = line.text.strip(" -.'")
        if not re.fullmatch(r"\d{1,4}", text):
            continue
        value = int(text)
        if (value <= 40 and value % 5 == 0 and value) or (
            500 <= value <= 4000 and value % 500 == 0
        ):
            found.add(value)
        elif value >= 45 or value in range(1, 10):
            other += 1
    return len(found) if len(found) > other else 0


def hour_counters(lines: Sequence[Reading], counters: Sequence[Reading]) -> tuple[Reading, ...]:
    """Leave out what looks like a counter and counts no hours: a clock, a frequency, a pressure."""
    kept = []
    words = "\n".join(line.text for line in lines)
    for counter in counters:
        inside = [line.text for line in lines if _within(line.quad, counter.quad)]
        figures = counter.text.replace(".", "")
        plain = any("another colour" in doubt for doubt in counter.doubts)
        clock = any(re.search(r"\d:\d\d", text) for text in inside)
        fine = counter.kind == "lcd" and re.search(r"\.\d\d", counter.text)
        pressure = plain and re.fullmatch(r"(28|29|30|31)\d\d|9[5-9]\d|10[0-5]\d", figures)
        named = _HOURS.search(words) or _TACH.search(words)
        if not clock and not fine and not (pressure and not named):
            kept.append(counter)
    return tuple(kept)


def _near(lines: Sequence[Reading], counter: Reading) -> list[Reading]:
    """Give the lines on the same instrument: no further off than four times the counter's width."""
    x, y = _middle(counter.quad)
    (x0, y0), (x1, y1) = counter.quad[0], counter.quad[1]
    reach = 4 * math.hypot(x1 - x0, y1 - y0)
    return [
        line for line in lines
        if math.hypot(_middle(line.quad)[0] - x, _middle(line.quad)[1] - y) < reach
    ]  # fmt: skip


def subject_of(lines: Sequence[Reading], counters: Sequence[Reading]) -> str:
    """Say what the photo is of: `tach`, `hobbs`, `counter`, `label` or `other`. Pure."""
    words = "\n".join(line.text for line in lines)
    label = len({m.group(0).upper() for m in _LABEL.finditer(words)})
    if label >= 2 and not (
        counters and (scale_numerals(lines) >= 2 or re.search(r"\bR\.?P\.?M\b", words))
    ):
        return "label"
    if not counters:
        part = re.search(r"\bP\s?[/I1|]?\s?N[:.\s]|\bOIL FILTER\b", words, re.I)
        return "label" if part else "other"
    near = _near(lines, counters[0])
    words = "\n".join(line.text for line in near)
    if _TACH.search(words) or scale_numerals(near) >= 2:
        return "tach"
    if _HOURS.search(words):
        return "hobbs"
    single = {line.text for line in near if re.fullmatch(r"[1-9]", line.text)}
    if _ELSE.search(words) or len(single) >= 4:  # a dial from 0 to 9 is an altimeter's
        return "other"
    return "counter"


def mark_written(lines: Sequence[Reading]) -> tuple[Reading, ...]:
    """Mark a label's lines that look written by hand: dates and figures by a prompt. Pure."""
    prompts = [
        line for line in lines if _PROMPT.search(line.text) and not re.search(r"\d", line.text)
    ]
    marked = []
    for line in lines:
        x, y = _middle(line.quad)
        near = False
        for prompt in prompts:
            left, right = min(p[0] for p in prompt.quad), max(p[0] for p in prompt.quad)
            tall = max(p[1] for p in prompt.quad) - min(p[1] for p in prompt.quad)
            py = _middle(prompt.quad)[1]
            wide = right - left
            near |= abs(y - py) < 3.2 * tall and left - wide < x < right + max(2.5 * wide, 8 * tall)
        marked.append(replace(line, handwritten=bool(near and _WRITTEN.search(line.text))))
    return tuple(marked)
