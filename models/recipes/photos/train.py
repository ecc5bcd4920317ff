"""Train a network: `train.py finder|reader --pack DIR --out DIR --seconds N --workers N`.

The pack holds `fonts/`, `drums.zip` (pictures of single drums by phase) and `real.pkl` (odometers
with the corners and digits of their counters; those marked `val` are never trained on).
Samples are drawn anew all the time by the workers; the GPU draws batches from what there is so far.
"""

from __future__ import annotations

import argparse
import copy
import math
import threading
import time
from pathlib import Path

import scenes
import torch
from nets import COLUMNS, Finder, Reader
from samples import SIDE, SLOTS, Stream, one_frame, one_strip, set_up
from torch.nn import functional as F


def tint(x: torch.Tensor) -> torch.Tensor:
    """Change light and noise a little, so that a sample seen again is not the same."""
    n, dev = len(x), x.device
    x = x.float() / 255
    gain = torch.empty(n, 3, 1, 1, device=dev).uniform_(0.9, 1.1) * torch.empty(
        n, 1, 1, 1, device=dev
    ).uniform_(0.75, 1.2)
    x = (x * gain + torch.empty(n, 1, 1, 1, device=dev).uniform_(-0.05, 0.05)).clamp(0, 1)
    return (x + torch.randn_like(x) * torch.empty(n, 1, 1, 1, device=dev).uniform_(0, 0.03)).clamp(
        0, 1
    )


def finder_loss(out: torch.Tensor, boxes: torch.Tensor) -> torch.Tensor:
    n, _, h, w = out.shape
    dev = out.device
    ys, xs = torch.meshgrid(
        torch.arange(h, device=dev) * 8 + 4.0, torch.arange(w, device=dev) * 8 + 4.0, indexing="ij"
    )
    heat = torch.zeros(n, 2, h, w, device=dev)
    weight = torch.ones(n, 2, h, w, device=dev)
    quad_loss = out.new_zeros(())
    for k in range(boxes.shape[1]):
        box = boxes[:, k]
        q = box[:, 1:9].view(n, 4, 2)
        c = q.mean(1)
        along, down = (
            (q[:, 1] - q[:, 0] + q[:, 2] - q[:, 3]) / 2,
            (q[:, 3] - q[:, 0] + q[:, 2] - q[:, 1]) / 2,
        )
        la, ld = along.norm(dim=1).clamp(min=8), down.norm(dim=1).clamp(min=8)
        dx, dy = xs[None] - c[:, 0, None, None], ys[None] - c[:, 1, None, None]
        a = (
            dx * (along / la[:, None])[:, 0, None, None]
            + dy * (along / la[:, None])[:, 1, None, None]
        )
        d = (
            dx * (down / ld[:, None])[:, 0, None, None]
            + dy * (down / ld[:, None])[:, 1, None, None]
        )
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
        miss = (
            (out[:, 2:].view(n, 4, 2, h, w) - target).abs().mean((1, 2))
            * 32
            / (ld[:, None, None] * 0.5 + 4)
        )
        quad_loss = quad_loss + (miss * take).sum() / take.sum().clamp(min=1)
    p = out[:, :2].float().sigmoid().clamp(1e-5, 1 - 1e-5)
    peak = (heat > 0.85).float()
    focal = (
        -(peak * (1 - p) ** 2 * p.log() + (1 - peak) * (1 - heat) ** 4 * p**2 * (1 - p).log())
        * weight
    )
    return focal.sum() / peak.sum().clamp(min=1) + quad_loss


def reader_loss(columns: torch.Tensor, kind: torch.Tensor, slots: torch.Tensor) -> torch.Tensor:
    dev = columns.device
    columns = columns.float()
    at = torch.arange(COLUMNS, device=dev)[None, None] * 4 + 2.0
    x, mode, phase, tenth = (
        slots[:, :SLOTS, 0],
        slots[:, :SLOTS, 1],
        slots[:, :SLOTS, 2],
        slots[:, :SLOTS, 3],
    )
    here = mode > 0
    g = torch.exp(-0.5 * ((at - x[:, :, None]) / 5.0) ** 2) * here[:, :, None]
    heat, _ = g.max(1)
    p = columns[:, 100].sigmoid().clamp(1e-5, 1 - 1e-5)
    peak = (heat > 0.9).float()
    loss = (
        -(peak * (1 - p) ** 2 * p.log() + (1 - peak) * (1 - heat) ** 4 * p**2 * (1 - p).log())
    ).sum() / peak.sum().clamp(min=1)
    bins = torch.arange(100, device=dev) / 10.0
    away = (bins[None, None] - phase[:, :, None] + 5) % 10 - 5
    allowed = torch.exp(-0.5 * (away / 0.09) ** 2)
    allowed = torch.where(
        (mode == 2)[:, :, None],
        torch.exp(-0.5 * ((away.abs() - 0.25).clamp(min=0) / 0.15) ** 2),
        allowed,
    )
    allowed = torch.where(
        (mode == 3)[:, :, None],
        torch.exp(-0.5 * ((away.abs() - 0.5).clamp(min=0) / 0.15) ** 2),
        allowed,
    )
    allowed = torch.where(
        (mode == 4)[:, :, None],
        torch.exp(-0.5 * ((away.abs() - 0.3).clamp(min=0) / 0.1) ** 2),
        allowed,
    )
    logp = columns[:, :100].log_softmax(1)  # n, 100, columns
    take = g * (g > 0.6)  # n, slots, columns
    like = torch.logsumexp(
        logp[:, None] + (allowed + 1e-6).log()[..., None], 2
    )  # n, slots, columns
    legible = (here & (mode != 5)).float()[:, :, None]
    weight = take * legible
    loss = loss - (like * weight).sum() / weight.sum().clamp(min=1)
    known = take * (tenth >= 0)[:, :, None]
    miss = F.binary_cross_entropy_with_logits(
        columns[:, None, 101].expand_as(take),
        (tenth > 0.5).float()[:, :, None].expand_as(take),
        reduction="none",
    )
    loss = loss + (miss * known).sum() / known.sum().clamp(min=1)
    miss = F.binary_cross_entropy_with_logits(
        columns[:, None, 103].expand_as(take), legible.expand_as(take), reduction="none"
    )
    loss = loss + 0.3 * (miss * take).sum() / take.sum().clamp(min=1)
    dot = slots[:, SLOTS, 1]
    spot = torch.exp(-0.5 * ((at[:, 0] - dot[:, None]) / 4.0) ** 2) * (dot >= 0)[:, None]
    rated = (slots[:, SLOTS, 0] == 1).float()[:, None]
    loss = (
        loss
        + 4
        * (
            F.binary_cross_entropy_with_logits(columns[:, 102], spot, reduction="none") * rated
        ).mean()
    )
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
    loader = torch.utils.data.DataLoader(
        stream, batch_size=16, num_workers=a.workers, prefetch_factor=4
    )
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
            images[k : k + m] = image[:m].to(dev)
            truths[k : k + m] = truth[:m].to(dev)
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
            group["lr"] = (
                a.rate * min(1.0, step / 200) * (0.5 + 0.5 * math.cos(math.pi * part)) + 1e-6
            )
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
            print(
                f"{a.which} {last - begin:.0f}s step {step} drawn {made[0]} loss {shown:.3f}",
                flush=True,
            )
            torch.save(mean.state_dict(), a.out / f"{a.which}.pt")
    torch.save(mean.state_dict(), a.out / f"{a.which}.pt")
    print(f"{a.which} done: {step} steps, {made[0]} samples, loss {loss.item():.3f}", flush=True)
    import os

    os._exit(0)


if __name__ == "__main__":
    main()
