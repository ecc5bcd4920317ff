"""Spoil a photograph: light, glare, shadow, blur, noise, compression, a finger."""

from __future__ import annotations

import math
import random

import cv2
import numpy as np


def spoil(rng: random.Random, image: np.ndarray, strength: float) -> np.ndarray:
    """Light, blur, noise and compression on a float picture of 0..255."""
    h, w = image.shape[:2]
    if rng.random() < 0.5:
        corner = np.array(
            [[rng.uniform(0.35, 1.25) for _ in range(2)] for _ in range(2)], np.float32
        )
        image = image * cv2.resize(corner, (w, h))[..., None]
    if rng.random() < 0.25 * strength:  # the edge of a shadow
        a = rng.uniform(0, 2 * math.pi)
        xs, ys = np.meshgrid(np.arange(w) - rng.uniform(0, w), np.arange(h) - rng.uniform(0, h))
        edge = 1 / (
            1
            + np.exp(
                -np.clip((xs * math.cos(a) + ys * math.sin(a)) / rng.uniform(1, 0.08 * w), -30, 30)
            )
        )
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
                cv2.fillPoly(
                    veil,
                    [np.array([[x, 0], [x + s, 0], [x + s + k, h], [x + k, h]], np.int32)],
                    1.0,
                )
        veil = cv2.GaussianBlur(veil, (0, 0), rng.uniform(0.003, 0.06) * w + 0.5)
        veil = (veil * rng.uniform(0.1, 0.75))[..., None]
        image = image * (1 - veil) + veil * np.array([255, 252, rng.uniform(225, 255)], np.float32)
    image = image * np.array(
        [rng.uniform(0.82, 1.15), rng.uniform(0.92, 1.05), rng.uniform(0.8, 1.15)], np.float32
    )
    if rng.random() < 0.12:
        image = image * np.array([1.2, rng.uniform(0.6, 0.9), rng.uniform(0.2, 0.7)], np.float32)
    image = image * (rng.uniform(0.75, 1.15) if rng.random() < 0.7 else rng.uniform(0.12, 0.6))
    if rng.random() < 0.3:
        flat = rng.uniform(0, 70)
        image = image * (1 - flat / 255) + flat
    return 255 * (np.clip(image, 0, 255) / 255) ** rng.uniform(0.75, 1.35)


def sensor(rng: random.Random, image: np.ndarray, strength: float) -> np.ndarray:
    """Blur, noise and JPEG."""
    if rng.random() < 0.55 * strength:
        image = cv2.GaussianBlur(
            image, (0, 0), rng.choice([0.6, 0.9, 1.3, 1.8, rng.uniform(1.5, 2.8)])
        )
    if rng.random() < 0.2 * strength:
        n = rng.choice([3, 5, 7, 9])
        kernel = np.zeros((n, n), np.float32)
        a = rng.uniform(0, math.pi)
        c = (n - 1) / 2
        cv2.line(
            kernel,
            (round(c - c * math.cos(a)), round(c - c * math.sin(a))),
            (round(c + c * math.cos(a)), round(c + c * math.sin(a))),
            1.0,
        )
        image = cv2.filter2D(image, -1, kernel / kernel.sum())
    if rng.random() < 0.8:
        seed = np.random.default_rng(rng.getrandbits(32))
        sigma = rng.uniform(0.5, 7) if rng.random() < 0.75 else rng.uniform(6, 22)
        noise = (
            seed.standard_normal(image.shape, np.float32)
            if rng.random() < 0.6
            else seed.standard_normal((*image.shape[:2], 1), np.float32)
        )
        if rng.random() < 0.4:
            noise = (
                cv2.GaussianBlur(noise, (0, 0), rng.uniform(0.5, 1.0)).reshape(*image.shape[:2], -1)
                * 1.8
            )
        image = image + noise * sigma
    image = np.clip(image, 0, 255).astype(np.uint8)
    if rng.random() < 0.7:
        code = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, rng.randrange(28, 96)])[1]
        image = cv2.imdecode(code, 1)
    return image


def thumb(
    rng: random.Random, image: np.ndarray, aim: tuple[float, float] | None, size: float
) -> np.ndarray:
    """Put a finger into the picture, over `aim` or from an edge; give where it covers (0..1)."""
    h, w = image.shape[:2]
    cover = np.zeros((h, w), np.float32)
    if aim is None:
        aim = rng.choice(
            [(rng.uniform(0, w), h * 1.0), (0.0, rng.uniform(0, h)), (float(w), rng.uniform(0, h))]
        )
    angle = rng.uniform(0, 360)
    axes = int(size * rng.uniform(0.8, 2.2)) + 2, int(size * rng.uniform(0.4, 0.8)) + 2
    tip = math.radians(angle)
    centre = (
        int(aim[0] + axes[0] * 0.6 * math.cos(tip)),
        int(aim[1] + axes[0] * 0.6 * math.sin(tip)),
    )
    cv2.ellipse(cover, centre, axes, angle, 0, 360, 1.0, -1, cv2.LINE_AA)
    cover = cv2.GaussianBlur(cover, (0, 0), max(0.6, size * rng.uniform(0.01, 0.06)))
    skin = np.array(
        rng.choice(
            [
                [224, 172, 135],
                [190, 130, 95],
                [120, 78, 55],
                [240, 200, 170],
                [70, 45, 35],
                [60, 70, 110],
            ]
        ),
        np.float32,
    )
    shade = cv2.GaussianBlur(cover, (0, 0), max(1.0, size * 0.2))
    image[:] = image * (1 - cover[..., None]) + cover[..., None] * skin * (
        0.55 + 0.5 * shade[..., None]
    )
    return cover
