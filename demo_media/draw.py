"""Draw the demo's three photos: a tachometer, a filter label, a dipstick. All invented."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from math import cos, radians, sin
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

FONTS = Path("/usr/share/fonts/truetype/dejavu")
SIZE = (1600, 1200)


def font(points: int, name: str = "DejaVuSans-Bold") -> ImageFont.FreeTypeFont:
    """Give a face of Debian's fonts-dejavu-core."""
    return ImageFont.truetype(str(FONTS / f"{name}.ttf"), points)


def worn(picture: Image.Image, tilt: float, seed: int) -> Image.Image:
    """Make a drawing look photographed: a little tilt, uneven light, soft focus, grain."""
    picture = picture.rotate(tilt, Image.Resampling.BICUBIC, fillcolor=picture.getpixel((4, 4)))
    picture = picture.filter(ImageFilter.GaussianBlur(1.3))
    rng = np.random.default_rng(seed)
    height, width = picture.height, picture.width
    y, x = np.mgrid[0:height, 0:width]
    light = 1.08 - 0.35 * np.hypot(x / width - 0.42, y / height - 0.38)
    pixels = np.asarray(picture, np.float32) * light[..., None]
    pixels += rng.normal(0, 4, pixels.shape)
    return Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8))


def drum(digit: int, ink: str, paper: str, size: tuple[int, int]) -> Image.Image:
    """Draw one drum as its window shows it: the digit at rest, its neighbours just out of sight."""
    width, height = size
    picture = Image.new("RGB", size, paper)
    pen = ImageDraw.Draw(picture)
    face = font(int(height * 0.72))
    pen.text((width / 2, height / 2), str(digit), ink, face, anchor="mm")
    # a drum is round: darker towards its upper and lower edge
    shade = 1 - 0.75 * np.abs(np.linspace(-1, 1, height)) ** 2.5
    return Image.fromarray((np.asarray(picture) * shade[:, None, None]).astype(np.uint8))


def tach(shows: str) -> Image.Image:
    """Draw a recording tachometer at rest, its hour counter below the hub."""
    picture = Image.new("RGB", SIZE, (52, 55, 58))
    pen = ImageDraw.Draw(picture)
    cx, cy, r = 800, 600, 520
    for x, y in ((250, 90), (1350, 90), (250, 1110), (1350, 1110)):
        pen.ellipse((x - 26, y - 26, x + 26, y + 26), (120, 122, 124), (20, 20, 20), 3)
        pen.line((x - 18, y - 8, x + 18, y + 8), (30, 30, 30), 6)
    pen.ellipse((cx - r - 42, cy - r - 42, cx + r + 42, cy + r + 42), (18, 18, 19), (90, 90, 92), 6)
    pen.ellipse((cx - r, cy - r, cx + r, cy + r), (26, 26, 27))
    for step in range(71):
        angle = radians(150 + step * 240 / 70)
        long = 54 if step % 10 == 0 else 24
        for_line = [(cx + k * cos(angle), cy + k * sin(angle)) for k in (r - 14, r - 14 - long)]
        pen.line(for_line, (235, 235, 228), 8 if step % 10 == 0 else 4)
        if step % 10 == 0:
            at = (cx + (r - 120) * cos(angle), cy + (r - 120) * sin(angle))
            pen.text(at, str(step // 2), (235, 235, 228), font(62), anchor="mm")
    start, stop = 150 + 42 * 240 / 70, 150 + 54 * 240 / 70
    pen.arc((cx - r + 4, cy - r + 4, cx + r - 4, cy + r - 4), start, stop, (60, 160, 70), 12)
    pen.text((cx, cy - 205), "RPM", (235, 235, 228), font(56), anchor="mm")
    pen.text((cx, cy - 150), "X 100", (235, 235, 228), font(40), anchor="mm")
    counter(picture, shows, (cx, cy + 215))
    pen.text((cx, cy + 320), "HOURS", (235, 235, 228), font(34), anchor="mm")
    pen.text((cx, cy + 362), "1/10", (235, 235, 228), font(26), anchor="mm")
    angle = radians(150)
    tip = (cx + (r - 80) * cos(angle), cy + (r - 80) * sin(angle))
    side = (22 * cos(angle + radians(90)), 22 * sin(angle + radians(90)))
    pen.polygon([tip, (cx + side[0], cy + side[1]), (cx - side[0], cy - side[1])], (240, 238, 230))
    pen.ellipse((cx - 46, cy - 46, cx + 46, cy + 46), (44, 44, 46), (80, 80, 82), 3)
    return worn(picture, 2.4, 1)


def counter(picture: Image.Image, shows: str, centre: tuple[int, int]) -> None:
    """Lay the drums of an hour counter into its window; the tenths drum is black on white."""
    digits = shows.replace(".", "").zfill(5)
    wide, high, gap = 74, 112, 7
    width = len(digits) * (wide + gap) + gap
    left, top = centre[0] - width // 2, centre[1] - high // 2
    pen = ImageDraw.Draw(picture)
    pen.rectangle((left - 8, top - 8, left + width + 8, top + high + 8), (8, 8, 8), (96, 96, 98), 4)
    for place, digit in enumerate(digits):
        tenths = place == len(digits) - 1
        ink, paper = ("#161616", "#e9e7dd") if tenths else ("#efeee6", "#1d1d1e")
        one = drum(int(digit), ink, paper, (wide, high))
        picture.paste(one, (left + gap + place * (wide + gap), top))


def label(shows: str) -> Image.Image:
    """Draw a spin-on filter with its printed label: part number, lot, and a torque range."""
    picture = Image.new("RGB", SIZE, (96, 84, 70))
    pen = ImageDraw.Draw(picture)
    for y in range(0, 1200, 60):
        pen.line((0, y, 1600, y + 14), (88, 76, 62), 10)
    pen.rounded_rectangle((300, 120, 1300, 1120), 60, (226, 226, 220))
    shade = Image.new("L", (1000, 1000))
    shade.putdata([int(120 * abs(x / 500 - 1) ** 3) for _ in range(1000) for x in range(1000)])
    picture.paste((60, 60, 60), (300, 120), shade)
    pen.rectangle((430, 250, 1170, 960), (250, 249, 243), (40, 60, 90), 6)
    pen.rectangle((430, 250, 1170, 370), (40, 60, 90))
    pen.text((800, 310), "OIL FILTER", (250, 249, 243), font(76), anchor="mm")
    pen.text((800, 450), "PART NO.", (30, 30, 30), font(44), anchor="mm")
    pen.text((800, 540), shows, (20, 20, 20), font(110), anchor="mm")
    pen.text((800, 660), "LOT 2604-17", (30, 30, 30), font(44, "DejaVuSans"), anchor="mm")
    pen.text((800, 740), "TORQUE 16 - 18 FT-LB", (30, 30, 30), font(46), anchor="mm")
    pen.text(
        (800, 840),
        "DATE ________  HOURS ________",
        (60, 60, 60),
        font(34, "DejaVuSans"),
        anchor="mm",
    )
    pen.text(
        (800, 905),
        "Invented for a demonstration",
        (120, 120, 120),
        font(26, "DejaVuSans"),
        anchor="mm",
    )
    return worn(picture, -3.1, 2)


def dipstick(shows: str) -> Image.Image:
    """Draw a dipstick on a rag, oil up to the mark of `shows` quarts."""
    picture = Image.new("RGB", SIZE, (176, 66, 58))
    rng = np.random.default_rng(7)
    pen = ImageDraw.Draw(picture)
    for _ in range(900):
        x, y = rng.integers(0, 1600), rng.integers(0, 1200)
        pen.line((x, y, x + rng.integers(-60, 60), y + rng.integers(10, 50)), (150, 52, 46), 3)
    pen.rounded_rectangle((90, 560, 1510, 640), 12, (186, 188, 190), (90, 92, 94), 3)
    place = {mark: 1420 - 160 * i for i, mark in enumerate((2, 3, 4, 5, 6, 7, 8))}
    oil = Image.new("RGB", (1504 - place[int(shows)], 74), (92, 62, 22))
    picture.paste(oil, (place[int(shows)], 563), Image.new("L", oil.size, 150))
    for mark, x in place.items():
        pen.line((x, 560, x, 640), (40, 40, 42), 5)
        if mark % 2 == 0:
            pen.text((x + 12, 600), str(mark), (40, 40, 42), font(44), anchor="lm")
    return worn(picture, 4.0, 3)


DRAWINGS: dict[str, Callable[[str], Image.Image]] = {
    "tach": tach,
    "label": label,
    "dipstick": dipstick,
}


def save(picture: Image.Image, path: Path, taken: datetime, orientation: int) -> None:
    """Write a JPEG as a phone does: EXIF time with its offset, and turned as the sensor was."""
    if (
        orientation == 6
    ):  # the sensor's picture is turned a quarter; the tag says how to turn it back
        picture = picture.transpose(Image.Transpose.ROTATE_90)
    exif = Image.Exif()
    exif[0x0112] = orientation
    inner = exif.get_ifd(0x8769)
    inner[0x9003] = taken.strftime("%Y:%m:%d %H:%M:%S")
    offset = taken.strftime("%z")
    inner[0x9011] = f"{offset[:3]}:{offset[3:]}"
    picture.save(path, quality=88, exif=exif)
