"""More voices, of other kinds: espeak-ng variants, flite, festival, one piper voice. Writes as voices.py does.

classic.py --seed 23 --count 2600 --prose prose.txt --piper VOICE.onnx classic.json OUT
"""

from __future__ import annotations

import argparse
import json
import random
import re
import subprocess
import tempfile
from pathlib import Path

import numpy as np
import soundfile
from scipy.signal import resample
from voices import said, texts

# what these engines' own letter rules get wrong
RESPELT = {
    "tach": "tack",
    "Tach": "Tack",
    "safetied": "safe teed",
    "Safetied": "Safe teed",
    "dipstick": "dip stick",
}
ESPEAK = ["en-us", "en-gb", "en-gb-scotland", "en-gb-x-rp", "en-gb-x-gbcwmd"]
VARIANTS = [
    "",
    "+m1",
    "+m3",
    "+m4",
    "+m7",
    "+f1",
    "+f2",
    "+f4",
    "+klatt2",
    "+Andrea",
    "+Michael",
    "+Annie",
]


def respelt(text: str) -> str:
    """Give the words spelt so that flite and festival say them as the trade does."""
    return re.sub(r"[A-Za-z]+", lambda m: RESPELT.get(m.group(), m.group()), said(text))


class Piper:
    """One piper voice, run by ONNX Runtime on one thread."""

    def __init__(self, path: Path) -> None:
        import onnxruntime as ort

        options = ort.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        self.session = ort.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
        self.ids = json.loads(Path(f"{path}.json").read_text("utf-8"))["phoneme_id_map"]

    def say(self, text: str, stretch: float) -> np.ndarray:
        """Give samples at 22.05 kHz."""
        parts = []
        for clause, stop in re.findall(r"([^,.;:!?]+)([,.;:!?]*)", said(text)):
            if not clause.strip():
                continue
            run = subprocess.run(
                ["espeak-ng", "-q", "--ipa", "-v", "en-us", clause.strip()],
                capture_output=True,
                text=True,
            )
            parts.append(" ".join(run.stdout.split()) + stop[:1])
        ids = [*self.ids["^"], 0]
        for phone in " ".join(parts):
            if phone in self.ids:
                ids += [*self.ids[phone], 0]
        ids += self.ids["$"]
        made = self.session.run(
            None,
            {
                "input": np.array([ids], np.int64),
                "input_lengths": np.array([len(ids)], np.int64),
                "scales": np.array([0.667, stretch, 0.8], np.float32),
            },
        )
        return made[0].ravel()


def main() -> None:
    """Say `count` sentences."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--seed", type=int, required=True)
    p.add_argument("--count", type=int, required=True)
    p.add_argument("--prose", type=Path, required=True)
    p.add_argument("--talk", type=Path)
    p.add_argument("--piper", type=Path, help="without it no piper voice speaks")
    p.add_argument(
        "--mix",
        type=float,
        nargs=4,
        default=[0.3, 0.33, 0.07, 0.3],
        help="espeak, flite, festival, piper",
    )
    p.add_argument("plan", type=Path)
    p.add_argument("out", type=Path)
    x = p.parse_args()
    rng, piper = random.Random(x.seed), Piper(x.piper) if x.piper else None
    mix = [*x.mix[:3], x.mix[3] if piper else 0]
    prose = x.prose.read_text("utf-8").splitlines()
    talk = x.talk.read_text("utf-8").splitlines() if x.talk else []
    x.out.mkdir(parents=True, exist_ok=True)
    items, sound, numbers, left, group, one = [], [], [], 0, 100_000, {}
    with tempfile.TemporaryDirectory() as folder:
        wav = f"{folder}/a.wav"
        for n, text in enumerate(texts(x.seed, x.count, prose, talk)):
            if left == 0:
                left, group = rng.randrange(8, 24), group + 1
                one = {
                    "engine": rng.choices(["espeak", "flite", "festival", "piper"], mix)[0],
                    "espeak": rng.choice(ESPEAK) + rng.choice(VARIANTS),
                    "wpm": rng.randrange(125, 190),
                    "high": rng.randrange(25, 75),
                    "flite": rng.choice(["kal16", "awb", "slt", "slt"]),
                    "stretch": rng.uniform(0.85, 1.2),
                    "pitch": rng.choice([rng.uniform(0.84, 0.94), rng.uniform(1.08, 1.2)]),
                    "festival": rng.choice(["ked_diphone", "kal_diphone"]),
                }
            left -= 1
            if one["engine"] == "piper":
                audio, rate = piper.say(text, one["stretch"]), 22050
            else:
                if one["engine"] == "espeak":
                    command = [
                        "espeak-ng",
                        "-v",
                        one["espeak"],
                        "-s",
                        str(one["wpm"]),
                        "-p",
                        str(one["high"]),
                        "-w",
                        wav,
                        said(text),
                    ]
                elif one["engine"] == "flite":
                    command = [
                        "flite",
                        "-voice",
                        one["flite"],
                        "--setf",
                        f"duration_stretch={one['stretch']:.2f}",
                        "-t",
                        respelt(text),
                        "-o",
                        wav,
                    ]
                else:
                    command = ["text2wave", "-eval", f"(voice_{one['festival']})", "-o", wav]
                subprocess.run(
                    command, input=respelt(text), text=True, capture_output=True, check=False
                )
                try:
                    audio, rate = soundfile.read(wav, dtype="float32")
                except (RuntimeError, OSError):
                    continue
            peak = np.abs(audio).max(initial=0)
            loud = np.flatnonzero(np.abs(audio) > 0.02 * max(peak, 1e-6))
            if len(loud) < 2000:
                continue
            audio = audio[max(0, loud[0] - 400) : loud[-1] + 600]
            audio = resample(audio, round(len(audio) * 16000 / (rate * one["pitch"])))
            sound.append((audio / np.abs(audio).max() * 30000).astype(np.int16))
            numbers.append(n)
            items.append({"n": n, "text": text, "group": group, "engine": one["engine"]})
    np.savez(
        x.out / f"{x.plan.stem}.npz",
        sound=np.concatenate(sound),
        lengths=[len(s) for s in sound],
        n=numbers,
    )
    x.plan.write_text(json.dumps(items, ensure_ascii=False), "utf-8")


if __name__ == "__main__":
    main()
