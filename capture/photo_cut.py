"""Cut a slanted four-cornered piece out of a picture, level and of a wanted size."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from PIL.Image import Image

Box = tuple[tuple[float, float], ...]


def straighten(image: Image, quad: np.ndarray, size: tuple[int, int], box: Box) -> Image:
    """Give a picture of `size` (width, height) in which the corners `quad` come to lie at `box`.

    `quad` is (4, 2) in pixels of `image`, clockwise from the top left, `box` in pixels of the cut.
    What lies outside the picture is black.
    """
    from PIL import Image as Images

    low, high = quad.min(0), quad.max(0)
    room = 0.45 * (high - low).max()
    edge = [int(v) for v in (*(low - room), *(high + room))]
    part = image.crop((edge[0], edge[1], edge[2], edge[3]))
    shrink = max(1.0, float(np.linalg.norm(quad[1] - quad[0])) / (box[1][0] - box[0][0]) / 1.3)
    if shrink > 1.0:
        smaller = (max(8, round(part.width / shrink)), max(8, round(part.height / shrink)))
        part = part.resize(smaller, Images.Resampling.BOX)
    moved = (quad - (edge[0], edge[1])) / shrink
    return part.transform(
        size, Images.Transform.PERSPECTIVE, _coefficients(box, moved), Images.Resampling.BICUBIC
    )


def level(image: Image, quad: np.ndarray, high: int) -> Image:
    """Give a line of print level and `high` pixels high, with a little room round it."""
    tall = max(4.0, float(np.linalg.norm(quad[3] - quad[0])))
    wide = max(4, round(float(np.linalg.norm(quad[1] - quad[0])) * high / tall))
    room = round(high * 0.12)
    box = ((room, room), (room + wide, room), (room + wide, room + high), (room, room + high))
    return straighten(image, quad, (wide + 2 * room, high + 2 * room), box)


def _coefficients(source: Box, target: np.ndarray) -> tuple[float, ...]:
    """Give Pillow's eight coefficients that take the points of `source` to those of `target`."""
    rows, right = [], []
    for (x, y), (u, v) in zip(source, target, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    return tuple(float(v) for v in np.linalg.lstsq(np.array(rows), np.array(right), rcond=None)[0])
