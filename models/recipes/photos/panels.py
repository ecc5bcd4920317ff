"""Draw seven-segment panels front-on."""

from __future__ import annotations

import random

import cv2
import numpy as np
from drums import FONTS, SEGMENTS, Strip, colour, frame, glyph


def lcd_strip(rng: random.Random, *, hours: bool = True) -> Strip:
    """Draw a seven-segment panel: `hours` counters end in a tenth, others do not."""
    high = rng.randrange(56, 100)
    face = rng.choice(SEGMENTS)
    count = rng.choices([2, 3, 4, 5, 6], [2, 16, 34, 36, 12])[0]
    digits = [rng.randrange(10) for _ in range(count)]
    if rng.random() < 0.75 and digits[0] == 0:
        digits[0] = rng.randrange(1, 10)
    if rng.random() < 0.15:
        for place in range(rng.randrange(1, 3)):
            digits[min(place, count - 2)] = 0
    pick = rng.random()
    if pick < 0.5:
        ground = np.array(
            [rng.uniform(120, 200), rng.uniform(135, 215), rng.uniform(105, 190)], np.float32
        )
        ink = colour(rng, 15, 90, 8)
    elif pick < 0.6:
        ground, ink = colour(rng, 190, 235), colour(rng, 10, 60)
    else:
        ground = colour(rng, 5, 60, 8)
        ink = np.array(
            rng.choice(
                [
                    [255, 170, 40],
                    [255, 60, 40],
                    [70, 255, 110],
                    [90, 200, 255],
                    [235, 240, 245],
                    [255, 220, 90],
                ]
            ),
            np.float32,
        )
    size = high * rng.uniform(0.42, 0.8)
    cell = glyph(face, "8")
    step = size * cell.shape[1] / cell.shape[0] * rng.uniform(1.12, 1.4)
    need = step * count
    total = int(need * rng.uniform(1.05, 2.1) + high * 0.2)
    image = np.zeros((high, total, 3), np.float32) + ground
    left = rng.uniform(0.02, 1) if rng.random() < 0.5 else rng.uniform(0.75, 1.0)
    x0 = (total - need - high * 0.1) * left + high * 0.05
    top = (high - size) * rng.uniform(0.25, 0.75)
    ghost = rng.choice([0, 0, 0.04, 0.08])
    ink_mask = np.zeros((high, total), np.float32)
    centres, dot = [], None
    dotted = hours and rng.random() < 0.93
    dot_after = count - 2 if hours or rng.random() < 0.3 else rng.randrange(0, count)
    if not hours:
        dotted = rng.random() < 0.6
    if ghost:
        for place in range(-2, count):
            stamp(ink_mask, glyph(face, "8"), x0 + step * place, top, step, size, ghost)
    for place, digit in enumerate(digits):
        stamp(
            ink_mask,
            glyph(face, str(digit)),
            x0 + step * place,
            top,
            step,
            size,
            1.0,
            right=digit == 1,
        )
        centres.append((x0 + step * (place + 0.5), top + size / 2))
        if dotted and place == dot_after:
            r = max(1.2, size * rng.uniform(0.05, 0.085))
            dx = x0 + step * (place + 1) + rng.uniform(-0.03, 0.03) * step
            cv2.circle(
                ink_mask,
                (int(dx * 8), int((top + size - r) * 8)),
                int(r * 8),
                1.0,
                -1,
                cv2.LINE_AA,
                3,
            )
            dot = dx
    if rng.random() < 0.35:
        words = rng.choice(
            ["HOURS", "HRS", "TOTAL", "HOUR METER", "ENG", "h", "TOTAL HOURS", "SVC"]
        )
        mark = glyph(rng.choice(FONTS), words)
        tall = int(high * rng.uniform(0.1, 0.2))
        wide = int(mark.shape[1] * tall / max(1, mark.shape[0]))
        if wide < total - 4:
            small = cv2.resize(mark, (wide, tall), interpolation=cv2.INTER_AREA) / 255.0
            y = high - tall - 2 if rng.random() < 0.7 else 2
            x = rng.randrange(2, total - wide - 1)
            if not (x < x0 + need and x + wide > x0 and top < y + tall and y < top + size):
                ink_mask[y : y + tall, x : x + wide] = np.maximum(
                    ink_mask[y : y + tall, x : x + wide], small
                )
    if rng.random() < 0.3:  # a glow round the segments
        ink_mask = np.maximum(ink_mask, cv2.GaussianBlur(ink_mask, (0, 0), 3) * 0.5)
    lean = rng.choice([0, 0, 0, rng.uniform(0.03, 0.15)])
    if lean:
        move = np.float32([[1, -lean, lean * high / 2], [0, 1, 0]])
        ink_mask = cv2.warpAffine(ink_mask, move, (total, high))
    image += (ink - ground) * ink_mask[..., None] * rng.uniform(0.7, 1)
    image, dx, dy = frame(rng, image, ground)
    return Strip(
        image,
        "lcd",
        [(a + dx, b + dy) for a, b in centres],
        [float(d) for d in digits],
        [0] * count,
        [step] * count,
        None if dot is None else dot + dx,
        window=(dx, dy, dx + total, dy + high),
        extra={"dot_after": dot_after},
    )


def stamp(
    canvas: np.ndarray,
    mask: np.ndarray,
    x: float,
    y: float,
    step: float,
    size: float,
    strength: float,
    right: bool = False,
) -> None:
    """Put a glyph into its cell of a panel; a one stands at the right of its cell."""
    tall = int(size)
    wide = max(2, int(mask.shape[1] * size / 96))
    small = cv2.resize(mask, (wide, tall), interpolation=cv2.INTER_AREA) / 255.0
    spare = step - wide
    left = int(x + (spare * 0.5 if not right else max(0.0, step * 0.92 - wide)))
    top = int(y)
    if left < 0 or left + wide > canvas.shape[1]:
        return
    part = canvas[top : top + tall, left : left + wide]
    np.maximum(part, small[: part.shape[0]] * strength, out=part)
