"""Tune Whisper or Moonshine to spoken trade notes in noise: low-rank factors only.

    train.py MODEL SOUND [--table TOKENIZER.json] --plan PLAN.json --plan CLASSIC.json --out OUT --seconds 280 [--device cuda --batch 96]

MODEL is a folder of Whisper's form, or with --table one of Moonshine's, of which TABLE are the tokens.
SOUND holds part-*.npz of voices.py and classic.npz of classic.py. Writes OUT/step-*.npz (adapters).
"""

from __future__ import annotations

import argparse
import hashlib
import json
import math
import random
import time
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from clips import Loader, Pieces, Sayings, Words
from moonshine import Moonshine, Tokens
from torch import Tensor
from whisper import Whisper, greedy


def losses(net: Whisper | Moonshine, w: dict[str, Tensor], batch: dict) -> tuple[Tensor, Tensor]:
    """Give the cross entropy of the words and the cost of looking away from where they are said."""
    hidden, look = net.decode(w, batch["tokens"], net.encode(w, batch["sound"]))
    keep = batch["target"] >= 0
    logits = net.logits(w, hidden[keep])
    word = F.cross_entropy(logits, batch["target"][keep])
    said = batch["low"] >= 0
    t = (torch.arange(look.shape[-1], device=look.device) + 0.5) * net.frame_s
    within = (t >= batch["low"][said][:, None]) & (t <= batch["high"][said][:, None])
    mass = (look[said] * within).sum(-1)
    return word, -(mass + 1e-4).log().mean()


def errors(said: list[str], heard: list[str]) -> float:
    """Give the word error rate, case and points aside."""

    def plain(text: str) -> list[str]:
        return "".join(c if c.isalnum() or c == "'" else " " for c in text.lower()).split()

    wrong = total = 0
    for a, b in zip(map(plain, said), map(plain, heard)):
        row = list(range(len(b) + 1))
        for i, x in enumerate(a, 1):
            last, row[0] = row[0], i
            for j, y in enumerate(b, 1):
                last, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, last + (x != y))
        wrong, total = wrong + row[-1], total + len(a)
    return wrong / max(1, total)


def check(net: Whisper | Moonshine, batches: list[dict], words: Words | Tokens) -> str:
    """Give the error rates on the checking batches, digits suppressed."""
    with torch.no_grad():
        w = net.weights()
    names = ("decoder/embeddings/weight", "embed")
    banned = torch.zeros(
        len(next(w[n] for n in names if n in w)), device=batches[0]["sound"].device
    )
    banned[words.digits] = -1e9
    if isinstance(words, Words):
        banned[words.eot + 1 :] = -1e9
    found = []
    for batch in batches:
        start = [words.sot, *words.en, *([] if words.plain is None else [words.plain])]
        made = greedy(net, w, batch["sound"], start, words.eot, 120, banned)
        heard = [words.t.decode(m) for m in made]
        found.append(errors(batch["text"], heard))
    print(
        "check",
        " ".join(f"{f:.3f}" for f in found),
        "|",
        batches[-1]["text"][0][:90],
        "|",
        heard[0][:90],
        flush=True,
    )
    return str(found)


def main() -> None:
    """Train for the given time and write adapters along the way."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("model", type=Path)
    p.add_argument("sound", type=Path)
    p.add_argument("--table", type=Path)
    p.add_argument("--plan", type=Path, action="append", required=True)
    p.add_argument("--out", type=Path, required=True)
    p.add_argument("--seconds", type=float, default=280)
    p.add_argument("--device", default="cuda")
    p.add_argument("--batch", type=int, default=80)
    p.add_argument("--rank", type=int, default=32)
    p.add_argument("--rate", type=float, default=1e-3)
    p.add_argument("--share", type=float, default=0.65, help="how much of what was learnt to keep")
    p.add_argument("--noises", type=int, default=240)
    p.add_argument("--seed", type=int, default=1)
    x = p.parse_args()
    began = time.time()
    torch.manual_seed(x.seed)
    rng = random.Random(x.seed)
    dtype = torch.bfloat16 if x.device == "cuda" else torch.float32
    words = Tokens(x.table) if x.table else Words(x.model)
    net = (Moonshine if x.table else Whisper)(x.model, x.rank, x.device, dtype)
    files = ("encoder_model.ort", "decoder_model_merged.ort") if x.table else ("model.bin",)
    base = [hashlib.sha256((x.model / file).read_bytes()).hexdigest() for file in files]
    s = Sayings(x.sound, x.plan, words, x.device)
    print(
        f"{len(s.text)} utterances, {sum(s.length) / 16000 / 3600:.2f} h, {len(s.train)}+{len(s.check)} speakers, {time.time() - began:.0f} s",
        flush=True,
    )
    loader = (Pieces if x.table else Loader)(s, words, x.device, x.noises, rng)
    size = 64 if x.device == "cuda" else 2
    tests = [loader.batch(size, snr) for snr in ((40, 60), (10, 10.1), (5, 5.1), (0, 0.1))]
    print(f"ready after {time.time() - began:.0f} s", flush=True)
    check(net, tests, words)
    factors = list(net.factors.values())
    optimiser = torch.optim.AdamW(factors, lr=x.rate, betas=(0.9, 0.98), weight_decay=0.01)
    x.out.mkdir(parents=True, exist_ok=True)
    step, start, saved, sums = 0, time.time(), 0, torch.zeros(2)

    def save() -> None:
        about = {
            "base_sha256": " ".join(base),
            "steps": step,
            "rank": x.rank,
            "share": x.share,
            "seed": x.seed,
            "batch": x.batch,
            "utterances": len(s.text),
            "hours": round(sum(s.length) / 16000 / 3600, 2),
        }
        np.savez(x.out / f"step-{step}.npz", about=json.dumps(about), **net.adapter(x.share))

    while True:
        done = (time.time() - start) / x.seconds
        if done >= 1:
            break
        rate = (
            x.rate
            * min(1, (step + 1) / 60)
            * (0.02 + 0.98 * 0.5 * (1 + math.cos(math.pi * min(1, done))))
        )
        for group in optimiser.param_groups:
            group["lr"] = rate
        word, look = losses(net, net.weights(), loader.batch(x.batch))
        optimiser.zero_grad(set_to_none=True)
        (word + 0.05 * look).backward()
        torch.nn.utils.clip_grad_norm_(factors, 1.0)
        optimiser.step()
        step += 1
        sums = sums + torch.tensor([word.item(), look.item()])
        if step % 50 == 0 or x.device == "cpu":
            print(
                f"step {step} {time.time() - start:.0f} s rate {rate:.1e} word {sums[0] / 50:.4f} look {sums[1] / 50:.3f}",
                flush=True,
            )
            sums = torch.zeros(2)
        if done > (saved + 1) / 2:
            saved += 1
            save()
    save()
    check(net, tests, words)
    print(f"{step} steps in {time.time() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main()
