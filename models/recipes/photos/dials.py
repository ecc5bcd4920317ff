"""Draw an instrument with a place for its counter, or something with figures and no counter."""

from __future__ import annotations

import random

import cv2
import numpy as np
from drums import FONTS, Strip, colour, red
from instruments import (
    BRANDS,
    MIDDLE,
    SIDE,
    circle_alpha,
    face_colours,
    needle,
    place,
    round_face,
    text,
    texture,
    tup,
)
from PIL import Image, ImageDraw


def instrument(
    rng: random.Random, strip: Strip | None
) -> tuple[np.ndarray, np.ndarray, np.ndarray | None]:
    """Draw an instrument on a square canvas: picture, mask, and where its counter goes."""
    if strip is None:
        return nothing(rng)
    pick = rng.random()
    if strip.kind == "lcd":
        pick = 0.6 + 0.4 * pick
    if pick < 0.52:
        image, ground, ink = round_face(rng, "tach" if rng.random() < 0.75 else "speed")
        draw = ImageDraw.Draw(image)
        face = rng.choice(FONTS)
        width = MIDDLE * rng.uniform(0.42, 1.0)
        tall = width * strip.image.shape[0] / strip.image.shape[1]
        cy = MIDDLE + MIDDLE * rng.choice(
            [rng.uniform(0.28, 0.55)] * 4 + [rng.uniform(-0.45, -0.2)]
        )
        cx = MIDDLE + rng.gauss(0, 6)
        if rng.random() < 0.75:
            text(
                draw,
                rng,
                (MIDDLE, MIDDLE - MIDDLE * rng.uniform(0.2, 0.45)),
                rng.choice(["RPM", "RPM", "km/h", "MPH"]),
                rng.uniform(24, 48),
                tup(ink),
                face,
            )
            if rng.random() < 0.5:
                text(
                    draw,
                    rng,
                    (MIDDLE, MIDDLE - MIDDLE * rng.uniform(0.1, 0.2)),
                    rng.choice(["X 100", "x100", "× 100"]),
                    rng.uniform(16, 28),
                    tup(ink),
                    face,
                )
        if rng.random() < 0.75:
            text(
                draw,
                rng,
                (cx, cy + tall / 2 + rng.uniform(14, 30)),
                rng.choice(["HOURS", "TACH HRS", "ENG HRS", "HOURS 1/10", "HRS", "km", "TOTAL"]),
                rng.uniform(14, 28),
                tup(ink),
                face,
            )
        if rng.random() < 0.35:
            text(
                draw,
                rng,
                (cx + width * 0.4, cy - tall / 2 - rng.uniform(8, 16)),
                "1/10",
                rng.uniform(10, 20),
                tup(ink),
                face,
            )
        if rng.random() < 0.7:
            text(
                draw,
                rng,
                (cx, min(SIDE - 60, cy + tall / 2 + rng.uniform(45, 80))),
                rng.choice(BRANDS),
                rng.uniform(14, 26),
                tup(ink),
                face,
            )
        before = rng.random() < 0.7
        angle = rng.uniform(100, 440)
        if before and 20 < angle % 360 < 160:
            angle += 180
        needle(image, rng, angle, MIDDLE * rng.uniform(0.5, 0.85))
        return np.asarray(image).astype(np.float32), circle_alpha(), place(width, strip, cx, cy)
    if pick < 0.62:
        ground, ink = face_colours(rng)
        image = Image.new("RGB", (SIDE, SIDE), tup(ground))
        width = SIDE * rng.uniform(0.45, 0.8)
        cy = MIDDLE + rng.uniform(-90, 60)
        alpha = circle_alpha()
        ring = True
    elif pick < 0.94:
        ground, ink = face_colours(rng)
        image = Image.new("RGB", (SIDE, SIDE), tup(ground))
        width = SIDE * rng.uniform(0.45, 0.85)
        cy = MIDDLE + rng.uniform(-25, 25)
        tall = width * strip.image.shape[0] / strip.image.shape[1]
        half = min(MIDDLE - 4, tall / 2 + rng.uniform(20, 130))
        alpha = np.zeros((SIDE, SIDE), np.uint8)
        cv2.rectangle(alpha, (4, int(MIDDLE - half)), (SIDE - 4, int(MIDDLE + half)), 255, -1)
        draw = ImageDraw.Draw(image)
        rim = rng.randrange(4, 26)
        draw.rectangle(
            [4, MIDDLE - half, SIDE - 4, MIDDLE + half],
            outline=tup(colour(rng, 10, 230)),
            width=rim,
        )
        ring = False
    else:  # a counter on a bare plate
        alpha = np.full((SIDE, SIDE), 255, np.uint8)
        base = texture(rng, SIDE, SIDE)
        image = Image.fromarray(base.astype(np.uint8))
        ink, width, cy, ring = colour(rng, 200, 255), SIDE * rng.uniform(0.3, 0.8), MIDDLE, False
    draw = ImageDraw.Draw(image)
    face = rng.choice(FONTS)
    tall = width * strip.image.shape[0] / strip.image.shape[1]
    if ring:
        draw.ellipse(
            [2, 2, SIDE - 2, SIDE - 2],
            outline=tup(colour(rng, 10, 210)),
            width=rng.randrange(8, 50),
        )
    if rng.random() < 0.7:
        text(
            draw,
            rng,
            (MIDDLE, cy - tall / 2 - rng.uniform(22, 50)),
            rng.choice([*BRANDS, "HOUR METER", "m³"]),
            rng.uniform(18, 40),
            tup(ink),
            face,
        )
    if rng.random() < 0.8:
        text(
            draw,
            rng,
            (MIDDLE, cy + tall / 2 + rng.uniform(20, 45)),
            rng.choice(
                ["HOURS", "TOTAL HOURS", "HRS", "HOURS 1/10", "QUARTZ HOURS", "km", "m³", "kWh"]
            ),
            rng.uniform(18, 44),
            tup(ink),
            face,
        )
    if rng.random() < 0.4:
        text(
            draw,
            rng,
            (MIDDLE, cy + tall / 2 + rng.uniform(50, 80)),
            rng.choice(["10-80 VDC", "IP65", "S/N 20881", "12-24 V", "MOD 7"]),
            rng.uniform(10, 18),
            tup(ink),
            face,
        )
    return (
        np.asarray(image).astype(np.float32),
        alpha,
        place(width, strip, MIDDLE + rng.gauss(0, 8), cy),
    )


def nothing(rng: random.Random) -> tuple[np.ndarray, np.ndarray, None]:
    """Draw something with figures on it that is no counter."""
    pick = rng.random()
    if pick < 0.42:
        sort = rng.choice(["gauge", "gauge", "alt", "clock", "tach", "speed"])
        image, ground, ink = round_face(rng, sort)
        draw = ImageDraw.Draw(image)
        face = rng.choice(FONTS)
        words = {"alt": "ALT", "clock": "", "tach": "RPM", "speed": "KNOTS"}.get(
            sort, rng.choice(["OIL PSI", "OIL °F", "VOLTS", "AMPS", "FUEL", "SUCTION"])
        )
        text(draw, rng, (MIDDLE, MIDDLE - 100), words, rng.uniform(24, 46), tup(ink), face)
        if sort == "alt" or rng.random() < 0.1:  # the pressure window
            w, h = rng.uniform(80, 130), rng.uniform(30, 44)
            cx, cy = rng.choice(
                [(MIDDLE + 130, MIDDLE), (MIDDLE, MIDDLE + 130), (MIDDLE, MIDDLE - 30)]
            )
            draw.rectangle(
                [cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2],
                fill=tup(colour(rng, 0, 40)),
                outline=tup(ink),
                width=2,
            )
            text(
                draw,
                rng,
                (cx, cy),
                rng.choice(
                    [
                        f"{rng.uniform(28, 31):.2f}",
                        f"{rng.uniform(28, 31):.2f}".replace(".", ""),
                        str(rng.randrange(950, 1050)),
                    ]
                ),
                h * 0.8,
                tup(colour(rng, 200, 255)),
                face,
            )
        needle(image, rng, rng.uniform(0, 360), MIDDLE * rng.uniform(0.5, 0.85))
        return np.asarray(image).astype(np.float32), circle_alpha(), None
    base = texture(rng, SIDE, SIDE)
    image = Image.fromarray(base.astype(np.uint8))
    draw = ImageDraw.Draw(image)
    alpha = np.full((SIDE, SIDE), 255, np.uint8)
    ground, ink = face_colours(rng)
    face = rng.choice(FONTS)
    if pick < 0.5:  # a dipstick or ruler
        y = rng.uniform(150, 550)
        w = rng.uniform(20, 60)
        draw.rectangle([0, y - w, SIDE, y + w], fill=tup(colour(rng, 150, 230)))
        for k in range(rng.randrange(3, 10)):
            x = 60 + k * 70
            draw.line([x, y - w, x, y + w * rng.uniform(-0.3, 1)], fill=(30, 30, 30), width=3)
            text(draw, rng, (x + 30, y), str(k + rng.randrange(1, 3)), w, (30, 30, 30), face)
    else:  # a plate, label or box with lines of print
        x0, y0, x1, y1 = (
            rng.uniform(20, 140),
            rng.uniform(20, 220),
            rng.uniform(540, 680),
            rng.uniform(420, 680),
        )
        draw.rectangle(
            [x0, y0, x1, y1], fill=tup(ground), outline=tup(ink), width=rng.choice([0, 2, 5])
        )
        if rng.random() < 0.5:  # a coloured head
            draw.rectangle([x0, y0, x1, y0 + rng.uniform(30, 90)], fill=tup(red(rng)))
        y = y0 + 30
        small = rng.choice([0.5, 0.8, 1.0])
        while y < y1 - 30:
            size = rng.uniform(16, 50) * small
            words = rng.choice(
                [
                    "P/N {}",
                    "FUEL {} GAL",
                    "{}",
                    "LOT {}",
                    "S/N {}",
                    "SAE 50",
                    "TORQUE {} FT LBS",
                    "{} QT",
                    "NO STEP",
                    "GRADE 100",
                ]
            ).format(
                "".join(rng.choice("0123456789" * 3 + "ABCK-") for _ in range(rng.randrange(2, 9)))
            )
            text(draw, rng, ((x0 + x1) / 2, y + size / 2), words, size, tup(ink), face)
            y += size * rng.uniform(1.1, 2)
        if rng.random() < 0.55:  # a bar code
            bx, by = rng.uniform(x0, (x0 + x1) / 2), rng.uniform(y0, y1 - 60)
            for k in range(60):
                if rng.random() < 0.5:
                    draw.rectangle([bx + k * 3, by, bx + k * 3 + 2, by + 50], fill=(10, 10, 10))
            text(
                draw,
                rng,
                (bx + 90, by + 62),
                "".join(rng.choice("0123456789") for _ in range(12)),
                18,
                (10, 10, 10),
                face,
            )
    return np.asarray(image).astype(np.float32), alpha, None


def gauge(rng: random.Random) -> tuple[np.ndarray, np.ndarray]:
    """Draw a dial without a counter, as it may stand beside the one that is meant."""
    image, _ground, _ink = round_face(rng, rng.choice(["gauge", "alt", "speed", "clock"]))
    needle(image, rng, rng.uniform(0, 360), MIDDLE * 0.8)
    return np.asarray(image).astype(np.float32), circle_alpha()
