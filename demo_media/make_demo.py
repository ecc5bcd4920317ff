"""Make the demo's memos and photos again from `truth.toml`.

    python demo_media/make_demo.py [FOLDER]

Needs flite (Debian), which the project itself does not. Sound is coded by PyAV, pictures are drawn
by `draw.py` with the faces of fonts-dejavu-core.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import tomllib
import wave
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import av
import numpy as np
from draw import DRAWINGS, save

HERE = Path(__file__).parent
RATE = 16_000
PAUSE_S = 0.7


def speak(text: str, voice: str, into: Path) -> None:
    """Write one sentence as a WAV file, mono at 16 kHz as flite's voices are."""
    subprocess.run(["flite", "-voice", voice, "-t", text, "-o", str(into)], check=True)


def samples(path: Path) -> np.ndarray:
    """Read a WAV as float32 from -1 to 1."""
    with wave.open(str(path)) as sound:
        if sound.getframerate() != RATE or sound.getnchannels() != 1:
            raise SystemExit(f"{path}: this voice does not speak at 16 kHz mono")
        return (
            np.frombuffer(sound.readframes(sound.getnframes()), np.int16).astype(np.float32) / 32768
        )


def memo(says: list[str], voice: str, noise_db: float | None, seed: int) -> np.ndarray:
    """Speak sentences with pauses between; `noise_db` is how far below the hangar's noise is."""
    rest = np.zeros(int(PAUSE_S * RATE), np.float32)
    parts = [rest]
    with tempfile.TemporaryDirectory() as folder:
        for number, text in enumerate(says):
            speak(text, voice, Path(folder) / f"{number}.wav")
            parts += [samples(Path(folder) / f"{number}.wav"), rest]
    sound = np.concatenate(parts)
    sound *= 0.6 / np.abs(sound).max()
    if noise_db is not None:
        noise = hangar(len(sound), seed)
        level = np.sqrt(np.mean(sound**2)) / 10 ** (noise_db / 20)
        sound = sound + noise * level / np.sqrt(np.mean(noise**2))
    return np.clip(sound + 1e-3 * np.random.default_rng(seed).standard_normal(len(sound)), -1, 1)


def hangar(length: int, seed: int) -> np.ndarray:
    """Give noise of a fan, a compressor's hum with its strokes, and a few clanks."""
    rng = np.random.default_rng(seed)
    t = np.arange(length) / RATE
    fan = np.convolve(rng.standard_normal(length), np.hanning(24), "same")
    hum = sum(np.sin(2 * np.pi * 59.6 * k * t + k) / k for k in range(1, 8))
    noise = fan / fan.std() + 0.5 * hum * (1 + 0.6 * np.sin(2 * np.pi * 7.4 * t))
    for start in rng.integers(0, length - RATE, 4):
        ring = np.exp(-np.arange(RATE) / 2200) * np.sin(2 * np.pi * 1870 * np.arange(RATE) / RATE)
        noise[start : start + RATE] += 3 * ring
    return noise


def write(sound: np.ndarray, path: Path, began: datetime) -> None:
    """Code as AAC in MP4 with its creation time, or as Opus in Ogg without one."""
    codec, rate = ("aac", RATE) if path.suffix == ".m4a" else ("libopus", 48_000)
    with av.open(str(path), "w") as container:
        if path.suffix == ".m4a":
            container.metadata["creation_time"] = began.astimezone(UTC).isoformat()
        stream = container.add_stream(codec, rate=rate, layout="mono")
        stream.bit_rate = 32_000
        frame = av.AudioFrame.from_ndarray(
            (sound * 32767).astype(np.int16)[None, :], format="s16", layout="mono"
        )
        frame.sample_rate = RATE
        resampler = av.AudioResampler(stream.format, "mono", rate, frame_size=stream.frame_size)
        for piece in (*resampler.resample(frame), *resampler.resample(None)):
            container.mux(stream.encode(piece))
        container.mux(stream.encode(None))


def make(truth: dict[str, Any], into: Path) -> None:
    """Make every memo and photo of the truth."""
    for seed, one in enumerate(truth["memo"]):
        write(
            memo(one["says"], one["voice"], one.get("noise_db"), seed),
            into / one["file"],
            one["began"],
        )
    for one in truth["photo"]:
        save(
            DRAWINGS[one["draws"]](one["shows"]),
            into / one["file"],
            one["taken"],
            one.get("orientation", 1),
        )


if __name__ == "__main__":
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE
    make(tomllib.loads((HERE / "truth.toml").read_text("utf-8")), folder)
    made = [p for p in folder.iterdir() if p.suffix in {".m4a", ".ogg", ".jpg"}]
    print(f"{len(made)} files, {sum(p.stat().st_size for p in made) / 1e6:.2f} MB")
