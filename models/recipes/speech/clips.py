"""Clips to train on: utterances laid out in time, in rooms and noise, with the tokens to learn."""

from __future__ import annotations

import json
import random
from pathlib import Path

import hangar
import numpy as np
import torch
from tokenizers import Tokenizer
from torch import Tensor

N = 480_000  # samples in 30 s
HINTS = [
    "tach",
    "Hobbs",
    "torqued",
    "safetied",
    "lockwire",
    "safety wire",
    "quarts",
    "thou",
    "cowl",
    "cowling",
    "dipstick",
    "foot pounds",
    "inch pounds",
    "PSI",
    "RPM",
    "oil filter",
    "quick drain",
    "sump",
    "pleats",
    "suction screen",
    "run-up",
    "additive",
    "gasket",
    "compression",
    "cylinder",
    "spark plug",
    "magneto",
    "baffle",
    "ounces",
    "leak check",
]


class Words:
    """Whisper's tokens: text and the special ones by name."""

    def __init__(self, folder: Path) -> None:
        self.t = Tokenizer.from_file(str(folder / "tokenizer.json"))
        self.many = self.t.token_to_id("<|endoftext|>") == 50257  # else English only
        one = self.t.token_to_id
        self.sot, self.eot, self.prev = (
            one("<|startoftranscript|>"),
            one("<|endoftext|>"),
            one("<|startofprev|>"),
        )
        self.plain, self.silent = (
            one("<|notimestamps|>"),
            one("<|nospeech|>") or one("<|nocaptions|>"),
        )
        self.en = [one("<|en|>"), one("<|transcribe|>")] if self.many else []
        self.zero = self.plain + 1
        self.digits = [i for i in range(self.eot) if any(c.isdigit() for c in self.t.decode([i]))]

    def text(self, words: str) -> list[int]:
        """Give the tokens of words, with the leading space that Whisper writes."""
        return self.t.encode(" " + words.strip(), add_special_tokens=False).ids

    def stamp(self, second: float) -> int:
        """Give the token of a time in a clip."""
        return self.zero + min(1500, max(0, round(second / 0.02)))


class Sayings:
    """All sound on the device, with words, groups and which groups are kept for checking."""

    def __init__(self, folder: Path, plans: list[Path], words: Words, device: str) -> None:
        by_n: dict[str, dict[int, dict]] = {}
        for plan in plans:
            by_n[plan.stem] = {i["n"]: i for i in json.loads(plan.read_text("utf-8"))}
        sound, self.start, self.length, self.text, self.group, seen, at = (
            [],
            [],
            [],
            [],
            [],
            set(),
            0,
        )
        for path in sorted(folder.rglob("*.npz")):
            kind = path.stem if path.stem in by_n else "plan"
            with np.load(path) as held:
                x, lengths, numbers = held["sound"], held["lengths"], held["n"]
            inner = 0
            for length, n in zip(lengths, numbers):
                item = by_n[kind][int(n)]
                if (kind, int(n)) not in seen and 0.15 < length / 16000 < 15:
                    seen.add((kind, int(n)))
                    self.start.append(at + inner)
                    self.length.append(int(length))
                    self.text.append(item["text"])
                    self.group.append((kind, item["group"]))
                inner += int(length)
            sound.append(x)
            at += len(x)
        self.sound = torch.from_numpy(np.concatenate(sound)).to(device)
        self.tokens = [words.text(t) for t in self.text]
        groups: dict[tuple[str, int], list[int]] = {}
        for i, g in enumerate(self.group):
            groups.setdefault(g, []).append(i)
        self.check = [m for g, m in sorted(groups.items()) if g[1] % 29 == 0]
        kept = [(g, m) for g, m in sorted(groups.items()) if g[1] % 29 != 0]
        # of what is heard in training, 0.45 are kokoro voices, however many were made
        likely = {
            k: (0.45 if k else 0.55) / max(1, sum((g[0] == "plan") is k for g, _ in kept))
            for k in (True, False)
        }
        self.train = [m for _, m in kept]
        self.likely = [likely[g[0] == "plan"] for g, _ in kept]

    def clip(self, i: int) -> Tensor:
        """Give one utterance's samples, int16."""
        return self.sound[self.start[i] : self.start[i] + self.length[i]]


def compose(rng: random.Random, s: Sayings, words: Words, checking: bool, room: float) -> dict:
    """Lay one clip of at most `room` s out: what is said when, the tokens, what to learn."""
    r, placed, at = rng.random(), [], rng.choice([0.0, 0.1, rng.uniform(0, 1.5)])
    if r > 0.06 or checking:
        group = rng.choice(s.check) if checking else rng.choices(s.train, s.likely)[0]
        most = 1 if r < 0.32 else rng.randrange(2, 15)
        limit = room - 0.4 if room < 30 else rng.uniform(6, 29.3)
        order = rng.sample(group, min(most, len(group)))
        gap = rng.choice([0.15, 0.4, 0.8])
        for i in order:
            d = s.length[i] / 16000
            if at + d > limit:
                continue
            placed.append((i, at, d))
            at += d + min(4.0, 0.05 + rng.expovariate(1 / gap))
    end = min(
        room,
        (placed[-1][1] + placed[-1][2] if placed else rng.uniform(0.5, room))
        + rng.choice([0.05, 0.2, rng.uniform(0, 2)]),
    )
    timed = words.plain is not None  # Moonshine has neither time stamps nor words before
    stamped = timed and not checking and rng.random() < 0.35
    head: list[int] = []
    if timed and not checking and placed and rng.random() < 0.2:
        if rng.random() < 0.6:
            hint = ", ".join(rng.sample(HINTS, rng.randrange(4, len(HINTS)))) + rng.choice(
                ["", "."]
            )
        else:
            hint = " ".join(s.text[i] for i in rng.choices(rng.choice(s.train), k=2))
        head = [words.prev, *words.text(hint)[-90:]]
    tokens = [*head, words.sot, *words.en] + ([words.plain] if timed and not stamped else [])
    begin = len(tokens)
    spans: list[tuple[float, float] | None] = []
    for i, a, d in placed:
        if stamped:
            tokens.append(words.stamp(a))
            spans.append(None)
        ids = s.tokens[i]
        for j in range(len(ids)):
            spans.append(
                (
                    max(a - 0.1, a + d * j / len(ids) - 0.5),
                    min(a + d + 0.1, a + d * (j + 1) / len(ids) + 0.5),
                )
            )
        tokens += ids
        if stamped:
            tokens.append(words.stamp(a + d))
            spans.append(None)
    if stamped and not placed:
        tokens.append(words.zero)
        spans.append(None)
    tokens.append(words.eot)
    spans.append(None)
    first = words.silent if not placed else (words.en[0] if words.many else None)
    return {
        "placed": placed,
        "end": end,
        "tokens": tokens,
        "begin": begin,
        "spans": spans,
        "sot": len(head),
        "first": first,
        "text": " ".join(s.text[i] for i, _, _ in placed),
    }


class Loader:
    """Makes batches on the device: sound, room, noise, phone, features; tokens and targets."""

    def __init__(
        self, s: Sayings, words: Words, device: str, clips: int, rng: random.Random
    ) -> None:
        self.s, self.words, self.device, self.rng = s, words, device, rng
        talk = [s.clip(rng.choice(rng.choice(s.train))).float() for _ in range(200)]
        self.bank = hangar.bank(rng, clips, N, device, talk)
        self.filters = torch.from_numpy(hangar.mel_filters()).to(device)

    def noise(self, b: int) -> Tensor:
        """(b, N) of noise: one or two clips of the bank, turned and coloured anew."""
        made = []
        for _ in range(b):
            x = torch.roll(
                self.bank[self.rng.randrange(len(self.bank))].float(), self.rng.randrange(N)
            )
            if self.rng.random() < 0.5:
                y = torch.roll(
                    self.bank[self.rng.randrange(len(self.bank))].float(), self.rng.randrange(N)
                )
                x = x + self.rng.uniform(0.1, 1) * y
            made.append(x)
        x = torch.stack(made)
        f = torch.fft.rfftfreq(N, 1 / 16000, device=self.device)[None]
        x = torch.fft.irfft(
            torch.fft.rfft(x) * ((f + 100) / 1100).pow(0.6 * torch.randn(b, 1, device=self.device)),
            N,
        )
        return x / x.pow(2).mean(1, keepdim=True).sqrt().clamp(min=1e-6)

    def batch(self, b: int, snr: tuple[float, float] | None = None) -> dict:
        """Give features and tokens. `snr` in dB fixes the range (for checking; None: to train)."""
        room = 30.0 if snr or self.rng.random() < 0.5 else round(self.rng.uniform(3, 14), 1)
        items = [compose(self.rng, self.s, self.words, snr is not None, room) for _ in range(b)]
        n = round(room * 50) * 320
        x = self.mixed(items, N, snr)[:, :n]
        # what follows the piece: nothing at all, more of the room, or features of 0, by tool
        after = [self.rng.choices(["still", "room", "zero"], [0.65, 0.12, 0.23])[0] for _ in items]
        ends = torch.tensor([i["end"] for i in items], device=self.device)[:, None]
        still = torch.tensor([a == "still" for a in after], device=self.device)[:, None]
        x = x * ~(still & (torch.arange(n, device=self.device) / 16000 > ends))
        mel = hangar.log_mel(x, self.filters)
        zero = torch.tensor([a == "zero" for a in after], device=self.device)[:, None]
        mel = mel * ~(zero & (torch.arange(n // 160, device=self.device) / 100 > ends))[:, None]
        if snr is None:  # hide a few bands and moments
            for row in range(b):
                if self.rng.random() < 0.3:
                    a = self.rng.randrange(70)
                    mel[row, a : a + self.rng.randrange(1, 11)] = mel[row].mean()
        return {"sound": mel, **self.targets(items)}

    def mixed(self, items: list[dict], n: int, snr: tuple[float, float] | None) -> Tensor:
        """Give (B, n) samples of laid out items: said, in a room, in noise, through a phone."""
        b = len(items)
        x = torch.zeros(b, n, device=self.device)
        active = torch.zeros(b, device=self.device)
        for row, item in enumerate(items):
            for i, a, _ in item["placed"]:
                clip = self.s.clip(i).float() / 32768 * self.rng.uniform(0.6, 1)
                a = round(a * 16000)
                clip = clip[: n - a]
                x[row, a : a + len(clip)] += clip
                active[row] += len(clip)
        x = hangar.rooms(x, 0.6)
        power = (x.pow(2).sum(1) / active.clamp(min=1)).sqrt()[:, None]
        level = [
            self.rng.uniform(*snr)
            if snr
            else (
                self.rng.uniform(35, 60) if self.rng.random() < 0.12 else self.rng.uniform(-3, 25)
            )
            for _ in range(b)
        ]
        gain = torch.tensor([10 ** (-v / 20) for v in level], device=self.device)[:, None]
        x = x + self.noise(b)[:, :n] * torch.where(power > 0, power * gain, 0.05)
        x = hangar.phones(x, 0.75)
        return x * 10 ** (-(1.2 * torch.rand(b, 1, device=self.device)))

    def targets(self, items: list[dict]) -> dict:
        """Give the tokens, what to learn at each, and in which seconds each is said."""
        b = len(items)
        length = max(len(i["tokens"]) for i in items) - 1
        tokens = torch.full((b, length), self.words.eot)
        target = torch.full((b, length), -100)
        low, high = torch.full((b, length), -1.0), torch.full((b, length), -1.0)
        for row, item in enumerate(items):
            t = item["tokens"]
            tokens[row, : len(t) - 1] = torch.tensor(t[:-1])
            a = item["begin"] - 1
            target[row, a : len(t) - 1] = torch.tensor(t[a + 1 :])
            if item["first"] is not None:
                target[row, item["sot"]] = item["first"]
            for j, span in enumerate(item["spans"]):
                if span is not None:
                    low[row, a + j], high[row, a + j] = span
        to = self.device
        return {
            "tokens": tokens.to(to),
            "target": target.to(to),
            "low": low.to(to),
            "high": high.to(to),
            "text": [i["text"] for i in items],
        }


class Pieces(Loader):
    """Batches for Moonshine: the waveform itself, clips of about one length together."""

    def __init__(
        self, s: Sayings, words: Words, device: str, clips: int, rng: random.Random
    ) -> None:
        super().__init__(s, words, device, clips, rng)
        self.waiting: list[list[dict]] = []

    def batch(self, b: int, snr: tuple[float, float] | None = None) -> dict:
        """Give samples and tokens. The network sees a piece's own length, so clips are sorted by it."""
        if snr:
            items = [compose(self.rng, self.s, self.words, True, 12) for _ in range(b)]
        else:
            if not self.waiting:
                rooms = [self.rng.uniform(1.5, 12.5) for _ in range(8 * b)]
                made = [compose(self.rng, self.s, self.words, False, room) for room in rooms]
                made.sort(key=lambda item: item["end"])
                self.waiting = [made[i : i + b] for i in range(0, len(made), b)]
                self.rng.shuffle(self.waiting)
            items = self.waiting.pop()
        n = max(8000, round(max(i["end"] for i in items) * 16000))
        x = self.mixed(items, n, snr)
        ends = torch.tensor([i["end"] for i in items], device=self.device)[:, None]
        still = torch.rand(len(items), 1, device=self.device) < 0.5
        x = x * ~(still & (torch.arange(n, device=self.device) / 16000 > ends))
        return {"sound": x, **self.targets(items)}
