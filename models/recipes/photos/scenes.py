"""Draw photographs of instruments and other things, with a counter or without, and spoil them.

`frame_sample` is what the finder learns from, `strip_sample` what the reader learns from.
"""

from __future__ import annotations

import math
import random

import cv2
import numpy as np
from drums import FONTS, Strip, colour, drum_strip, font, lcd_strip, red
from PIL import Image, ImageDraw

SIDE = 700
MIDDLE = SIDE // 2
BRANDS = ["AVALON", "MERIDIA", "KESTO", "Norrin", "TRELLIS & SON", "VARDO", "Ostrel", "HALDEN", "PIMLO"]
BACKS: list[np.ndarray] = []  # real photographs without a counter, if there are any


def text(draw: ImageDraw.ImageDraw, rng: random.Random, at: tuple[float, float], words: str, size: float,
         fill: tuple[int, ...], face: str) -> None:
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
        return cv2.resize(back[y:y + h, x:x + w], (width, height)).astype(np.float32)
    seed = np.random.default_rng(rng.getrandbits(32))
    pick = rng.random()
    tone = colour(rng, 15, 220, 30) if rng.random() < 0.8 else np.array([rng.uniform(0, 255) for _ in range(3)], np.float32)
    image = np.zeros((height, width, 3), np.float32) + tone
    if pick < 0.25:
        rows = seed.normal(0, rng.uniform(2, 14), (height, 1, 1)).astype(np.float32)
        image += rows if rng.random() < 0.5 else seed.normal(0, 8, (1, width, 1)).astype(np.float32)
    elif pick < 0.6:
        grain = seed.normal(0, rng.uniform(5, 25), (height // 3 + 1, width // 3 + 1)).astype(np.float32)
        image += cv2.resize(grain, (width, height))[..., None]
    elif pick < 0.8:
        coarse = seed.uniform(0, 1, (rng.randrange(2, 9), rng.randrange(2, 9), 3)).astype(np.float32)
        image = image * 0.5 + 200 * cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC) * rng.uniform(0.2, 0.7)
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
    fill = tup(rng.choice([colour(rng, 220, 255), red(rng), np.array([250, 150, 50]), colour(rng, 10, 40)]))
    a = math.radians(angle)
    tip = MIDDLE + reach * math.cos(a), MIDDLE + reach * math.sin(a)
    w = rng.uniform(5, 16)
    side = -math.sin(a) * w, math.cos(a) * w
    tail = MIDDLE - 0.2 * reach * math.cos(a), MIDDLE - 0.2 * reach * math.sin(a)
    draw.polygon([tip, (MIDDLE + side[0], MIDDLE + side[1]), tail, (MIDDLE - side[0], MIDDLE - side[1])], fill=fill)
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
        draw.ellipse([inset, inset, SIDE - inset, SIDE - inset], outline=tup(tone * (1.2 - 0.22 * k)), width=int(rim / 4) + 2)
    reach = MIDDLE - rim - rng.uniform(4, 16)
    if sort == "tach":
        top = rng.choice([25, 30, 35, 35, 40])
        marks = [str(v) for v in range(0, top + 1, 5)] if rng.random() < 0.85 else [str(v * 100) for v in range(0, top + 1, 5)]
    elif sort == "speed":
        step = rng.choice([10, 20, 20, 40])
        marks = [str(v) for v in range(0, rng.choice([120, 160, 200, 260]) + 1, step)]
    elif sort == "alt":
        marks = [str(v) for v in range(10)]
    elif sort == "clock":
        marks = [str(v or 12) for v in range(12)]
    else:
        marks = [str(v) for v in range(0, rng.choice([60, 100, 120, 240]) + 1, rng.choice([10, 20, 25, 30]))]
    whole = sort in ("alt", "clock")
    start = -90.0 if whole else rng.choice([135, 150, 120, 180, 210]) + rng.uniform(-8, 8)
    sweep = 360.0 * (1 - 1 / len(marks)) if whole else rng.uniform(180, 290)
    size = rng.uniform(24, 58)
    steps = (len(marks) - 1) * rng.choice([1, 2, 5, 5])
    for k in range(steps + 1):
        a = math.radians(start + sweep * k / max(1, steps))
        long = reach * (0.86 if k % max(1, steps // max(1, len(marks) - 1)) == 0 else 0.93)
        draw.line([MIDDLE + reach * math.cos(a), MIDDLE + reach * math.sin(a),
                   MIDDLE + long * math.cos(a), MIDDLE + long * math.sin(a)], fill=tup(ink), width=rng.choice([2, 3, 5]))
    if rng.random() < 0.5:
        for _ in range(rng.randrange(1, 3)):
            a0 = start + sweep * rng.uniform(0.3, 0.8)
            fill = rng.choice([(30, 170, 60), (230, 200, 30), (210, 30, 30)])
            draw.arc([MIDDLE - reach * 0.97, MIDDLE - reach * 0.97, MIDDLE + reach * 0.97, MIDDLE + reach * 0.97],
                     a0, a0 + rng.uniform(5, 80), fill=fill, width=int(rng.uniform(6, 18)))
    for k, mark in enumerate(marks):
        a = math.radians(start + sweep * k / max(1, len(marks) - 1))
        away = reach * 0.86 - size * 0.75
        text(draw, rng, (MIDDLE + away * math.cos(a), MIDDLE + away * math.sin(a)), mark, size, tup(ink), face)
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
    return np.array([[c, -s, cx - c * w / 2 + s * h / 2], [s, c, cy - s * w / 2 - c * h / 2], [0, 0, 1]])


def instrument(rng: random.Random, strip: Strip | None) -> tuple[np.ndarray, np.ndarray, np.ndarray | None]:
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
        cy = MIDDLE + MIDDLE * rng.choice([rng.uniform(0.28, 0.55)] * 4 + [rng.uniform(-0.45, -0.2)])
        cx = MIDDLE + rng.gauss(0, 6)
        if rng.random() < 0.75:
            text(draw, rng, (MIDDLE, MIDDLE - MIDDLE * rng.uniform(0.2, 0.45)), rng.choice(["RPM", "RPM", "km/h", "MPH"]), rng.uniform(24, 48), tup(ink), face)
            if rng.random() < 0.5:
                text(draw, rng, (MIDDLE, MIDDLE - MIDDLE * rng.uniform(0.1, 0.2)), rng.choice(["X 100", "x100", "× 100"]), rng.uniform(16, 28), tup(ink), face)
        if rng.random() < 0.75:
            text(draw, rng, (cx, cy + tall / 2 + rng.uniform(14, 30)), rng.choice(["HOURS", "TACH HRS", "ENG HRS", "HOURS 1/10", "HRS", "km", "TOTAL"]), rng.uniform(14, 28), tup(ink), face)
        if rng.random() < 0.35:
            text(draw, rng, (cx + width * 0.4, cy - tall / 2 - rng.uniform(8, 16)), "1/10", rng.uniform(10, 20), tup(ink), face)
        if rng.random() < 0.7:
            text(draw, rng, (cx, min(SIDE - 60, cy + tall / 2 + rng.uniform(45, 80))), rng.choice(BRANDS), rng.uniform(14, 26), tup(ink), face)
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
        draw.rectangle([4, MIDDLE - half, SIDE - 4, MIDDLE + half], outline=tup(colour(rng, 10, 230)), width=rim)
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
        draw.ellipse([2, 2, SIDE - 2, SIDE - 2], outline=tup(colour(rng, 10, 210)), width=rng.randrange(8, 50))
    if rng.random() < 0.7:
        text(draw, rng, (MIDDLE, cy - tall / 2 - rng.uniform(22, 50)), rng.choice(BRANDS + ["HOUR METER", "m³"]), rng.uniform(18, 40), tup(ink), face)
    if rng.random() < 0.8:
        text(draw, rng, (MIDDLE, cy + tall / 2 + rng.uniform(20, 45)), rng.choice(["HOURS", "TOTAL HOURS", "HRS", "HOURS 1/10", "QUARTZ HOURS", "km", "m³", "kWh"]), rng.uniform(18, 44), tup(ink), face)
    if rng.random() < 0.4:
        text(draw, rng, (MIDDLE, cy + tall / 2 + rng.uniform(50, 80)), rng.choice(["10-80 VDC", "IP65", "S/N 20881", "12-24 V", "MOD 7"]), rng.uniform(10, 18), tup(ink), face)
    return np.asarray(image).astype(np.float32), alpha, place(width, strip, MIDDLE + rng.gauss(0, 8), cy)


def nothing(rng: random.Random) -> tuple[np.ndarray, np.ndarray, None]:
    """Draw something with figures on it that is no counter."""
    pick = rng.random()
    if pick < 0.42:
        sort = rng.choice(["gauge", "gauge", "alt", "clock", "tach", "speed"])
        image, ground, ink = round_face(rng, sort)
        draw = ImageDraw.Draw(image)
        face = rng.choice(FONTS)
        words = {"alt": "ALT", "clock": "", "tach": "RPM", "speed": "KNOTS"}.get(sort, rng.choice(["OIL PSI", "OIL °F", "VOLTS", "AMPS", "FUEL", "SUCTION"]))
        text(draw, rng, (MIDDLE, MIDDLE - 100), words, rng.uniform(24, 46), tup(ink), face)
        if sort == "alt" or rng.random() < 0.1:  # the pressure window
            w, h = rng.uniform(80, 130), rng.uniform(30, 44)
            cx, cy = rng.choice([(MIDDLE + 130, MIDDLE), (MIDDLE, MIDDLE + 130), (MIDDLE, MIDDLE - 30)])
            draw.rectangle([cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2], fill=tup(colour(rng, 0, 40)), outline=tup(ink), width=2)
            text(draw, rng, (cx, cy), rng.choice([f"{rng.uniform(28, 31):.2f}", f"{rng.uniform(28, 31):.2f}".replace(".", ""), str(rng.randrange(950, 1050))]), h * 0.8, tup(colour(rng, 200, 255)), face)
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
        x0, y0, x1, y1 = rng.uniform(20, 140), rng.uniform(20, 220), rng.uniform(540, 680), rng.uniform(420, 680)
        draw.rectangle([x0, y0, x1, y1], fill=tup(ground), outline=tup(ink), width=rng.choice([0, 2, 5]))
        if rng.random() < 0.5:  # a coloured head
            draw.rectangle([x0, y0, x1, y0 + rng.uniform(30, 90)], fill=tup(red(rng)))
        y = y0 + 30
        small = rng.choice([0.5, 0.8, 1.0])
        while y < y1 - 30:
            size = rng.uniform(16, 50) * small
            words = rng.choice(["P/N {}", "FUEL {} GAL", "{}", "LOT {}", "S/N {}", "SAE 50", "TORQUE {} FT LBS", "{} QT", "NO STEP", "GRADE 100"]).format(
                "".join(rng.choice("0123456789" * 3 + "ABCK-") for _ in range(rng.randrange(2, 9))))
            text(draw, rng, ((x0 + x1) / 2, y + size / 2), words, size, tup(ink), face)
            y += size * rng.uniform(1.1, 2)
        if rng.random() < 0.55:  # a bar code
            bx, by = rng.uniform(x0, (x0 + x1) / 2), rng.uniform(y0, y1 - 60)
            for k in range(60):
                if rng.random() < 0.5:
                    draw.rectangle([bx + k * 3, by, bx + k * 3 + 2, by + 50], fill=(10, 10, 10))
            text(draw, rng, (bx + 90, by + 62), "".join(rng.choice("0123456789") for _ in range(12)), 18, (10, 10, 10), face)
    return np.asarray(image).astype(np.float32), alpha, None


def spoil(rng: random.Random, image: np.ndarray, strength: float) -> np.ndarray:
    """Light, blur, noise and compression on a float picture of 0..255."""
    h, w = image.shape[:2]
    if rng.random() < 0.5:
        corner = np.array([[rng.uniform(0.35, 1.25) for _ in range(2)] for _ in range(2)], np.float32)
        image = image * cv2.resize(corner, (w, h))[..., None]
    if rng.random() < 0.25 * strength:  # the edge of a shadow
        a = rng.uniform(0, 2 * math.pi)
        xs, ys = np.meshgrid(np.arange(w) - rng.uniform(0, w), np.arange(h) - rng.uniform(0, h))
        edge = 1 / (1 + np.exp(-np.clip((xs * math.cos(a) + ys * math.sin(a)) / rng.uniform(1, 0.08 * w), -30, 30)))
        image = image * (1 - rng.uniform(0.2, 0.65) * edge)[..., None]
    if rng.random() < 0.3 * strength:  # glare on the glass
        veil = np.zeros((h, w), np.float32)
        for _ in range(rng.randrange(1, 3)):
            if rng.random() < 0.5:
                cx, cy = rng.uniform(0, w), rng.uniform(0, h)
                axes = int(rng.uniform(0.03, 0.3) * w) + 1, int(rng.uniform(0.02, 0.15) * w) + 1
                cv2.ellipse(veil, (int(cx), int(cy)), axes, rng.uniform(0, 180), 0, 360, 1.0, -1)
            else:
                x = rng.uniform(-0.2, 1) * w
                s, k = rng.uniform(0.05, 0.3) * w, rng.uniform(-0.6, 0.6) * h
                cv2.fillPoly(veil, [np.array([[x, 0], [x + s, 0], [x + s + k, h], [x + k, h]], np.int32)], 1.0)
        veil = cv2.GaussianBlur(veil, (0, 0), rng.uniform(0.003, 0.06) * w + 0.5)
        veil = (veil * rng.uniform(0.1, 0.75))[..., None]
        image = image * (1 - veil) + veil * np.array([255, 252, rng.uniform(225, 255)], np.float32)
    image = image * np.array([rng.uniform(0.82, 1.15), rng.uniform(0.92, 1.05), rng.uniform(0.8, 1.15)], np.float32)
    if rng.random() < 0.12:
        image = image * np.array([1.2, rng.uniform(0.6, 0.9), rng.uniform(0.2, 0.7)], np.float32)
    image = image * (rng.uniform(0.75, 1.15) if rng.random() < 0.7 else rng.uniform(0.12, 0.6))
    if rng.random() < 0.3:
        flat = rng.uniform(0, 70)
        image = image * (1 - flat / 255) + flat
    image = 255 * (np.clip(image, 0, 255) / 255) ** rng.uniform(0.75, 1.35)
    return image


def sensor(rng: random.Random, image: np.ndarray, strength: float) -> np.ndarray:
    """Blur, noise and JPEG."""
    if rng.random() < 0.55 * strength:
        image = cv2.GaussianBlur(image, (0, 0), rng.choice([0.6, 0.9, 1.3, 1.8, rng.uniform(1.5, 2.8)]))
    if rng.random() < 0.2 * strength:
        n = rng.choice([3, 5, 7, 9])
        kernel = np.zeros((n, n), np.float32)
        a = rng.uniform(0, math.pi)
        c = (n - 1) / 2
        cv2.line(kernel, (round(c - c * math.cos(a)), round(c - c * math.sin(a))), (round(c + c * math.cos(a)), round(c + c * math.sin(a))), 1.0)
        image = cv2.filter2D(image, -1, kernel / kernel.sum())
    if rng.random() < 0.8:
        seed = np.random.default_rng(rng.getrandbits(32))
        sigma = rng.uniform(0.5, 7) if rng.random() < 0.75 else rng.uniform(6, 22)
        noise = seed.standard_normal(image.shape, np.float32) if rng.random() < 0.6 else seed.standard_normal((*image.shape[:2], 1), np.float32)
        if rng.random() < 0.4:
            noise = cv2.GaussianBlur(noise, (0, 0), rng.uniform(0.5, 1.0)).reshape(*image.shape[:2], -1) * 1.8
        image = image + noise * sigma
    image = np.clip(image, 0, 255).astype(np.uint8)
    if rng.random() < 0.7:
        code = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, rng.randrange(28, 96)])[1]
        image = cv2.imdecode(code, 1)
    return image


def thumb(rng: random.Random, image: np.ndarray, aim: tuple[float, float] | None, size: float) -> np.ndarray:
    """Put a finger into the picture, over `aim` or from an edge; give where it covers (0..1)."""
    h, w = image.shape[:2]
    cover = np.zeros((h, w), np.float32)
    if aim is None:
        aim = rng.choice([(rng.uniform(0, w), h * 1.0), (0.0, rng.uniform(0, h)), (float(w), rng.uniform(0, h))])
    angle = rng.uniform(0, 360)
    axes = int(size * rng.uniform(0.8, 2.2)) + 2, int(size * rng.uniform(0.4, 0.8)) + 2
    tip = math.radians(angle)
    centre = int(aim[0] + axes[0] * 0.6 * math.cos(tip)), int(aim[1] + axes[0] * 0.6 * math.sin(tip))
    cv2.ellipse(cover, centre, axes, angle, 0, 360, 1.0, -1, cv2.LINE_AA)
    cover = cv2.GaussianBlur(cover, (0, 0), max(0.6, size * rng.uniform(0.01, 0.06)))
    skin = np.array(rng.choice([[224, 172, 135], [190, 130, 95], [120, 78, 55], [240, 200, 170], [70, 45, 35], [60, 70, 110]]), np.float32)
    shade = cv2.GaussianBlur(cover, (0, 0), max(1.0, size * 0.2))
    image[:] = image * (1 - cover[..., None]) + cover[..., None] * skin * (0.55 + 0.5 * shade[..., None])
    return cover


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


def view(rng: random.Random, centre: np.ndarray, scale: float, at: tuple[float, float], turn: float, lean: float) -> np.ndarray:
    """Give the matrix of a camera: canvas point `centre` at `at`, so many pixels a canvas pixel."""
    c, s = math.cos(turn) * scale, math.sin(turn) * scale
    away = np.array([[1, 0, -centre[0]], [0, 1, -centre[1]], [0, 0, 1.0]])
    persp = np.array([[1 - abs(rng.gauss(0, lean * 0.5)), rng.gauss(0, lean * 0.2), 0], [rng.gauss(0, lean * 0.2), 1, 0],
                      [rng.gauss(0, lean) / 900, rng.gauss(0, lean) / 900, 1]])
    spin = np.array([[c, -s, at[0]], [s, c, at[1]], [0, 0, 1.0]])
    return spin @ persp @ away


def through(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Send points through a homography."""
    return cv2.perspectiveTransform(np.asarray(points, np.float64).reshape(1, -1, 2), matrix)[0]


def corners(strip: Strip) -> np.ndarray:
    """Give a strip's corners in its own pixels, clockwise from the top left."""
    h, w = strip.image.shape[:2]
    return np.array([[0, 0], [w, 0], [w, h], [0, h]], np.float64)


def paint(rng: random.Random, out: np.ndarray, picture: np.ndarray, alpha: np.ndarray, matrix: np.ndarray) -> None:
    """Put a canvas into the photograph."""
    size = (out.shape[1], out.shape[0])
    mask = warp(alpha, matrix, size).astype(np.float32)[..., None] / 255
    out[:] = out * (1 - mask) + warp(picture, matrix, size) * mask


def paint_strip(rng: random.Random, out: np.ndarray, strip: Strip, matrix: np.ndarray) -> None:
    """Put a counter into the photograph."""
    paint(rng, out, strip.image.astype(np.float32), np.full(strip.image.shape[:2], 255, np.uint8), matrix)


def frame_sample(rng: random.Random, side: int = 512) -> tuple[np.ndarray, list[tuple[int, np.ndarray, int]]]:
    """Give a photograph and its counters: (0 drum or 1 LCD, corners, 1 to find / 0 to leave out)."""
    out = texture(rng, side, side)
    strip = None
    if rng.random() < 0.72:
        strip = drum_strip(rng) if rng.random() < 0.72 else lcd_strip(rng, hours=rng.random() < 0.85)
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
        matrix = view(rng, np.array([MIDDLE, MIDDLE]), scale, (rng.uniform(0.3, 0.7) * side, rng.uniform(0.3, 0.7) * side), turn, lean)
    for _ in range(rng.choice([0, 0, 1, 2])):  # neighbours in the panel
        other, mask, _none = nothing(rng) if rng.random() < 0.4 else (*_gauge(rng), None)
        if mask.min() == 255:
            continue
        shift = np.array([[1, 0, rng.choice([-1, 1]) * rng.uniform(710, 900)], [0, 1, rng.uniform(-400, 400)], [0, 0, 1.0]])
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


def _gauge(rng: random.Random) -> tuple[np.ndarray, np.ndarray]:
    image, _ground, _ink = round_face(rng, rng.choice(["gauge", "alt", "speed", "clock"]))
    needle(image, rng, rng.uniform(0, 360), MIDDLE * 0.8)
    return np.asarray(image).astype(np.float32), circle_alpha()


def visible(cover: np.ndarray | None, quad: np.ndarray) -> float:
    """Give which part of a quad is not covered."""
    if cover is None:
        return 1.0
    h, w = cover.shape
    us, vs = np.meshgrid(np.linspace(0.06, 0.94, 25), np.linspace(0.2, 0.8, 7))
    p = ((1 - us) * (1 - vs))[..., None] * quad[0] + (us * (1 - vs))[..., None] * quad[1] + (us * vs)[..., None] * quad[2] + ((1 - us) * vs)[..., None] * quad[3]
    xs = np.clip(p[..., 0].round().astype(int), 0, w - 1)
    ys = np.clip(p[..., 1].round().astype(int), 0, h - 1)
    return float(1 - (cover[ys, xs] > 0.5).mean())


WIDE, HIGH = 320, 80
BOX = np.array([[24, 14], [296, 14], [296, 66], [24, 66]], np.float64)  # where the counter goes


def to_box(rng: random.Random, quad: np.ndarray, slack: float = 1.0) -> np.ndarray:
    """Give the matrix that straightens a quad as imperfectly as a finder would."""
    long = np.linalg.norm(quad[1] - quad[0])
    tall = np.linalg.norm(quad[3] - quad[0])
    jitter = np.array([[rng.gauss(0, 0.018 * long * slack), rng.gauss(0, 0.05 * tall * slack)] for _ in range(4)])
    shift = np.array([rng.gauss(0, 0.02 * long * slack), rng.gauss(0, 0.06 * tall * slack)])
    grow = rng.gauss(0, 0.045 * slack), rng.gauss(0, 0.12 * slack)
    middle = quad.mean(0)
    along, down = (quad[1] - quad[0] + quad[2] - quad[3]) / 4, (quad[3] - quad[0] + quad[2] - quad[1]) / 4
    moved = quad + jitter + shift + np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])[:, :1] * grow[0] * along \
        + np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])[:, 1:] * grow[1] * down
    del middle
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
        return dict(image=sensor(rng, spoil(rng, out, 1.0), 0.8), kind=2, xs=[], phases=[], tenths=[], dot=None)
    strip = drum_strip(rng) if rng.random() < 0.72 else lcd_strip(rng, hours=rng.random() < 0.85)
    h, w = strip.image.shape[:2]
    quad = corners(strip)
    if rng.random() < 0.3:  # the finder may take the window inside the frame for the counter
        x0, y0, x1, y1 = strip.window
        quad = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], np.float64)
    lean = np.eye(3)
    if rng.random() < 0.5:
        lean = np.array([[1, rng.gauss(0, 0.06), 0], [rng.gauss(0, 0.03), 1, 0], [0, rng.gauss(0, 0.0004), 1]])
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
                    draw.text((x, rng.uniform(15, 65)), rng.choice(["0", "5", "35", "120", "20", "70", "30", "10", "1"]), fill=tone, font=font(face, int(size)), anchor=anchor)
            for _ in range(rng.randrange(1, 4)):
                text(draw, rng, (rng.choice([rng.uniform(0, 320), rng.uniform(0, 20), rng.uniform(300, 320)]), rng.choice([3, 77, 40])),
                     rng.choice(["HOURS", "1/10", "35", "0", "20", "70", "TACH HRS", "km"]), rng.uniform(8, 34), tup(colour(rng, 0, 255)), rng.choice(FONTS))
            out = np.asarray(image).astype(np.float32)
    paint_strip(rng, out, strip, whole)
    cover = None
    if rng.random() < 0.1:
        cover = thumb(rng, out, (rng.uniform(20, 300), rng.uniform(10, 90)), rng.uniform(15, 60))
    elif rng.random() < 0.06:  # the needle crosses it
        x = rng.uniform(20, 300)
        cv2.line(out, (int(x), -5), (int(x + rng.uniform(-60, 60)), 85), [float(v) for v in colour(rng, 0, 255)], rng.randrange(2, 9), cv2.LINE_AA)
    out = spoil(rng, out, 1.0)
    if rng.random() < 0.6:  # fewer pixels than the strip has
        width = int(rng.uniform(70, 300) if strip.kind == "lcd" or len(strip.phases) < 6 else rng.uniform(90, 300))
        small = cv2.resize(out, (width, max(12, int(HIGH * width / WIDE))), interpolation=cv2.INTER_AREA)
        small = sensor(rng, small, 0.55)
        out = cv2.resize(small, (WIDE, HIGH), interpolation=rng.choice([cv2.INTER_LINEAR, cv2.INTER_CUBIC]))
    else:
        out = sensor(rng, out, 1.0)
    points = through(whole, np.array(strip.centres))
    phases: list[float | None] = []
    for (x, y), wide, phase in zip(points, strip.widths, strip.phases, strict=True):
        half = 0.35 * wide * math.sqrt(abs(np.linalg.det(whole[:2, :2]))) + 1
        hidden = 0.0
        if cover is not None:
            xs = np.clip(np.linspace(x - half, x + half, 5).round().astype(int), 0, WIDE - 1)
            ys = np.clip(np.linspace(y - half * 1.3, y + half * 1.3, 7).round().astype(int), 0, HIGH - 1)
            hidden = float((cover[np.ix_(ys, xs)] > 0.5).mean())
        phases.append(None if hidden > 0.3 or not 0 < x < WIDE else phase)
    dot = None
    if strip.dot is not None:
        dot = float(through(whole, np.array([[strip.dot, strip.centres[0][1]]]))[0, 0])
    return dict(image=out, kind=0 if strip.kind == "drum" else 1, xs=[float(x) for x in points[:, 0]],
                phases=phases, tenths=strip.tenths, dot=dot)
