"""Photograph drawn instruments: light, blur, fingers, tilt; samples for the finder and the reader.

`frame_sample` is what the finder learns from, `strip_sample` what the reader learns from.
"""

from __future__ import annotations

import math
import random

import cv2
import numpy as np
from dials import gauge, instrument, nothing
from drums import FONTS, Strip, colour, drum_strip, font
from instruments import MIDDLE, text, texture, tup
from light import sensor, spoil, thumb
from panels import lcd_strip
from PIL import Image, ImageDraw


def warp(image: np.ndarray, matrix: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Warp with a little smoothing where it shrinks."""
    shrink = 1 / max(1e-6, math.sqrt(abs(np.linalg.det(matrix[:2, :2]))))
    if shrink > 1.5:
        factor = 1 / shrink * 1.1
        small = cv2.resize(image, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
        fx, fy = small.shape[1] / image.shape[1], small.shape[0] / image.shape[0]
        matrix = matrix @ np.diag([1 / fx, 1 / fy, 1])
        image = small
    return cv2.warpPerspective(image, matrix, size, flags=cv2.INTER_LINEAR)


def view(
    rng: random.Random,
    centre: np.ndarray,
    scale: float,
    at: tuple[float, float],
    turn: float,
    lean: float,
) -> np.ndarray:
    """Give the matrix of a camera: canvas point `centre` at `at`, so many pixels a canvas pixel."""
    c, s = math.cos(turn) * scale, math.sin(turn) * scale
    away = np.array([[1, 0, -centre[0]], [0, 1, -centre[1]], [0, 0, 1.0]])
    persp = np.array(
        [
            [1 - abs(rng.gauss(0, lean * 0.5)), rng.gauss(0, lean * 0.2), 0],
            [rng.gauss(0, lean * 0.2), 1, 0],
            [rng.gauss(0, lean) / 900, rng.gauss(0, lean) / 900, 1],
        ]
    )
    spin = np.array([[c, -s, at[0]], [s, c, at[1]], [0, 0, 1.0]])
    return spin @ persp @ away


def through(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Send points through a homography."""
    return cv2.perspectiveTransform(np.asarray(points, np.float64).reshape(1, -1, 2), matrix)[0]


def corners(strip: Strip) -> np.ndarray:
    """Give a strip's corners in its own pixels, clockwise from the top left."""
    h, w = strip.image.shape[:2]
    return np.array([[0, 0], [w, 0], [w, h], [0, h]], np.float64)


def paint(
    rng: random.Random, out: np.ndarray, picture: np.ndarray, alpha: np.ndarray, matrix: np.ndarray
) -> None:
    """Put a canvas into the photograph."""
    size = (out.shape[1], out.shape[0])
    mask = warp(alpha, matrix, size).astype(np.float32)[..., None] / 255
    out[:] = out * (1 - mask) + warp(picture, matrix, size) * mask


def paint_strip(rng: random.Random, out: np.ndarray, strip: Strip, matrix: np.ndarray) -> None:
    """Put a counter into the photograph."""
    paint(
        rng,
        out,
        strip.image.astype(np.float32),
        np.full(strip.image.shape[:2], 255, np.uint8),
        matrix,
    )


def frame_sample(
    rng: random.Random, side: int = 512
) -> tuple[np.ndarray, list[tuple[int, np.ndarray, int]]]:
    """Give a photograph and its counters: (0 drum or 1 LCD, corners, 1 to find or 0)."""
    out = texture(rng, side, side)
    strip = None
    if rng.random() < 0.72:
        strip = (
            drum_strip(rng) if rng.random() < 0.72 else lcd_strip(rng, hours=rng.random() < 0.85)
        )
    picture, alpha, put = instrument(rng, strip)
    turn = math.radians(max(-32.0, min(32.0, rng.gauss(0, 9))))
    lean = rng.choice([0.02, 0.15, 0.3])
    found: list[tuple[int, np.ndarray, int]] = []
    if strip is not None and put is not None:
        own = through(put, corners(strip))
        wide = float(np.linalg.norm(own[1] - own[0]))
        target = math.exp(rng.uniform(math.log(34), math.log(420)))
        scale = target / wide
        at = rng.uniform(0.15, 0.85) * side, rng.uniform(0.12, 0.88) * side
        if target > 150:
            at = (side / 2 + rng.gauss(0, 40), side / 2 + rng.gauss(0, 60))
        matrix = view(rng, own.mean(0), scale, at, turn, lean)
    else:
        scale = math.exp(rng.uniform(math.log(0.18), math.log(2.5)))
        matrix = view(
            rng,
            np.array([MIDDLE, MIDDLE]),
            scale,
            (rng.uniform(0.3, 0.7) * side, rng.uniform(0.3, 0.7) * side),
            turn,
            lean,
        )
    for _ in range(rng.choice([0, 0, 1, 2])):  # neighbours in the panel
        other, mask, _none = nothing(rng) if rng.random() < 0.4 else (*gauge(rng), None)
        if mask.min() == 255:
            continue
        shift = np.array(
            [
                [1, 0, rng.choice([-1, 1]) * rng.uniform(710, 900)],
                [0, 1, rng.uniform(-400, 400)],
                [0, 0, 1.0],
            ]
        )
        paint(rng, out, other, mask, matrix @ shift)
    paint(rng, out, picture, alpha, matrix)
    cover = None
    if strip is not None and put is not None:
        whole = matrix @ put
        paint_strip(rng, out, strip, whole)
        quad = through(whole, corners(strip))
        hide = rng.random()
        long = float(np.linalg.norm(quad[1] - quad[0]))
        if hide < 0.17:
            spot = quad.mean(0) + np.array([rng.gauss(0, 0.25), rng.gauss(0, 0.1)]) * long
            cover = thumb(rng, out, (float(spot[0]), float(spot[1])), long * rng.uniform(0.15, 0.7))
        elif hide < 0.35:
            thumb(rng, out, None, side * rng.uniform(0.08, 0.2))
        kind = 0 if strip.kind == "drum" else 1
        seen = visible(cover, quad)
        inside = ((quad > 2) & (quad < side - 3)).all()
        state = 1 if inside and seen > 0.9 else 0
        if (seen > 0.55 or not inside) or state:
            found.append((kind, quad, state))
    elif rng.random() < 0.2:
        thumb(rng, out, None, side * rng.uniform(0.08, 0.25))
    out = sensor(rng, spoil(rng, out, 1.0), 0.8)
    return out, found


def visible(cover: np.ndarray | None, quad: np.ndarray) -> float:
    """Give which part of a quad is not covered."""
    if cover is None:
        return 1.0
    h, w = cover.shape
    us, vs = np.meshgrid(np.linspace(0.06, 0.94, 25), np.linspace(0.2, 0.8, 7))
    p = (
        ((1 - us) * (1 - vs))[..., None] * quad[0]
        + (us * (1 - vs))[..., None] * quad[1]
        + (us * vs)[..., None] * quad[2]
        + ((1 - us) * vs)[..., None] * quad[3]
    )
    xs = np.clip(p[..., 0].round().astype(int), 0, w - 1)
    ys = np.clip(p[..., 1].round().astype(int), 0, h - 1)
    return float(1 - (cover[ys, xs] > 0.5).mean())


WIDE, HIGH = 320, 80
BOX = np.array([[24, 14], [296, 14], [296, 66], [24, 66]], np.float64)  # where the counter goes


def to_box(rng: random.Random, quad: np.ndarray, slack: float = 1.0) -> np.ndarray:
    """Give the matrix that straightens a quad as imperfectly as a finder would."""
    long = np.linalg.norm(quad[1] - quad[0])
    tall = np.linalg.norm(quad[3] - quad[0])
    jitter = np.array(
        [[rng.gauss(0, 0.018 * long * slack), rng.gauss(0, 0.05 * tall * slack)] for _ in range(4)]
    )
    shift = np.array([rng.gauss(0, 0.02 * long * slack), rng.gauss(0, 0.06 * tall * slack)])
    grow = rng.gauss(0, 0.045 * slack), rng.gauss(0, 0.12 * slack)
    along, down = (
        (quad[1] - quad[0] + quad[2] - quad[3]) / 4,
        (quad[3] - quad[0] + quad[2] - quad[1]) / 4,
    )
    moved = (
        quad
        + jitter
        + shift
        + np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])[:, :1] * grow[0] * along
        + np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])[:, 1:] * grow[1] * down
    )
    return cv2.getPerspectiveTransform(moved.astype(np.float32), BOX.astype(np.float32))


def strip_sample(rng: random.Random) -> dict:
    """Give a straightened counter and what stands in it, for the reader."""
    out = np.zeros((HIGH, WIDE, 3), np.float32)
    if rng.random() < 0.06:  # not a counter at all
        out += texture(rng, WIDE, HIGH)
        picture, alpha, _ = nothing(rng)
        scale = math.exp(rng.uniform(math.log(0.5), math.log(3)))
        at = np.array([rng.uniform(100, 600), rng.uniform(100, 600)])
        paint(rng, out, picture, alpha, view(rng, at, scale, (160, 40), rng.gauss(0, 0.3), 0.2))
        return {
            "image": sensor(rng, spoil(rng, out, 1.0), 0.8),
            "kind": 2,
            "xs": [],
            "phases": [],
            "tenths": [],
            "dot": None,
        }
    strip = drum_strip(rng) if rng.random() < 0.72 else lcd_strip(rng, hours=rng.random() < 0.85)
    quad = corners(strip)
    if rng.random() < 0.3:  # the finder may take the window inside the frame for the counter
        x0, y0, x1, y1 = strip.window
        quad = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], np.float64)
    lean = np.eye(3)
    if rng.random() < 0.5:
        lean = np.array(
            [[1, rng.gauss(0, 0.06), 0], [rng.gauss(0, 0.03), 1, 0], [0, rng.gauss(0, 0.0004), 1]]
        )
    seen = through(lean, quad)
    straight = to_box(rng, seen)
    whole = straight @ lean
    if rng.random() < 0.25:
        picture, alpha, put = instrument(rng, strip)
        if put is not None:
            out += texture(rng, WIDE, HIGH)
            paint(rng, out, picture, alpha, whole @ np.linalg.inv(put))
    else:
        out += texture(rng, WIDE, HIGH) if rng.random() < 0.3 else colour(rng, 5, 240)
        if rng.random() < 0.7:
            image = Image.fromarray(np.clip(out, 0, 255).astype(np.uint8))
            draw = ImageDraw.Draw(image)
            if rng.random() < 0.6:  # a numeral of the scale close beside the window
                face, size, tone = rng.choice(FONTS), rng.uniform(16, 60), tup(colour(rng, 0, 255))
                for x, anchor in ((rng.uniform(8, 26), "rm"), (rng.uniform(292, 312), "lm")):
                    draw.text(
                        (x, rng.uniform(15, 65)),
                        rng.choice(["0", "5", "35", "120", "20", "70", "30", "10", "1"]),
                        fill=tone,
                        font=font(face, int(size)),
                        anchor=anchor,
                    )
            for _ in range(rng.randrange(1, 4)):
                text(
                    draw,
                    rng,
                    (
                        rng.choice(
                            [rng.uniform(0, 320), rng.uniform(0, 20), rng.uniform(300, 320)]
                        ),
                        rng.choice([3, 77, 40]),
                    ),
                    rng.choice(["HOURS", "1/10", "35", "0", "20", "70", "TACH HRS", "km"]),
                    rng.uniform(8, 34),
                    tup(colour(rng, 0, 255)),
                    rng.choice(FONTS),
                )
            out = np.asarray(image).astype(np.float32)
    paint_strip(rng, out, strip, whole)
    cover = None
    if rng.random() < 0.1:
        cover = thumb(rng, out, (rng.uniform(20, 300), rng.uniform(10, 90)), rng.uniform(15, 60))
    elif rng.random() < 0.06:  # the needle crosses it
        x = rng.uniform(20, 300)
        cv2.line(
            out,
            (int(x), -5),
            (int(x + rng.uniform(-60, 60)), 85),
            [float(v) for v in colour(rng, 0, 255)],
            rng.randrange(2, 9),
            cv2.LINE_AA,
        )
    out = spoil(rng, out, 1.0)
    if rng.random() < 0.6:  # fewer pixels than the strip has
        width = int(
            rng.uniform(70, 300)
            if strip.kind == "lcd" or len(strip.phases) < 6
            else rng.uniform(90, 300)
        )
        small = cv2.resize(
            out, (width, max(12, int(HIGH * width / WIDE))), interpolation=cv2.INTER_AREA
        )
        small = sensor(rng, small, 0.55)
        out = cv2.resize(
            small, (WIDE, HIGH), interpolation=rng.choice([cv2.INTER_LINEAR, cv2.INTER_CUBIC])
        )
    else:
        out = sensor(rng, out, 1.0)
    points = through(whole, np.array(strip.centres))
    phases: list[float | None] = []
    for (x, y), wide, phase in zip(points, strip.widths, strip.phases, strict=True):
        half = 0.35 * wide * math.sqrt(abs(np.linalg.det(whole[:2, :2]))) + 1
        hidden = 0.0
        if cover is not None:
            xs = np.clip(np.linspace(x - half, x + half, 5).round().astype(int), 0, WIDE - 1)
            ys = np.clip(
                np.linspace(y - half * 1.3, y + half * 1.3, 7).round().astype(int), 0, HIGH - 1
            )
            hidden = float((cover[np.ix_(ys, xs)] > 0.5).mean())
        phases.append(None if hidden > 0.3 or not 0 < x < WIDE else phase)
    dot = None
    if strip.dot is not None:
        dot = float(through(whole, np.array([[strip.dot, strip.centres[0][1]]]))[0, 0])
    return {
        "image": out,
        "kind": 0 if strip.kind == "drum" else 1,
        "xs": [float(x) for x in points[:, 0]],
        "phases": phases,
        "tenths": strip.tenths,
        "dot": dot,
    }
