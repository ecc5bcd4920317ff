"""Hangar noise, rooms and phones, made up: nothing recorded. Everything on (B, n) samples at 16 kHz."""

from __future__ import annotations

import math
import random

import numpy as np
import torch
from torch import Tensor

RATE = 16000
NOISES = (
    "hum",
    "strokes",
    "fan",
    "clanks",
    "ratchet",
    "hiss",
    "engine",
    "rumble",
    "babble",
    "grinder",
)


def _coloured(n: int, slope: float, device: str, low: float = 30, high: float = 7900) -> Tensor:
    """Noise whose power falls by `slope` (0 white, 1 pink, 2 brown) between two edges."""
    spectrum = torch.fft.rfft(torch.randn(n, device=device))
    f = torch.fft.rfftfreq(n, 1 / RATE, device=device)
    shape = (
        f.clamp(min=20).pow(-slope / 2)
        * torch.sigmoid((f - low) / (low * 0.2))
        * torch.sigmoid((high - f) / (high * 0.1))
    )
    x = torch.fft.irfft(spectrum * shape, n)
    return x / x.std().clamp(min=1e-9)


def _bursts(n: int, starts: list[float], device: str, make) -> Tensor:
    x = torch.zeros(n, device=device)
    for start in starts:
        y = make()
        a = int(start * RATE)
        y = y[: max(0, n - a)]
        x[a : a + len(y)] += y
    return x


def _ring(rng: random.Random, device: str, low: float, high: float, decay: float) -> Tensor:
    """A struck piece of metal: a few partials dying away."""
    m = int(RATE * min(1.5, decay * 6))
    t = torch.arange(m, device=device) / RATE
    y = sum(
        rng.uniform(0.2, 1)
        * torch.sin(2 * math.pi * rng.uniform(low, high) * t + rng.uniform(0, 6))
        * torch.exp(-t / (decay * rng.uniform(0.3, 1.2)))
        for _ in range(rng.randrange(2, 7))
    )
    return y + 0.5 * torch.randn(m, device=device) * torch.exp(-t / 0.004)


def noise(rng: random.Random, n: int, kind: str, device: str) -> Tensor:
    """One noise of the given kind, n samples."""
    t = torch.arange(n, device=device) / RATE
    if kind == "hum":
        f = rng.choice([24.5, 29, 49, 58, 50, 60, rng.uniform(20, 130)])
        x = sum(
            rng.uniform(0.1, 1) / k**0.7 * torch.sin(2 * math.pi * f * k * t + rng.uniform(0, 6))
            for k in range(1, rng.randrange(6, 25))
        )
        x = x + rng.uniform(0.05, 0.8) * _coloured(n, rng.uniform(0.5, 1.5), device)
    elif kind == "strokes":
        f = rng.uniform(5, 28)
        pulse = (0.5 + 0.5 * torch.cos(2 * math.pi * f * t + rng.uniform(0, 6))) ** rng.uniform(
            3, 12
        )
        x = pulse * _coloured(
            n, rng.uniform(0, 1.5), device, high=rng.uniform(1500, 7900)
        ) + 0.3 * torch.sin(2 * math.pi * 2 * f * t)
    elif kind == "fan":
        x = _coloured(n, rng.uniform(0.5, 2), device, high=rng.uniform(800, 7900))
        f = rng.uniform(30, 300)
        x = x + sum(
            rng.uniform(0, 0.5) * torch.sin(2 * math.pi * f * k * t + rng.uniform(0, 6))
            for k in range(1, 5)
        )
        x = x * (1 + rng.uniform(0, 0.5) * torch.sin(2 * math.pi * rng.uniform(0.2, 4) * t))
    elif kind == "clanks":
        starts = [rng.uniform(0, n / RATE) for _ in range(rng.randrange(3, 30))]
        x = _bursts(
            n,
            starts,
            device,
            lambda: (
                rng.uniform(0.2, 1)
                * _ring(rng, device, 300, rng.uniform(1500, 7000), rng.uniform(0.02, 0.25))
            ),
        )
        x = x + 0.03 * _coloured(n, 1, device)
    elif kind == "ratchet":
        starts = []
        for _ in range(rng.randrange(2, 9)):
            at, rate = rng.uniform(0, n / RATE), rng.uniform(8, 30)
            starts += [at + i / rate for i in range(rng.randrange(4, 25))]
        x = _bursts(
            n,
            [s for s in starts if s < n / RATE - 0.01],
            device,
            lambda: rng.uniform(0.6, 1) * _ring(rng, device, 1200, 6500, rng.uniform(0.003, 0.02)),
        )
        x = x + 0.03 * _coloured(n, 1, device)
    elif kind == "hiss":
        x = 0.02 * _coloured(n, 0, device)
        for _ in range(rng.randrange(1, 8)):
            a = rng.randrange(n)
            m = min(n - a, int(RATE * rng.uniform(0.1, 2)))
            x[a : a + m] += (
                rng.uniform(0.3, 1)
                * _coloured(max(m, 64), rng.uniform(-0.5, 0.5), device, low=rng.uniform(300, 2500))[
                    :m
                ]
            )
    elif kind == "engine":
        f = rng.uniform(18, 90) * (
            1
            + 0.03 * torch.sin(2 * math.pi * rng.uniform(0.05, 0.5) * t)
            + rng.uniform(-0.3, 0.3) * t / t[-1]
        )
        phase = torch.cumsum(f, 0) / RATE * 2 * math.pi
        x = sum(
            rng.uniform(0.1, 1) / k**0.6 * torch.sin(k * phase + rng.uniform(0, 6))
            for k in range(1, 30)
        ) + 0.4 * _coloured(n, 1.2, device)
    elif kind == "rumble":
        x = _coloured(n, rng.uniform(1, 2.5), device, high=rng.uniform(300, 7900))
        x = x * (1 + 0.6 * torch.sin(2 * math.pi * rng.uniform(0.05, 0.4) * t + rng.uniform(0, 6)))
    elif kind == "grinder":
        f = rng.uniform(150, 700) * (1 + 0.02 * torch.sin(2 * math.pi * rng.uniform(0.1, 2) * t))
        phase = torch.cumsum(f, 0) / RATE * 2 * math.pi
        x = sum(
            rng.uniform(0.1, 1) / k**0.5 * torch.sin(k * phase) for k in range(1, 12)
        ) + rng.uniform(0.2, 1) * _coloured(n, 0, device, low=500)
    else:
        raise ValueError(kind)
    if rng.random() < 0.35:  # cuts in and out
        gate = torch.zeros(n, device=device)
        for _ in range(rng.randrange(1, 4)):
            a = rng.randrange(n)
            gate[a : a + int(RATE * rng.uniform(1, 15))] = 1
        x = x * (0.03 + gate)
    return x / x.pow(2).mean().sqrt().clamp(min=1e-6)


def bank(rng: random.Random, clips: int, n: int, device: str, talk: list[Tensor]) -> Tensor:
    """(clips, n) of mixed noise at unit power; `talk` are voices for babble."""
    made = []
    for _ in range(clips):
        x = torch.zeros(n, device=device)
        for _ in range(rng.choice([1, 1, 2, 2, 3, 4])):
            kind = rng.choice(NOISES)
            if kind == "babble":
                y = torch.zeros(n, device=device)
                for _ in range(rng.randrange(4, 20)):
                    one = rng.choice(talk)
                    a = rng.randrange(n)
                    m = min(len(one), n - a)
                    y[a : a + m] += rng.uniform(0.2, 1) * one[:m] / 8000
                y = y / y.pow(2).mean().sqrt().clamp(min=1e-6)
            else:
                y = noise(rng, n, kind, device)
            x = x + y * 10 ** (rng.uniform(-15, 0) / 20)
        made.append((x / x.pow(2).mean().sqrt().clamp(min=1e-6)).half())
    return torch.stack(made)


def rooms(x: Tensor, share: float) -> Tensor:
    """Put each voice into a room of RT60 0.25 to 1.3 s, or leave it; `share` get one."""
    b, n = x.shape
    taps, dev = 20000, x.device
    t = torch.arange(taps, device=dev) / RATE
    rt = 0.25 + 1.05 * torch.rand(b, 1, device=dev)
    tail = (
        torch.randn(b, taps, device=dev)
        * torch.exp(-6.91 * t / rt)
        * (t > 0.002 + 0.02 * torch.rand(b, 1, device=dev))
    )
    sparse = (torch.rand(b, taps, device=dev) < 0.004) & (t < 0.05)
    tail = tail + 6 * sparse * tail
    ratio = 10 ** ((-3 + 18 * torch.rand(b, 1, device=dev)) / 10)  # direct to reverberant
    h = tail / tail.pow(2).sum(1, keepdim=True).sqrt() / ratio.sqrt()
    h = h * (torch.rand(b, 1, device=dev) < share)
    h[:, 0] = 1.0
    size = 1 << (n + taps - 1).bit_length()
    return torch.fft.irfft(torch.fft.rfft(x, size) * torch.fft.rfft(h, size), size)[:, :n]


def phones(x: Tensor, share: float) -> Tensor:
    """What microphones and phones do: band, tilt, gain control, noise gate, clipping, companding."""
    b, n = x.shape
    dev = x.device

    def u(low: float, high: float) -> Tensor:
        return low + (high - low) * torch.rand(b, 1, device=dev)

    def some(p: float) -> Tensor:
        return torch.rand(b, 1, device=dev) < p

    f = torch.fft.rfftfreq(n, 1 / RATE, device=dev)[None]
    low, high = (
        torch.where(some(0.5), u(20, 90), u(90, 400)),
        torch.where(some(0.55), u(6500, 9000), u(2900, 6500)),
    )
    shape = torch.sigmoid((f - low) / (low * 0.15)) * torch.sigmoid(
        (high - f) / (high * u(0.01, 0.06))
    )
    shape = (
        shape
        * ((f + 100) / 1100).pow(u(-0.7, 0.7))
        * (1 + u(0, 1.5) * torch.exp(-(((f - u(200, 4000)) / u(100, 800)) ** 2)))
    )
    y = torch.fft.irfft(torch.fft.rfft(x) * shape, n)
    pick = (torch.rand(b, device=dev) < 0.3).nonzero().flatten()
    if len(pick):  # a noise gate as in calls and voice apps, or coarse coding: quiet bins are lost
        window = torch.hann_window(512, device=dev)
        s = torch.stft(y[pick], 512, 128, window=window, return_complex=True)
        m = s.abs()
        floor = m[:, :, ::8].quantile(0.3, dim=2, keepdim=True)
        peak = torch.nn.functional.max_pool1d(m.transpose(1, 2), 33, 1, 16).transpose(1, 2)
        k = torch.rand(len(pick), 1, 1, device=dev)
        gate = (1 - (1 + k) * floor / m.clamp(min=1e-9)).clamp(
            min=0.05 + 0.3 * torch.rand(1).item()
        )
        hole = (m > peak * (0.02 + 0.08 * k)).float()
        s = s * torch.where(torch.rand(len(pick), 1, 1, device=dev) < 0.6, gate, hole)
        y = y.index_copy(0, pick, torch.istft(s, 512, 128, window=window, length=n))
    level = y.abs().unfold(1, 800, 800).mean(2)
    level = torch.nn.functional.avg_pool1d(level[:, None], 9, 1, 4, count_include_pad=False)
    level = torch.nn.functional.interpolate(level, size=n, mode="linear")[:, 0]
    y = torch.where(
        some(0.2), y / (level + 0.1 * level.mean(1, keepdim=True)).clamp(min=1e-6).pow(0.6), y
    )
    y = y / y.abs().amax(1, keepdim=True).clamp(min=1e-6)
    y = torch.where(some(0.12), (y * u(1.2, 6)).clamp(-1, 1), y)
    mu = torch.sign(y) * torch.log1p(255 * y.abs()) / math.log(256)
    mu = (mu * 127).round() / 127
    y = torch.where(some(0.1), torch.sign(mu) * (256 ** mu.abs() - 1) / 255, y)
    return torch.where(some(share), y, x / x.abs().amax(1, keepdim=True).clamp(min=1e-6))


def mel_filters() -> np.ndarray:
    """The 80 mel filters (80, 201) that Whisper was trained with: librosa's slaney scale and norm."""
    mels = np.linspace(0.0, 45.245640471924965, 82)
    freqs = 200.0 / 3 * mels
    above = mels >= 15.0
    freqs[above] = 1000.0 * np.exp(np.log(6.4) / 27.0 * (mels[above] - 15.0))
    bins = np.fft.rfftfreq(400, 1 / RATE)
    ramps = freqs[:, None] - bins[None]
    width = np.diff(freqs)
    weights = np.maximum(0, np.minimum(-ramps[:-2] / width[:-1, None], ramps[2:] / width[1:, None]))
    return (weights * (2.0 / (freqs[2:] - freqs[:-2]))[:, None]).astype(np.float32)


def log_mel(x: Tensor, filters: Tensor) -> Tensor:
    """Whisper's features (B, 80, n / 160) of sound (B, n); 30 s give 3000 frames."""
    s = torch.stft(x, 400, 160, window=torch.hann_window(400, device=x.device), return_complex=True)
    m = (filters @ s[..., :-1].abs().pow(2)).clamp(min=1e-10).log10()
    return (torch.maximum(m, m.amax((1, 2), keepdim=True) - 8) + 4) / 4
