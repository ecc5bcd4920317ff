"""Train the finder or the reader: `train.py finder|reader --pack DIR --out DIR --seconds N --workers N`.

The pack holds `fonts/`, `drums.zip` (pictures of single drums by phase) and `real.pkl` (odometers
with the corners and digits of their counters; those marked `val` are other vehicles, never trained on).
Samples are drawn anew all the time by the workers; the GPU draws batches from what there is so far.
"""

from __future__ import annotations

import argparse
import copy
import io
import math
import pickle
import random
import threading
import time
import zipfile
from pathlib import Path

import cv2
import drums
import numpy as np
import scenes
import torch
from nets import COLUMNS, Finder, Reader
from torch.nn import functional as F

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
                drums.CELLS[int(round(float(name.split("/")[0]) * 10))].append(np.ascontiguousarray(cell))
    REAL[:] = pickle.loads((pack / "real.pkl").read_bytes())
    for one in REAL:
        one["quad"] = np.array(one["quad"], np.float64)
        if one["kind"] == "lcd" and not one["val"]:  # its panel painted over, it makes a background
            back = opened(one).copy()
            low, high = one["quad"].min(0).astype(int) - 6, one["quad"].max(0).astype(int) + 6
            low = np.maximum(low, 0)
            patch = back[low[1]:high[1], low[0]:high[0]]
            if patch.size:
                patch[:] = patch.reshape(-1, 3).mean(0)
            scenes.BACKS.append(back)


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
    matrix = cv2.getPerspectiveTransform(np.float32([[0, 0], [w, 0], [w, h], [0, h]]), quad.astype(np.float32))
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
    matrix = scenes.view(rng, quad.mean(0), target / wide, at, math.radians(rng.gauss(0, 10)), rng.choice([0.02, 0.15]))
    out = cv2.warpPerspective(image, matrix, (SIDE, SIDE), flags=cv2.INTER_AREA if target < wide else cv2.INTER_LINEAR,
                              borderMode=cv2.BORDER_CONSTANT, borderValue=[rng.uniform(0, 255)] * 3)
    moved = scenes.through(matrix, quad)
    inside = ((moved > 2) & (moved < SIDE - 3)).all()
    state = 1 if inside and one["kind"] == "drum" else 0
    if rng.random() < 0.5:
        out = scenes.spoil(rng, out, 0.5)
    return scenes.sensor(rng, out, 0.4), [(0 if one["kind"] == "drum" else 1, moved, state)]


def real_strip(rng: random.Random, one: dict, slack: float = 1.0) -> tuple[np.ndarray, list]:
    """A straightened real counter; slots of (x, mode, phase, tenth)."""
    quad = one["quad"]
    tall, along = (quad[3] - quad[0]) / 2, (quad[1] - quad[0]) / 2
    grow = rng.uniform(-0.1, 0.25) if slack else 0.0
    quad = quad + np.array([-1, -1, 1, 1])[:, None] * tall * grow + np.array([-1, 1, 1, -1])[:, None] * along * rng.uniform(-0.03, 0.05) * slack
    matrix = scenes.to_box(rng, quad, slack)
    out = cv2.warpPerspective(opened(one), matrix, (scenes.WIDE, scenes.HIGH), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE).astype(np.float32)
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
            out = scenes.spoil(rng, out, 0.6)
        out = scenes.sensor(rng, out, 0.4)
    return np.clip(out, 0, 255).astype(np.uint8), slots


def one_frame(rng: random.Random, train: bool = True) -> tuple[np.ndarray, np.ndarray]:
    pool = [r for r in REAL if r["val"] != train]
    if rng.random() < 0.25:
        pick = rng.choice([r for r in pool if r["kind"] == ("drum" if rng.random() < 0.7 else "lcd")])
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
        image = cv2.warpPerspective(photo, matrix, (scenes.WIDE, scenes.HIGH), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        image = scenes.sensor(rng, scenes.spoil(rng, image, 0.8), 0.6)
        xs = scenes.through(matrix @ put, np.array(strip.centres))[:, 0]
        got = [(float(x), 1, p, t) for x, p, t in zip(xs, strip.phases, strip.tenths, strict=True)]
        slots[SLOTS] = [0, -1, -1, -1]
    elif pick < 0.32:
        image, got = real_strip(rng, rng.choice([r for r in REAL if r["kind"] == "drum" and r["val"] != train]))
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
            except (cv2.error, np.linalg.LinAlgError, ValueError, ZeroDivisionError, OSError) as err:
                print("skipped a sample:", repr(err)[:150], flush=True)
                continue
            yield torch.from_numpy(np.ascontiguousarray(image.transpose(2, 0, 1))), torch.from_numpy(truth)


def tint(x: torch.Tensor) -> torch.Tensor:
    """Change light and noise a little, so that a sample seen again is not the same."""
    n, dev = len(x), x.device
    x = x.float() / 255
    gain = torch.empty(n, 3, 1, 1, device=dev).uniform_(0.9, 1.1) * torch.empty(n, 1, 1, 1, device=dev).uniform_(0.75, 1.2)
    x = (x * gain + torch.empty(n, 1, 1, 1, device=dev).uniform_(-0.05, 0.05)).clamp(0, 1)
    return (x + torch.randn_like(x) * torch.empty(n, 1, 1, 1, device=dev).uniform_(0, 0.03)).clamp(0, 1)


def finder_loss(out: torch.Tensor, boxes: torch.Tensor) -> torch.Tensor:
    n, _, h, w = out.shape
    dev = out.device
    ys, xs = torch.meshgrid(torch.arange(h, device=dev) * 8 + 4.0, torch.arange(w, device=dev) * 8 + 4.0, indexing="ij")
    heat = torch.zeros(n, 2, h, w, device=dev)
    weight = torch.ones(n, 2, h, w, device=dev)
    quad_loss = out.new_zeros(())
    for k in range(boxes.shape[1]):
        box = boxes[:, k]
        q = box[:, 1:9].view(n, 4, 2)
        c = q.mean(1)
        along, down = (q[:, 1] - q[:, 0] + q[:, 2] - q[:, 3]) / 2, (q[:, 3] - q[:, 0] + q[:, 2] - q[:, 1]) / 2
        la, ld = along.norm(dim=1).clamp(min=8), down.norm(dim=1).clamp(min=8)
        dx, dy = xs[None] - c[:, 0, None, None], ys[None] - c[:, 1, None, None]
        a = (dx * (along / la[:, None])[:, 0, None, None] + dy * (along / la[:, None])[:, 1, None, None])
        d = (dx * (down / ld[:, None])[:, 0, None, None] + dy * (down / ld[:, None])[:, 1, None, None])
        sa, sd = (la * 0.12).clamp(min=5)[:, None, None], (ld * 0.16).clamp(min=5)[:, None, None]
        g = torch.exp(-0.5 * ((a / sa) ** 2 + (d / sd) ** 2))
        here, find = (box[:, 0] >= 0), (box[:, 9] > 0.5)
        for kind in (0, 1):
            use = (here & find & (box[:, 0] == kind)).float()[:, None, None]
            heat[:, kind] = torch.maximum(heat[:, kind], g * use)
        near = ((a.abs() < la[:, None, None] * 0.6) & (d.abs() < ld[:, None, None] * 0.7)).float()
        leave = (here & ~find).float()[:, None, None] * near
        weight = weight * (1 - leave[:, None])
        take = g * (g > 0.4) * (here & find).float()[:, None, None]
        target = (q[:, :, :, None, None] - torch.stack([xs, ys])[None, None]) / 32
        miss = (out[:, 2:].view(n, 4, 2, h, w) - target).abs().mean((1, 2)) * 32 / (ld[:, None, None] * 0.5 + 4)
        quad_loss = quad_loss + (miss * take).sum() / take.sum().clamp(min=1)
    p = out[:, :2].float().sigmoid().clamp(1e-5, 1 - 1e-5)
    peak = (heat > 0.85).float()
    focal = -(peak * (1 - p) ** 2 * p.log() + (1 - peak) * (1 - heat) ** 4 * p ** 2 * (1 - p).log()) * weight
    return focal.sum() / peak.sum().clamp(min=1) + quad_loss


def reader_loss(columns: torch.Tensor, kind: torch.Tensor, slots: torch.Tensor) -> torch.Tensor:
    n, dev = len(columns), columns.device
    columns = columns.float()
    at = torch.arange(COLUMNS, device=dev)[None, None] * 4 + 2.0
    x, mode, phase, tenth = slots[:, :SLOTS, 0], slots[:, :SLOTS, 1], slots[:, :SLOTS, 2], slots[:, :SLOTS, 3]
    here = (mode > 0)
    g = torch.exp(-0.5 * ((at - x[:, :, None]) / 5.0) ** 2) * here[:, :, None]
    heat, _ = g.max(1)
    p = columns[:, 100].sigmoid().clamp(1e-5, 1 - 1e-5)
    peak = (heat > 0.9).float()
    loss = (-(peak * (1 - p) ** 2 * p.log() + (1 - peak) * (1 - heat) ** 4 * p ** 2 * (1 - p).log())).sum() / peak.sum().clamp(min=1)
    bins = torch.arange(100, device=dev) / 10.0
    away = (bins[None, None] - phase[:, :, None] + 5) % 10 - 5
    allowed = torch.exp(-0.5 * (away / 0.09) ** 2)
    allowed = torch.where((mode == 2)[:, :, None], torch.exp(-0.5 * ((away.abs() - 0.25).clamp(min=0) / 0.15) ** 2), allowed)
    allowed = torch.where((mode == 3)[:, :, None], torch.exp(-0.5 * ((away.abs() - 0.5).clamp(min=0) / 0.15) ** 2), allowed)
    allowed = torch.where((mode == 4)[:, :, None], torch.exp(-0.5 * ((away.abs() - 0.3).clamp(min=0) / 0.1) ** 2), allowed)
    logp = columns[:, :100].log_softmax(1)  # n, 100, columns
    take = g * (g > 0.6)  # n, slots, columns
    like = torch.logsumexp(logp[:, None] + (allowed + 1e-6).log()[..., None], 2)  # n, slots, columns
    legible = (here & (mode != 5)).float()[:, :, None]
    weight = take * legible
    loss = loss - (like * weight).sum() / weight.sum().clamp(min=1)
    known = take * (tenth >= 0)[:, :, None]
    miss = F.binary_cross_entropy_with_logits(columns[:, None, 101].expand_as(take), (tenth > 0.5).float()[:, :, None].expand_as(take), reduction="none")
    loss = loss + (miss * known).sum() / known.sum().clamp(min=1)
    miss = F.binary_cross_entropy_with_logits(columns[:, None, 103].expand_as(take), legible.expand_as(take), reduction="none")
    loss = loss + 0.3 * (miss * take).sum() / take.sum().clamp(min=1)
    dot = slots[:, SLOTS, 1]
    spot = torch.exp(-0.5 * ((at[:, 0] - dot[:, None]) / 4.0) ** 2) * (dot >= 0)[:, None]
    rated = (slots[:, SLOTS, 0] == 1).float()[:, None]
    loss = loss + 4 * (F.binary_cross_entropy_with_logits(columns[:, 102], spot, reduction="none") * rated).mean()
    return loss + 0.5 * F.cross_entropy(kind.float(), slots[:, SLOTS, 0].long())


def main() -> None:
    """Train for so many seconds; write `<which>.pt` every minute and at the end."""
    ap = argparse.ArgumentParser()
    ap.add_argument("which", choices=["finder", "reader"])
    ap.add_argument("--pack", type=Path, required=True)
    ap.add_argument("--out", type=Path, required=True)
    ap.add_argument("--seconds", type=float, default=400)
    ap.add_argument("--workers", type=int, default=8)
    ap.add_argument("--batch", type=int, default=0)
    ap.add_argument("--seed", type=int, default=1)
    ap.add_argument("--rate", type=float, default=2e-3)
    ap.add_argument("--start", type=Path)
    a = ap.parse_args()
    set_up(a.pack)
    torch.backends.cudnn.benchmark = True
    finder = a.which == "finder"
    batch = a.batch or (48 if finder else 192)
    stream = Stream(one_frame if finder else one_strip, a.seed)
    loader = torch.utils.data.DataLoader(stream, batch_size=16, num_workers=a.workers, prefetch_factor=4)
    feed = iter(loader)
    dev = "cuda" if torch.cuda.is_available() else "cpu"
    shape = (3, SIDE, SIDE) if finder else (3, scenes.HIGH, scenes.WIDE)
    room = (30_000 if finder else 150_000) if dev == "cuda" else 3000
    images = torch.zeros((room, *shape), dtype=torch.uint8, device=dev)
    truths = torch.zeros((room, 2, 10) if finder else (room, SLOTS + 1, 4), device=dev)
    made = [0]

    def fill() -> None:
        for image, truth in feed:
            k = made[0] % room
            m = min(len(image), room - k)
            images[k:k + m] = image[:m].to(dev)
            truths[k:k + m] = truth[:m].to(dev)
            made[0] += m

    threading.Thread(target=fill, daemon=True).start()
    net = (Finder() if finder else Reader()).to(dev)
    if a.start:
        net.load_state_dict(torch.load(a.start, map_location=dev))
    mean = copy.deepcopy(net).eval()
    best = torch.optim.AdamW(net.parameters(), lr=a.rate, weight_decay=0.02)
    while made[0] < 16 * batch // 4:
        time.sleep(0.2)
    begin, step, last, shown = time.time(), 0, time.time(), 0.0
    while (part := (time.time() - begin) / a.seconds) < 1:
        for group in best.param_groups:
            group["lr"] = a.rate * min(1.0, step / 200) * (0.5 + 0.5 * math.cos(math.pi * part)) + 1e-6
        pick = torch.randint(0, min(made[0], room), (batch,), device=dev)
        x, t = tint(images[pick]), truths[pick]
        with torch.autocast(dev, torch.bfloat16, enabled=dev == "cuda"):
            out = net(x)
        loss = finder_loss(out.float(), t) if finder else reader_loss(*out, t)
        best.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        best.step()
        step += 1
        keep = min(0.998, 1 - 1 / (step + 1))
        with torch.no_grad():
            for m, p in zip(mean.state_dict().values(), net.state_dict().values(), strict=True):
                if m.dtype.is_floating_point:
                    m.lerp_(p, 1 - keep)
                else:
                    m.copy_(p)
        if step % 100 == 0 or dev == "cpu":
            shown = loss.item()
        if time.time() - last > 30:
            last = time.time()
            print(f"{a.which} {time.time() - begin:.0f}s step {step} drawn {made[0]} loss {shown:.3f}", flush=True)
            torch.save(mean.state_dict(), a.out / f"{a.which}.pt")
    torch.save(mean.state_dict(), a.out / f"{a.which}.pt")
    print(f"{a.which} done: {step} steps, {made[0]} samples, loss {loss.item():.3f}", flush=True)
    import os
    os._exit(0)


if __name__ == "__main__":
    main()
