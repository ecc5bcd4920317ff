"""Find the window of a counter in a photo: its four corners and whether it is drums or segments.

A small network gives, for a grid over the picture, how likely the middle of a counter is there and
where its corners lie. What it finds is looked at again close up, so that the corners are exact.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from capture.models import network

if TYPE_CHECKING:
    from PIL.Image import Image

KINDS = ("drum", "lcd")
LEAST_SCORE = 0.3
_STRIDE, _UNIT = 8, 32.0
_WHOLE_PX, _CLOSE_PX = 512, 384
# beside a checkout's packages, and in an installed one
_CLOSE_SHARE = 0.42  # a counter's part of the width of the close look


@dataclass(frozen=True, slots=True)
class Found:
    """A counter: `kind` is `drum` or `lcd`, `quad` (4, 2) its corners in pixels, clockwise from the
    top left of the counter as it reads, `score` from 0 to 1.
    """  # noqa: D205

    kind: str
    quad: np.ndarray
    score: float


def session(models_dir: Path, name: str) -> Any:
    """Open one of the photo networks on the processor. Raises ModelMissingError without it.

    Its bytes are held to the hash of the manifest at each load.
    """
    import onnxruntime

    content = network(models_dir, f"{name}.onnx")
    options = onnxruntime.SessionOptions()
    # two threads meet at every layer; on a busy machine each waits there for the other
    options.intra_op_num_threads = 1
    options.log_severity_level = 3
    return onnxruntime.InferenceSession(content, options, providers=["CPUExecutionProvider"])


class CounterFinder:
    """The finder network with its two looks."""

    def __init__(self, models_dir: Path) -> None:
        self._net = session(models_dir, "finder")

    def find(self, image: Image, most: int = 3) -> tuple[Found, ...]:
        """Give the counters in an upright RGB picture, the surest first."""
        rough: list[Found] = []
        for longest in (_WHOLE_PX, _WHOLE_PX // 2, 2 * _WHOLE_PX):
            if longest == 2 * _WHOLE_PX and any(one.score > 0.5 for one in rough):
                break
            rough += self._look(image, longest)
        close = [self._closer(image, one) for one in _apart(rough)[:most]]
        return tuple(one for one in _apart(close) if one.score >= LEAST_SCORE)

    def _look(self, image: Image, longest: int) -> list[Found]:
        scale = longest / max(image.size)
        size = (max(32, round(image.width * scale)), max(32, round(image.height * scale)))
        small = np.asarray(image.resize(size, reducing_gap=2.0))
        return [
            Found(one.kind, one.quad * (image.width / size[0], image.height / size[1]), one.score)
            for one in self._run(small)
        ]

    def _closer(self, image: Image, rough: Found) -> Found:
        """Look again with the counter large in the middle; keep the rough corners if it is lost."""
        middle = rough.quad.mean(0)
        side = max(32.0, float(np.linalg.norm(rough.quad[1] - rough.quad[0])) / _CLOSE_SHARE)
        box = [int(v) for v in (*(middle - side / 2), *(middle + side / 2))]
        part = image.crop((box[0], box[1], box[2], box[3]))
        scale = part.width / _CLOSE_PX
        small = np.asarray(part.resize((_CLOSE_PX, _CLOSE_PX), reducing_gap=2.0))
        near = [
            Found(one.kind, one.quad * scale + (box[0], box[1]), one.score)
            for one in self._run(small)
        ]
        near = [
            one
            for one in near
            if np.linalg.norm(one.quad.mean(0) - middle) < side * _CLOSE_SHARE / 3
        ]
        if not near:
            return Found(rough.kind, rough.quad, rough.score * 0.5)
        best = max(near, key=lambda one: one.score)
        return Found(best.kind, best.quad, max(best.score, 0.5 * (best.score + rough.score)))

    def _run(self, pixels: np.ndarray) -> list[Found]:
        high, wide = pixels.shape[:2]
        ground = np.full((-(-high // 32) * 32, -(-wide // 32) * 32, 3), 110, np.uint8)
        ground[:high, :wide] = pixels
        maps = self._net.run(
            None, {"image": ground.transpose(2, 0, 1)[None].astype(np.float32) / 255}
        )[0][0]
        heat = 1 / (1 + np.exp(-maps[:2]))
        top = heat.max(0)
        padded = np.pad(top, 2)
        around = np.max(
            [
                padded[y : y + top.shape[0], x : x + top.shape[1]]
                for y in range(5)
                for x in range(5)
            ],
            axis=0,
        )
        found = []
        for y, x in np.argwhere((top >= around) & (top > 0.12)):
            middle = np.array([x, y]) * _STRIDE + _STRIDE / 2
            quad = maps[2:, y, x].reshape(4, 2) * _UNIT + middle
            kind = KINDS[int(heat[1, y, x] > heat[0, y, x])]
            found.append(Found(kind, quad.astype(np.float64), float(top[y, x])))
        return sorted(found, key=lambda one: -one.score)[:6]


def _apart(found: list[Found]) -> list[Found]:
    """Keep the surest of those whose middles lie in one another."""
    kept: list[Found] = []
    for one in sorted(found, key=lambda f: -f.score):
        middle = one.quad.mean(0)
        if all(
            np.linalg.norm(middle - other.quad.mean(0))
            > 0.5 * np.linalg.norm(other.quad[1] - other.quad[0])
            for other in kept
        ):
            kept.append(one)
    return kept
