"""The parts of instruments drawn front-on: faces, needles, grounds, lettering."""

from __future__ import annotations

import math
import random

import cv2
import numpy as np
from drums import FONTS, Strip, colour, font, red
from PIL import Image, ImageDraw

SIDE = 700
MIDDLE = SIDE // 2
BRANDS = [
    "AVALON",
    "MERIDIA",
    "KESTO",
    "Norrin",
    "TRELLIS & SON",
    "VARDO",
    "Ostrel",
    "HALDEN",
    "PIMLO",
]
BACKS: list[np.ndarray] = []  # real photographs without a counter, if there are any


def text(
    draw: ImageDraw.ImageDraw,
    rng: random.Random,
    at: tuple[float, float],
    words: str,
    size: float,
    fill: tuple[int, ...],
    face: str,
) -> None:
    """Write centred text."""
    draw.text(at, words, fill=fill, font=font(face, max(6, int(size))), anchor="mm")


def tup(c: np.ndarray) -> tuple[int, int, int]:
    """Give a colour as Pillow wants it."""
    return tuple(int(max(0, min(255, v))) for v in c)  # type: ignore[return-value]


def texture(rng: random.Random, width: int, height: int) -> np.ndarray:
    """Give a plain ground: painted, brushed, wood-like, cloth-like or blurred shapes."""
    if BACKS and rng.random() < 0.3:
        back = BACKS[rng.randrange(len(BACKS))]
        share = rng.uniform(0.3, 1.0)
        h, w = int(back.shape[0] * share), int(back.shape[1] * share)
        y, x = rng.randrange(back.shape[0] - h + 1), rng.randrange(back.shape[1] - w + 1)
        return cv2.resize(back[y : y + h, x : x + w], (width, height)).astype(np.float32)
    seed = np.random.default_rng(rng.getrandbits(32))
    pick = rng.random()
    tone = (
        colour(rng, 15, 220, 30)
        if rng.random() < 0.8
        else np.array([rng.uniform(0, 255) for _ in range(3)], np.float32)
    )
    image = np.zeros((height, width, 3), np.float32) + tone
    if pick < 0.25:
        rows = seed.normal(0, rng.uniform(2, 14), (height, 1, 1)).astype(np.float32)
        image += rows if rng.random() < 0.5 else seed.normal(0, 8, (1, width, 1)).astype(np.float32)
    elif pick < 0.6:
        grain = seed.normal(0, rng.uniform(5, 25), (height // 3 + 1, width // 3 + 1)).astype(
            np.float32
        )
        image += cv2.resize(grain, (width, height))[..., None]
    elif pick < 0.8:
        coarse = seed.uniform(0, 1, (rng.randrange(2, 9), rng.randrange(2, 9), 3)).astype(
            np.float32
        )
        image = image * 0.5 + 200 * cv2.resize(
            coarse, (width, height), interpolation=cv2.INTER_CUBIC
        ) * rng.uniform(0.2, 0.7)
    slope = np.linspace(rng.uniform(0.75, 1.1), rng.uniform(0.75, 1.1), width)[None, :, None]
    return np.clip(image * slope, 0, 255).astype(np.float32)


def face_colours(rng: random.Random) -> tuple[np.ndarray, np.ndarray]:
    """Give the ground and ink of a dial."""
    if rng.random() < 0.68:
        return colour(rng, 8, 75, 6), colour(rng, 200, 255, 8)
    return colour(rng, 140, 245, 14), colour(rng, 5, 50, 6)


def needle(image: Image.Image, rng: random.Random, angle: float, reach: float) -> None:
    """Draw a pointer from the middle."""
    draw = ImageDraw.Draw(image)
    fill = tup(
        rng.choice([colour(rng, 220, 255), red(rng), np.array([250, 150, 50]), colour(rng, 10, 40)])
    )
    a = math.radians(angle)
    tip = MIDDLE + reach * math.cos(a), MIDDLE + reach * math.sin(a)
    w = rng.uniform(5, 16)
    side = -math.sin(a) * w, math.cos(a) * w
    tail = MIDDLE - 0.2 * reach * math.cos(a), MIDDLE - 0.2 * reach * math.sin(a)
    draw.polygon(
        [tip, (MIDDLE + side[0], MIDDLE + side[1]), tail, (MIDDLE - side[0], MIDDLE - side[1])],
        fill=fill,
    )
    r = rng.uniform(12, 40)
    hub = tup(colour(rng, 20, 200))
    draw.ellipse([MIDDLE - r, MIDDLE - r, MIDDLE + r, MIDDLE + r], fill=hub)


def round_face(rng: random.Random, sort: str) -> tuple[Image.Image, np.ndarray, np.ndarray]:
    """Draw a round dial with its numerals; give it with its ground and ink."""
    ground, ink = face_colours(rng)
    image = Image.new("RGB", (SIDE, SIDE), tup(ground))
    draw = ImageDraw.Draw(image)
    face = rng.choice(FONTS)
    rim = rng.uniform(8, 40)
    tone = colour(rng, 10, 210, 8)
    for k in range(4):
        inset = rim * k / 4
        draw.ellipse(
            [inset, inset, SIDE - inset, SIDE - inset],
            outline=tup(tone * (1.2 - 0.22 * k)),
            width=int(rim / 4) + 2,
        )
    reach = MIDDLE - rim - rng.uniform(4, 16)
    if sort == "tach":
        top = rng.choice([25, 30, 35, 35, 40])
        marks = (
            [str(v) for v in range(0, top + 1, 5)]
            if rng.random() < 0.85
            else [str(v * 100) for v in range(0, top + 1, 5)]
        )
    elif sort == "speed":
        step = rng.choice([10, 20, 20, 40])
        marks = [str(v) for v in range(0, rng.choice([120, 160, 200, 260]) + 1, step)]
    elif sort == "alt":
        marks = [str(v) for v in range(10)]
    elif sort == "clock":
        marks = [str(v or 12) for v in range(12)]
    else:
        marks = [
            str(v)
            for v in range(0, rng.choice([60, 100, 120, 240]) + 1, rng.choice([10, 20, 25, 30]))
        ]
    whole = sort in ("alt", "clock")
    start = -90.0 if whole else rng.choice([135, 150, 120, 180, 210]) + rng.uniform(-8, 8)
    sweep = 360.0 * (1 - 1 / len(marks)) if whole else rng.uniform(180, 290)
    size = rng.uniform(24, 58)
    steps = (len(marks) - 1) * rng.choice([1, 2, 5, 5])
    for k in range(steps + 1):
        a = math.radians(start + sweep * k / max(1, steps))
        long = reach * (0.86 if k % max(1, steps // max(1, len(marks) - 1)) == 0 else 0.93)
        draw.line(
            [
                MIDDLE + reach * math.cos(a),
                MIDDLE + reach * math.sin(a),
                MIDDLE + long * math.cos(a),
                MIDDLE + long * math.sin(a),
            ],
            fill=tup(ink),
            width=rng.choice([2, 3, 5]),
        )
    if rng.random() < 0.5:
        for _ in range(rng.randrange(1, 3)):
            a0 = start + sweep * rng.uniform(0.3, 0.8)
            fill = rng.choice([(30, 170, 60), (230, 200, 30), (210, 30, 30)])
            draw.arc(
                [
                    MIDDLE - reach * 0.97,
                    MIDDLE - reach * 0.97,
                    MIDDLE + reach * 0.97,
                    MIDDLE + reach * 0.97,
                ],
                a0,
                a0 + rng.uniform(5, 80),
                fill=fill,
                width=int(rng.uniform(6, 18)),
            )
    for k, mark in enumerate(marks):
        a = math.radians(start + sweep * k / max(1, len(marks) - 1))
        away = reach * 0.86 - size * 0.75
        text(
            draw,
            rng,
            (MIDDLE + away * math.cos(a), MIDDLE + away * math.sin(a)),
            mark,
            size,
            tup(ink),
            face,
        )
    return image, ground, ink


def circle_alpha() -> np.ndarray:
    """Give the mask of a round instrument."""
    alpha = np.zeros((SIDE, SIDE), np.uint8)
    cv2.circle(alpha, (MIDDLE, MIDDLE), MIDDLE - 1, 255, -1, cv2.LINE_AA)
    return alpha


def place(width: float, strip: Strip, cx: float, cy: float, turn: float = 0.0) -> np.ndarray:
    """Give the matrix from a strip's pixels to the canvas, `width` wide round a centre."""
    h, w = strip.image.shape[:2]
    k = width / w
    c, s = math.cos(turn) * k, math.sin(turn) * k
    return np.array(
        [[c, -s, cx - c * w / 2 + s * h / 2], [s, c, cy - s * w / 2 - c * h / 2], [0, 0, 1]]
    )
