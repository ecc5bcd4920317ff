"""Samples without end for the trainer: drawn ones, real ones, and drawn counters on real dials."""

from __future__ import annotations

import math
import pickle
import random
import zipfile
from pathlib import Path

import cv2
import drums
import instruments
import numpy as np
import scenes
import torch
from light import sensor, spoil

SIDE, SLOTS = 384, 10
REAL: list[dict] = []


def set_up(pack: Path) -> None:
    """Load fonts, drum cells and real odometers."""
    cv2.setNumThreads(1)
    drums.load_fonts(pack / "fonts")
    drums.CELLS[:] = [[] for _ in range(100)]
    with zipfile.ZipFile(pack / "drums.zip") as archive:
        for name in archive.namelist():
            if name.endswith(".jpg"):
                cell = cv2.imdecode(np.frombuffer(archive.read(name), np.uint8), 1)[..., ::-1]
                drums.CELLS[round(float(name.split("/")[0]) * 10)].append(
                    np.ascontiguousarray(cell)
                )
    REAL[:] = pickle.loads((pack / "real.pkl").read_bytes())
    for one in REAL:
        one["quad"] = np.array(one["quad"], np.float64)
        if one["kind"] == "lcd" and not one["val"]:  # its panel painted over, it makes a background
            back = opened(one).copy()
            low, high = one["quad"].min(0).astype(int) - 6, one["quad"].max(0).astype(int) + 6
            low = np.maximum(low, 0)
            patch = back[low[1] : high[1], low[0] : high[0]]
            if patch.size:
                patch[:] = patch.reshape(-1, 3).mean(0)
            instruments.BACKS.append(back)


def opened(one: dict) -> np.ndarray:
    return cv2.imdecode(np.frombuffer(one["jpg"], np.uint8), 1)[..., ::-1]


def swapped(rng: random.Random, one: dict) -> tuple[np.ndarray, drums.Strip, np.ndarray]:
    """A real photograph whose counter is replaced by a drawn one; the strip, and its matrix."""
    image = opened(one).astype(np.float32)
    strip = drums.drum_strip(rng)
    h, w = strip.image.shape[:2]
    quad = one["quad"] + np.array([rng.gauss(0, 2), rng.gauss(0, 2)])
    middle, grow = quad.mean(0), rng.uniform(1.0, 1.25)
    quad = middle + (quad - middle) * grow
    matrix = cv2.getPerspectiveTransform(
        np.float32([[0, 0], [w, 0], [w, h], [0, h]]), quad.astype(np.float32)
    )
    scenes.paint_strip(rng, image, strip, matrix)
    return image, strip, matrix


def real_frame(rng: random.Random, one: dict) -> tuple[np.ndarray, list]:
    """A part of a real photograph for the finder."""
    image, quad = opened(one).astype(np.float32), one["quad"]
    if one["kind"] == "drum" and rng.random() < 0.4:
        image, strip, put = swapped(rng, one)
        quad = scenes.through(put, scenes.corners(strip))
    wide = np.linalg.norm(quad[1] - quad[0])
    target = math.exp(rng.uniform(math.log(34), math.log(300)))
    at = (rng.uniform(0.3, 0.7) * SIDE, rng.uniform(0.2, 0.8) * SIDE)
    matrix = scenes.view(
        rng,
        quad.mean(0),
        target / wide,
        at,
        math.radians(rng.gauss(0, 10)),
        rng.choice([0.02, 0.15]),
    )
    out = cv2.warpPerspective(
        image,
        matrix,
        (SIDE, SIDE),
        flags=cv2.INTER_AREA if target < wide else cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=[rng.uniform(0, 255)] * 3,
    )
    moved = scenes.through(matrix, quad)
    inside = ((moved > 2) & (moved < SIDE - 3)).all()
    state = 1 if inside and one["kind"] == "drum" else 0
    if rng.random() < 0.5:
        out = spoil(rng, out, 0.5)
    return sensor(rng, out, 0.4), [(0 if one["kind"] == "drum" else 1, moved, state)]


def real_strip(rng: random.Random, one: dict, slack: float = 1.0) -> tuple[np.ndarray, list]:
    """A straightened real counter; slots of (x, mode, phase, tenth)."""
    quad = one["quad"]
    tall, along = (quad[3] - quad[0]) / 2, (quad[1] - quad[0]) / 2
    grow = rng.uniform(-0.1, 0.25) if slack else 0.0
    quad = (
        quad
        + np.array([-1, -1, 1, 1])[:, None] * tall * grow
        + np.array([-1, 1, 1, -1])[:, None] * along * rng.uniform(-0.03, 0.05) * slack
    )
    matrix = scenes.to_box(rng, quad, slack)
    out = cv2.warpPerspective(
        opened(one),
        matrix,
        (scenes.WIDE, scenes.HIGH),
        flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    ).astype(np.float32)
    slots = []
    points = scenes.through(matrix, np.array([d["c"] for d in one["drums"]]))
    last = len(points) - 1
    for k, (point, drum) in enumerate(zip(points, one["drums"], strict=True)):
        seen = drum["digits"]
        mode, phase = (3 if k == last else 2), float(seen[0])
        if len(seen) == 2:
            low = seen[0] if (seen[1] - seen[0]) % 10 == 1 else seen[1]
            mode, phase = 4, (low + 0.5) % 10
        slots.append((float(point[0]), mode, phase, -1))
    if slack:
        if rng.random() < 0.6:
            out = spoil(rng, out, 0.6)
        out = sensor(rng, out, 0.4)
    return np.clip(out, 0, 255).astype(np.uint8), slots


def one_frame(rng: random.Random, train: bool = True) -> tuple[np.ndarray, np.ndarray]:
    pool = [r for r in REAL if r["val"] != train]
    if rng.random() < 0.25:
        pick = rng.choice(
            [r for r in pool if r["kind"] == ("drum" if rng.random() < 0.7 else "lcd")]
        )
        image, found = real_frame(rng, pick)
    else:
        image, found = scenes.frame_sample(rng, SIDE)
    boxes = np.full((2, 10), -1, np.float32)
    for k, (kind, quad, state) in enumerate(found[:2]):
        boxes[k] = [kind, *quad.reshape(-1), state]
    return image, boxes


def one_strip(rng: random.Random, train: bool = True) -> tuple[np.ndarray, np.ndarray]:
    slots = np.full((SLOTS + 1, 4), -1, np.float32)
    pick = rng.random()
    if pick < 0.12:  # a drawn counter on a real dial
        one = rng.choice([r for r in REAL if r["kind"] == "drum" and r["val"] != train])
        photo, strip, put = swapped(rng, one)
        matrix = scenes.to_box(rng, scenes.through(put, scenes.corners(strip)))
        image = cv2.warpPerspective(
            photo,
            matrix,
            (scenes.WIDE, scenes.HIGH),
            flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        image = sensor(rng, spoil(rng, image, 0.8), 0.6)
        xs = scenes.through(matrix @ put, np.array(strip.centres))[:, 0]
        got = [(float(x), 1, p, t) for x, p, t in zip(xs, strip.phases, strip.tenths, strict=True)]
        slots[SLOTS] = [0, -1, -1, -1]
    elif pick < 0.32:
        image, got = real_strip(
            rng, rng.choice([r for r in REAL if r["kind"] == "drum" and r["val"] != train])
        )
        slots[SLOTS] = [0, -1, -1, -1]
    else:
        made = scenes.strip_sample(rng)
        image, got = made["image"], []
        for x, phase, tenth in zip(made["xs"], made["phases"], made["tenths"], strict=True):
            got.append((x, 5, 0.0, -1) if phase is None else (x, 1, phase, tenth))
        slots[SLOTS] = [made["kind"], -1 if made["dot"] is None else made["dot"], -1, -1]
    for k, slot in enumerate(got[:SLOTS]):
        slots[k] = slot
    return image, slots


class Stream(torch.utils.data.IterableDataset):
    """Samples without end, other ones in every worker."""

    def __init__(self, draw, seed: int) -> None:
        self.draw, self.seed = draw, seed

    def __iter__(self):
        info = torch.utils.data.get_worker_info()
        rng = random.Random(self.seed * 1000 + (info.id if info else 0))
        torch.set_num_threads(1)
        while True:
            try:
                image, truth = self.draw(rng)
            except (
                cv2.error,
                np.linalg.LinAlgError,
                ValueError,
                ZeroDivisionError,
                OSError,
            ) as err:
                print("skipped a sample:", repr(err)[:150], flush=True)
                continue
            yield (
                torch.from_numpy(np.ascontiguousarray(image.transpose(2, 0, 1))),
                torch.from_numpy(truth),
            )
