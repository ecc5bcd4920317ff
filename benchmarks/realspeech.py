"""How well real people are heard: strings of digits exactly right, and word error on sentences.

`python benchmarks/realspeech.py string DIGITS --into SET [--count 60] [--seed 1]` strings single
digits by one speaker into numbers of 4 to 7 digits with natural gaps, at the digits' own rate.
DIGITS holds `DIGIT_SPEAKER_TAKE.wav`, as open sets of spoken digits are laid out.

`python benchmarks/realspeech.py hear SET --into DIR [--in own,telephone,10] [--noise FILE…]` hears
every `x.wav` (or .flac, .mp3, .ogg, .raw at 16 kHz) of SET that has its words beside it in `x.txt`,
in each condition, and keeps the hearings in DIR (a run that was broken off goes on).

`python benchmarks/realspeech.py show SET --from DIR` prints the figures. A recording whose words
are all digits counts as a string: right is the same digits in the same order, however written, and
no other. The vote is that of models: the digits that most of them heard, of as many the first's.

Conditions: `own` is the file as it is; `telephone` is 300 to 3400 Hz at 8 kHz in G.711's mu-law;
a number is that many decibels of speech above noise, which is cut from the files of --noise.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import sys
import wave
from collections import Counter
from collections.abc import Sequence
from dataclasses import astuple
from pathlib import Path
from typing import Any

import jiwer
import numpy as np
import numpy.typing as npt
from hearing import figures, spelled
from speech import plain

from capture.audio import RATE, as_float, decode
from capture.observed import Hearing, Word
from capture.transcribe import Ear

Sound = npt.NDArray[np.float32]
MODELS = Path(__file__).parents[1] / "models"
DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
SPOKEN = {*DIGITS, "oh"}
LONGEST = 7
KINDS = (".wav", ".flac", ".mp3", ".ogg", ".raw")
GAP_S, BREATH_S, BREATH = (0.03, 0.16), (0.25, 0.5), 0.2
"""Between two digits, and where a speaker takes breath and how often: set by ear, no source."""
EDGE_S = (0.3, 0.8)
BAND_HZ, TELEPHONE_RATE, MU = (300.0, 3400.0), 8000, 255.0  # ITU-T G.711 and its channel


def takes(folder: Path) -> dict[str, dict[str, list[Path]]]:
    """Give the files of single digits by speaker and digit."""
    found: dict[str, dict[str, list[Path]]] = {}
    for file in sorted(folder.glob("[0-9]_*_*.wav")):
        digit, speaker, _ = file.stem.split("_")
        found.setdefault(speaker, {}).setdefault(digit, []).append(file)
    if not found:
        raise SystemExit(f"{folder}: no DIGIT_SPEAKER_TAKE.wav in it")
    return found


def samples_of(file: Path) -> tuple[Sound, int]:
    """Read a 16-bit WAV at its own rate, and that rate."""
    with wave.open(str(file), "rb") as sound:
        raw, rate = sound.readframes(sound.getnframes()), sound.getframerate()
    return np.frombuffer(raw, np.int16).astype(np.float32) / 32768, rate


def strung(files: Sequence[Path], pick: random.Random) -> tuple[Sound, int]:
    """String single digits into a number; one level, and the takes' own hiss between them."""
    heard = [samples_of(file) for file in files]
    rate = heard[0][1]
    loud = np.median([_rms(sound) for sound, _ in heard])
    parts = [sound * np.float32(loud / max(1e-6, _rms(sound))) for sound, _ in heard]
    frames = np.concatenate([p[: len(p) // 80 * 80].reshape(-1, 80) for p in parts])
    hiss = float(np.percentile(np.sqrt((frames**2).mean(axis=1)), 5))
    noise = np.random.default_rng(pick.getrandbits(32))

    def still(seconds: float) -> Sound:
        return noise.normal(0, hiss, round(seconds * rate)).astype(np.float32)

    made = [still(pick.uniform(*EDGE_S))]
    for at, part in enumerate(parts):
        if at:
            breath = pick.random() < BREATH
            made.append(still(pick.uniform(*(BREATH_S if breath else GAP_S))))
        made.append(part)
    made.append(still(pick.uniform(*EDGE_S)))
    return np.concatenate(made), rate


def string(given: argparse.Namespace) -> None:
    """Make a set of strings: each speaker in turn, each take at most once."""
    pick = random.Random(given.seed)  # noqa: S311 - no secret
    found = takes(given.set)
    given.into.mkdir(parents=True, exist_ok=True)
    for speaker in found.values():
        for files in speaker.values():
            pick.shuffle(files)
    for at in range(given.count):
        name = sorted(found)[at % len(found)]
        ready = [digit for digit, files in sorted(found[name].items()) if len(files) >= LONGEST]
        said = [pick.choice(ready) for _ in range(4 + at // len(found) % (LONGEST - 3))]
        files = [found[name][digit].pop() for digit in said]
        sound, rate = strung(files, pick)
        stem = given.into / f"{at:03d}-{name}"
        with wave.open(f"{stem}.wav", "wb") as out:
            out.setnchannels(1)
            out.setsampwidth(2)
            out.setframerate(rate)
            out.writeframes((np.clip(sound, -1, 1) * 32767).astype(np.int16).tobytes())
        Path(f"{stem}.txt").write_text(" ".join(DIGITS[int(d)] for d in said) + "\n", "utf-8")


def _rms(sound: Sound) -> float:
    return float(np.sqrt((sound**2).mean())) if len(sound) else 0.0


def telephone(sound: Sound) -> Sound:
    """Pass sound at 16 kHz through 300 to 3400 Hz, 8 kHz and mu-law, and back."""
    count = len(sound) // 4 * 4
    bins = np.fft.rfft(sound[:count])
    hertz = np.fft.rfftfreq(count, 1 / RATE)
    bins[(hertz < BAND_HZ[0]) | (hertz > BAND_HZ[1])] = 0
    half = np.fft.irfft(bins[: count // 4 + 1], count // 2) / 2
    half = np.clip(half, -1, 1)
    pressed = np.sign(half) * np.log1p(MU * np.abs(half)) / np.log1p(MU)
    pressed = np.round(pressed * 127) / 127
    half = np.sign(pressed) * np.expm1(np.abs(pressed) * np.log1p(MU)) / MU
    wide = np.zeros(count // 2 + 1, complex)
    wide[: count // 4 + 1] = np.fft.rfft(half)
    return (np.fft.irfft(wide, count) * 2).astype(np.float32)


def noisy(sound: Sound, noises: Sequence[Sound], above_db: float, seed: str) -> Sound:
    """Add a stretch of noise so that the loud half of the speech lies so far above it."""
    pick = random.Random(seed)  # noqa: S311 - no secret
    noise = pick.choice(noises)
    first = pick.randrange(max(1, len(noise) - len(sound)))
    cut = np.resize(noise[first : first + len(sound)], len(sound))
    frames = sound[: len(sound) // 320 * 320].reshape(-1, 320)
    power = np.sort((frames**2).mean(axis=1))[len(frames) // 2 :].mean()
    gain = math.sqrt(power / max(1e-12, float((cut**2).mean()))) * 10 ** (-above_db / 20)
    mixed = sound + cut * np.float32(gain)
    return (mixed / max(1.0, float(np.abs(mixed).max()))).astype(np.float32)


def read(file: Path) -> Sound:
    """Read a recording at 16 kHz; a bare .raw is 16-bit at that rate."""
    if file.suffix == ".raw":
        return as_float(np.frombuffer(file.read_bytes(), np.int16))
    return as_float(decode(file))


def recordings(folder: Path) -> dict[Path, str]:
    """Give the recordings of a set with their words."""
    files = [file for file in sorted(folder.iterdir()) if file.suffix in KINDS]
    found = {f: f.with_suffix(".txt") for f in files if f.with_suffix(".txt").is_file()}
    if not found:
        raise SystemExit(f"{folder}: no sound in it with its words beside it (x.wav, x.txt)")
    texts = {file: text.read_text("utf-8").strip() for file, text in found.items()}
    return {file: text for file, text in texts.items() if text}


def hear(given: argparse.Namespace) -> None:
    """Hear a set in each condition and keep the hearings."""
    ear = Ear(MODELS, models=tuple(filter(None, given.only.split(","))))
    given.kept.mkdir(parents=True, exist_ok=True)
    noises = [read(file) for file in given.noise]
    for file in recordings(given.set):
        for condition in given.conditions.split(","):
            keep = given.kept / f"{file.stem}.{condition}.json"
            if keep.exists():
                continue
            sound = read(file)
            if condition == "telephone":
                sound = telephone(sound)
            elif condition != "own":
                if not noises:
                    raise SystemExit("noise is cut from files: name some with --noise")
                sound = noisy(sound, noises, float(condition), file.stem + condition)
            heard = ear.hear(sound, file.name).hearings
            ways = [(h.model, h.settings, [astuple(word) for word in h.words]) for h in heard]
            keep.write_text(json.dumps(ways), "utf-8")
            print(".", end="", flush=True, file=sys.stderr)
    print(file=sys.stderr)


def kept(file: Path) -> list[Hearing]:
    """Give the hearings that were kept of one recording in one condition."""
    ways = json.loads(file.read_text("utf-8"))
    return [Hearing(model, how, tuple(Word(*w) for w in words)) for model, how, words in ways]


def digits(text: str) -> str:
    """Give the digits of a text, however they are written, in order."""
    return figures(spelled(text)).replace(" ", "")


def vote(hearings: Sequence[Hearing]) -> tuple[str, int]:
    """Give the digits that most models heard, and how many; of as many, the first's.

    A model that heard no digit has no voice.
    """
    heard = [found for found in (digits(hearing.text) for hearing in hearings) if found]
    return Counter(heard).most_common(1)[0] if heard else ("", 0)


def share(hits: Sequence[bool]) -> str:
    """Give a share with its 95 % interval (Wilson's, by score)."""
    n, z = len(hits), 1.96
    if not n:
        return "-"
    p = sum(hits) / n
    middle, half = p + z * z / (2 * n), z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    low, high = ((middle + side * half) / (1 + z * z / n) for side in (-1, 1))
    return f"{sum(hits)}/{n} = {p:.3f} [{low:.3f}, {high:.3f}]"


def word_error(said: Sequence[str], heard: Sequence[str]) -> str:
    """Give the word error rate with its 95 % interval, by resampling recordings."""

    def rate(some: Sequence[int]) -> float:
        return float(jiwer.wer([said[i] for i in some], [heard[i] for i in some]))

    pick = random.Random(1)  # noqa: S311 - no secret
    every = range(len(said))
    drawn = sorted(rate(pick.choices(every, k=len(every))) for _ in range(400))
    return f"{rate(every):.3f} [{drawn[10]:.3f}, {drawn[389]:.3f}]"


def show(given: argparse.Namespace) -> None:
    """Print the figures of what was heard; with --list, what went wrong."""
    said = recordings(given.set)
    found: dict[str, list[tuple[str, str, list[Hearing]]]] = {}
    for file, text in said.items():
        for keep in sorted(given.kept.glob(f"{file.stem}.*.json")):
            condition = keep.stem.removeprefix(f"{file.stem}.")
            found.setdefault(condition, []).append((file.stem, text, kept(keep)))
    for condition, rows in sorted(found.items()):
        strings = [row for row in rows if set(plain(row[1]).split()) <= SPOKEN]
        talk = [row for row in rows if row not in strings]
        print(f"{condition}: {len(strings)} strings of digits, {len(talk)} other recordings")
        if strings:
            show_strings(strings, listed=given.list)
        if talk:
            for at, first in enumerate(talk[0][2]):
                texts = [plain(" ".join(w.text for w in h[at].words)) for _, _, h in talk]
                error = word_error([plain(text) for _, text, _ in talk], texts)
                print(f"  {first.model}: word error rate {error}")
                if given.list:
                    for (stem, text, _), got in zip(talk, texts, strict=True):
                        if plain(text) != got:
                            print(f"    {stem}: {plain(text)}\n      heard: {got}")


def show_strings(rows: list[tuple[str, str, list[Hearing]]], *, listed: bool) -> None:
    """Print the shares of strings right by each ear, by any, by the vote, and where two agree."""

    def right(said: str, heard: str) -> bool:
        return digits(said) == digits(heard)

    for at, first in enumerate(rows[0][2]):
        hits = [right(text, hearings[at].text) for _, text, hearings in rows]
        print(f"  {first.model}: right {share(hits)}")
    print("  any:", share([any(right(t, h.text) for h in hs) for _, t, hs in rows]))
    votes = [(digits(text), *vote(hearings)) for _, text, hearings in rows]
    print("  vote:", share([said == got for said, got, _ in votes]))
    agreed = [said == got for said, got, count in votes if count > 1]
    print(f"  two agree: {len(agreed)}; of these right {share(agreed)}")
    by: dict[str, list[bool]] = {}
    for (stem, *_), (said, got, _) in zip(rows, votes, strict=True):
        by.setdefault(stem.split("-")[-1], []).append(said == got)
    print("  vote by speaker:", ", ".join(f"{k} {sum(v)}/{len(v)}" for k, v in by.items()))
    if listed:
        for stem, text, hearings in rows:
            if not all(right(text, h.text) for h in hearings):
                heard = " | ".join(h.text or "-" for h in hearings)
                print(f"    {stem}: {digits(text)}: {heard}")


def main() -> None:
    """String, hear or show."""
    ask = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    ask.add_argument("what", choices=("string", "hear", "show"))
    ask.add_argument("set", type=Path)
    ask.add_argument("--into", "--from", dest="kept", type=Path, required=True)
    ask.add_argument("--count", type=int, default=60)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--in", dest="conditions", default="own")
    ask.add_argument("--noise", type=Path, nargs="*", default=())
    ask.add_argument("--only", default="", help="NAME,NAME: models other than the plan's")
    ask.add_argument("--list", action="store_true")
    given: Any = ask.parse_args()
    given.into = given.kept
    {"string": string, "hear": hear, "show": show}[given.what](given)


if __name__ == "__main__":
    main()
