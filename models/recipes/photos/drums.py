"""Draw counters front-on: drums at any phase, and seven-segment panels. Everything is invented.

A phase is the digit that has not yet been replaced plus how far it has gone, 0 to 10.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

FONTS: list[str] = []
SEGMENTS: list[str] = []
CELLS: list[list[np.ndarray]] = []  # pictures of real drums by tenth of phase, if there are any


def load_fonts(folder: Path) -> None:
    """Find the digit fonts (`d_*`) and the seven-segment fonts (`s_*`) of a folder."""
    FONTS[:] = sorted(str(p) for p in folder.glob("d_*"))
    SEGMENTS[:] = sorted(str(p) for p in folder.glob("s_*"))


@dataclass
class Strip:
    """A counter front-on: its picture; in its pixels each drum's centre, phase and colour."""

    image: np.ndarray
    kind: str
    centres: list[tuple[float, float]]
    phases: list[float]
    tenths: list[int]
    widths: list[float]
    dot: float | None = None
    window: tuple[float, float, float, float] = (0, 0, 0, 0)
    extra: dict = field(default_factory=dict)


@lru_cache(maxsize=4000)
def font(path: str, size: int) -> ImageFont.FreeTypeFont:
    """Give a font at a size, remembered."""
    return ImageFont.truetype(path, size)


@lru_cache(maxsize=4000)
def glyph(path: str, text: str, height: int = 96) -> np.ndarray:
    """Give the ink of a character as a tight mask, `height` pixels high for a digit."""
    face = font(path, int(height * 1.4))
    box = face.getbbox(text)
    image = Image.new("L", (box[2] - box[0] + 2, box[3] - box[1] + 2))
    ImageDraw.Draw(image).text((1 - box[0], 1 - box[1]), text, fill=255, font=face)
    return np.asarray(image)


def colour(rng: random.Random, low: int, high: int, tint: int = 12) -> np.ndarray:
    """Give a greyish colour between two lightnesses."""
    base = rng.uniform(low, high)
    return np.clip([base + rng.uniform(-tint, tint) for _ in range(3)], 0, 255).astype(np.float32)


def red(rng: random.Random) -> np.ndarray:
    """Give a warm, strong colour as tenths drums have it."""
    pick = rng.random()
    if pick < 0.8:
        return np.array(
            [rng.uniform(140, 240), rng.uniform(10, 70), rng.uniform(10, 70)], np.float32
        )
    if pick < 0.92:
        return np.array(
            [rng.uniform(190, 250), rng.uniform(120, 190), rng.uniform(0, 60)], np.float32
        )
    return np.array([rng.uniform(10, 70), rng.uniform(60, 130), rng.uniform(120, 220)], np.float32)


def schemes(rng: random.Random) -> tuple[tuple, tuple, int]:
    """Give (ground, ink) of the hour drums and of the tenths drum, and whether they differ."""
    dark, light = colour(rng, 8, 60, 5), colour(rng, 190, 250, 12)
    pick = rng.random()
    if pick < 0.5:
        main = (dark, light)
    elif pick < 0.82:
        main = (light, dark)
    elif pick < 0.92:
        main = (colour(rng, 80, 150, 8), colour(rng, 5, 30) if rng.random() < 0.5 else light)
    else:
        main = (dark, np.array([rng.uniform(200, 250), rng.uniform(170, 220), 90], np.float32))
    pick = rng.random()
    if pick < 0.08:
        return main, main, 0
    if pick < 0.38:
        return main, (red(rng), colour(rng, 215, 255, 5) if rng.random() < 0.85 else dark), 1
    if pick < 0.66:
        return main, (colour(rng, 200, 255, 6), red(rng)), 1
    if pick < 0.78 and main[0].mean() < 120:
        return main, (dark, red(rng)), 1
    flip = (light, dark) if main[0].mean() < 128 else (dark, light)
    return main, flip, 1


def drum_column(
    rng: random.Random, face: str, phase: float, size: tuple[int, int], look: dict
) -> np.ndarray:
    """Give the ink (0..1) of one drum seen through its window of (width, height) pixels."""
    width, high = size
    pitch = look["pitch"] * high
    sign = look["sign"]
    tape_h = max(24, int(pitch))
    ink_h = max(8, int(look["ink"] * pitch))
    near = [(int(np.floor(phase)) + k) % 10 for k in (-2, -1, 0, 1, 2, 3)]
    order = near if sign > 0 else near[::-1]
    tape = np.zeros((tape_h * len(order), width), np.float32)
    for row, digit in enumerate(order):
        mask = glyph(face, str(digit))
        wide = max(3, int(mask.shape[1] * ink_h / 96 * look["stretch"]))
        wide = min(wide, width - 1)
        small = cv2.resize(mask, (wide, min(ink_h, tape_h)), interpolation=cv2.INTER_AREA)
        y = row * tape_h + (tape_h - small.shape[0]) // 2
        x = int((width - wide) / 2 + look["shift"])
        x = min(max(0, x), width - wide)
        tape[y : y + small.shape[0], x : x + wide] = small / 255.0
    fraction = phase - np.floor(phase)
    middle = (2 + fraction) if sign > 0 else (3 - fraction)
    ys = np.arange(high) - (high - 1) / 2 - look["lift"] * high
    radius = look["radius"] * high
    arc = radius * np.arcsin(np.clip(ys / radius, -0.98, 0.98))
    rows = (middle + 0.5) * tape_h + arc * tape_h / pitch
    rows = np.clip(rows, 0, tape.shape[0] - 1.001)
    low = rows.astype(int)
    part = (rows - low)[:, None].astype(np.float32)
    return tape[low] * (1 - part) + tape[low + 1] * part


def roll(rng: random.Random, digits: int, sort: str) -> tuple[list[float], list[int]]:
    """Give the phases of a counter of so many drums, carried as drums carry, and its digits.

    `sort`: `rest`, `roll` (the last drum between two digits) or `cascade` (others turn with it).
    """
    values = [rng.randrange(10) for _ in range(digits)]
    if rng.random() < 0.4:
        for place in range(rng.randrange(0, max(1, digits - 2))):
            values[place] = 0
    moved = 0.0
    if sort == "cascade":
        for place in range(rng.randrange(1, digits)):
            values[digits - 1 - place] = 9
    if sort != "rest":
        moved = rng.uniform(0.08, 0.92)
    out, turning = [0.0] * digits, moved
    slop = rng.random() < 0.15
    for place in range(digits - 1, -1, -1):
        wobble = rng.gauss(0, 0.035 if not slop else 0.09)
        out[place] = values[place] + turning + wobble
        if place < digits - 1 and slop and turning == 0:
            out[place] += rng.uniform(0, 0.2)
        if values[place] != 9:
            turning = 0.0
    return [v % 10 for v in out], values


def drum_strip(rng: random.Random) -> Strip:
    """Draw a drum counter with its window and frame."""
    count = rng.choices([3, 4, 5, 6, 7, 8], [2, 10, 40, 36, 10, 2])[0]
    sort = rng.choices(["rest", "roll", "cascade"], [45, 38, 17])[0]
    phases, digits = roll(rng, count, sort)
    main, last, differs = schemes(rng)
    if rng.random() < 0.1:
        last, differs = main, 0
    if CELLS and rng.random() < 0.22:
        return real_strip(rng, phases)
    high = rng.randrange(58, 100)
    wide = int(high * rng.uniform(0.48, 1.0))
    gap = int(wide * rng.choice([0, 0.02, 0.04, 0.06, 0.1, 0.18, 0.3]))
    face = rng.choice(FONTS)
    look = {
        "pitch": rng.uniform(0.82, 1.45),
        "sign": rng.choice([1, 1, -1]),
        "ink": rng.uniform(0.62, 0.9),
        "stretch": rng.uniform(0.75, 1.25),
        "shift": 0.0,
        "radius": rng.uniform(0.6, 2.5),
        "lift": 0.0,
    }
    if rng.random() < 0.5:
        look["pitch"] = rng.uniform(0.82, 1.1)
    pad_x, pad_y = int(wide * rng.uniform(0.02, 0.35)), int(high * rng.uniform(0.0, 0.14))
    plate = colour(rng, 0, 60, 4) if rng.random() < 0.75 else colour(rng, 60, 240)
    wider = rng.choice([0, 0, 0, 0.15, 0.3])
    widths = [wide] * (count - 1) + [int(wide * (1 + wider))]
    before_last = int(wide * rng.choice([0, 0, 0, 0.1, 0.3, 0.5]))
    total = sum(widths) + gap * (count - 1) + before_last + 2 * pad_x
    inner = np.zeros((high + 2 * pad_y, total, 3), np.float32) + plate
    x = pad_x
    centres = []
    wear = rng.random() < 0.25
    gloss = rng.uniform(0.0, 0.75)
    ys = np.linspace(-1, 1, high)[:, None]
    curve = 1 - gloss * np.abs(ys) ** rng.uniform(1.5, 4)
    shine_at, shine = rng.uniform(-0.7, 0.2), rng.uniform(0, 0.35) * (rng.random() < 0.5)
    for place, phase in enumerate(phases):
        ground, ink = last if place == count - 1 else main
        w = widths[place]
        if place == count - 1:
            x += before_last
        look["shift"] = rng.gauss(0, 0.02) * w
        look["lift"] = rng.gauss(0, 0.012)
        mask = drum_column(rng, face, phase, (w, high), look)
        if wear:
            spots = np.asarray(
                np.random.default_rng(rng.getrandbits(32)).random((high // 4 + 1, w // 4 + 1)),
                np.float32,
            )
            spots = cv2.resize(spots, (w, high), interpolation=cv2.INTER_CUBIC)
            mask = mask * np.clip(1.6 - spots * rng.uniform(0.8, 1.6), 0.15, 1)
        cell = ground + (ink - ground) * mask[..., None]
        shade = curve + shine * np.exp(-((ys - shine_at) ** 2) / 0.08)
        across = 1 - 0.18 * np.abs(np.linspace(-1, 1, w)[None]) ** 8
        cell = cell * (shade * across)[..., None]
        inner[pad_y : pad_y + high, x : x + w] = cell
        if rng.random() < 0.3 and gap == 0:
            inner[pad_y : pad_y + high, x : x + 1] = plate
        centres.append((x + w / 2, pad_y + high / 2))
        x += w + gap
    if rng.random() < 0.08:
        spot = int(x - gap - widths[-1] - before_last / 2), pad_y + high - 4
        cv2.circle(inner, spot, 3, [float(v) for v in main[1]], -1)
    image, dx, dy = frame(rng, inner, plate)
    return Strip(
        image,
        "drum",
        [(cx + dx, cy + dy) for cx, cy in centres],
        phases,
        [0] * (count - 1) + [differs],
        [float(w) for w in widths],
        window=(dx, dy, dx + inner.shape[1], dy + inner.shape[0]),
        extra={"sort": sort, "truth": digits},
    )


def real_strip(rng: random.Random, phases: list[float]) -> Strip:
    """Put pictures of real drums side by side as a counter."""
    high = 64
    wide = int(high * rng.uniform(0.5, 0.85))
    gap = int(wide * rng.choice([0, 0.05, 0.1, 0.3, 0.5]))
    pad = int(wide * rng.uniform(0.05, 0.3))
    plate = colour(rng, 0, 120, 10) if rng.random() < 0.7 else colour(rng, 120, 240)
    inner = np.zeros((high + 8, 2 * pad + len(phases) * (wide + gap) - gap, 3), np.float32) + plate
    centres, snapped = [], []
    for place, phase in enumerate(phases):
        bin_ = round(phase * 10) % 100
        cell = CELLS[bin_][rng.randrange(len(CELLS[bin_]))].astype(np.float32)
        cell = cv2.resize(cell, (wide, high), interpolation=cv2.INTER_CUBIC)
        x = pad + place * (wide + gap)
        inner[4 : 4 + high, x : x + wide] = np.clip(cell * rng.uniform(0.85, 1.15), 0, 255)
        centres.append((x + wide / 2, 4 + high / 2))
        snapped.append(bin_ / 10)
    image, dx, dy = frame(rng, inner, plate)
    return Strip(
        image,
        "drum",
        [(cx + dx, cy + dy) for cx, cy in centres],
        snapped,
        [-1] * len(phases),
        [float(wide)] * len(phases),
        window=(dx, dy, dx + inner.shape[1], dy + inner.shape[0]),
    )


def frame(rng: random.Random, inner: np.ndarray, plate: np.ndarray) -> tuple[np.ndarray, int, int]:
    """Put a bezel round a window; give the picture and the window's place in it."""
    thick = int(inner.shape[0] * rng.choice([0, 0.03, 0.06, 0.1, 0.14, 0.2]))
    if rng.random() < 0.5:
        depth = max(2, inner.shape[0] // rng.randrange(6, 16))  # the window's own shadow
        inner[:depth] *= np.linspace(rng.uniform(0.2, 0.7), 1, depth)[:, None, None]
    if not thick:
        return inner, 0, 0
    tone = colour(rng, 10, 240) if rng.random() < 0.7 else plate
    out = np.zeros((inner.shape[0] + 2 * thick, inner.shape[1] + 2 * thick, 3), np.float32) + tone
    light, dark = np.clip(tone * 1.3 + 15, 0, 255), tone * 0.55
    edge = max(1, thick // 3)
    if rng.random() < 0.7:
        a, b = (light, dark) if rng.random() < 0.5 else (dark, light)
        out[:edge], out[:, :edge], out[-edge:], out[:, -edge:] = a, a, b, b
    out[thick:-thick, thick:-thick] = inner
    return out, thick, thick
