"""Says marked notes by machine: espeak-ng, flite, and piper and kokoro voices where there are any.

    PYTHONPATH=../speech said.py OUT --count 1400 --seed 7 --parts 16 --part 0

Takes notes of `hands/*.txt` that hold no figures (nobody speaks figures, and how an engine would
read them is not known), spread evenly over the hands, each sentence said by itself and joined with
pauses. Writes OUT/said-PART.json (source, line, voice, samples, and where each sentence lies, s)
and OUT/said-PART.opus: the notes end to end at 16 kHz. Needs soundfile, scipy, onnxruntime,
and Debian's espeak-ng, flite, festival.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "speech")]

import marks  # noqa: E402
import soundfile  # noqa: E402
from classic import Piper, respelt  # noqa: E402
from scipy.signal import resample  # noqa: E402
from voices import phonemes, said  # noqa: E402

RATE = 16000
ESPEAK = ["en-us", "en-gb", "en-gb-scotland", "en-gb-x-rp", "en-gb-x-gbcwmd"]
VARIANTS = ["", "+m1", "+m3", "+m4", "+m7", "+f1", "+f2", "+f4", "+klatt2", "+Andrea", "+Annie"]
KOKORO = ["af_heart", "af_kore", "am_fenrir", "am_puck", "bf_isabella", "bm_fable", "bm_lewis"]


class Kokoro:
    """Kokoro voices, run by ONNX Runtime (models/recipes/speech/README.md says where from)."""

    def __init__(self, model: Path, voices: Path, vocab: Path, threads: int = 1) -> None:
        import onnxruntime as ort

        how = ort.SessionOptions()
        how.intra_op_num_threads, how.inter_op_num_threads = threads, 1
        self.session = ort.InferenceSession(str(model), how, providers=["CPUExecutionProvider"])
        held = json.loads(vocab.read_text("utf-8"))
        self.voices, self.vocab = voices, held.get("vocab", held)

    def say(self, text: str, voice: str, speed: float) -> np.ndarray:
        """Give samples at 24 kHz."""
        style = np.fromfile(self.voices / f"{voice}.bin", np.float32).reshape(510, 256)
        clauses = re.findall(r"([^,.;:!?]+)([,.;:!?]*)", said(text))
        clauses = [(c.strip(), stop) for c, stop in clauses if c.strip()]
        known = phonemes(sorted({c for c, _ in clauses}), voice[0] == "b")
        line = " ".join(known[c] + stop[:1] for c, stop in clauses)
        tokens = [self.vocab[c] for c in line if c in self.vocab][:500]
        given = {
            "tokens": np.array([[0, *tokens, 0]], np.int64),
            "style": style[min(len(tokens), 509)][None].astype(np.float32),
            "speed": np.array([speed], np.float32),
        }
        return self.session.run(None, given)[0].ravel()


class Engines:
    """All engines behind one door; a voice is a dict with `engine`, `name` and its manner."""

    def __init__(self, piper: Piper | None, kokoro: Kokoro | None) -> None:
        self.piper, self.kokoro = piper, kokoro

    def say(self, text: str, voice: dict) -> np.ndarray:
        """Give float samples at 16 kHz, without the silence at both ends; none where it fails."""
        audio, rate = self._raw(text, voice)
        peak = np.abs(audio).max(initial=0)
        loud = np.flatnonzero(np.abs(audio) > 0.02 * max(peak, 1e-6))
        if len(loud) < 400:
            return np.zeros(0)
        audio = audio[max(0, loud[0] - 400) : loud[-1] + 600]
        audio = resample(audio, round(len(audio) * RATE / (rate * voice.get("pitch", 1.0))))
        return audio / np.abs(audio).max()

    def _raw(self, text: str, voice: dict) -> tuple[np.ndarray, int]:
        engine, name = voice["engine"], voice["name"]
        if engine == "piper":
            return self.piper.say(text, voice.get("stretch", 1.0)), 22050
        if engine == "kokoro":
            return self.kokoro.say(text, name, voice.get("speed", 1.0)), 24000
        with tempfile.TemporaryDirectory() as folder:
            wav = f"{folder}/a.wav"
            if engine == "espeak":
                speed, high = str(voice.get("wpm", 155)), str(voice.get("high", 50))
                command = ["espeak-ng", "-v", name, "-s", speed, "-p", high, "-w", wav, said(text)]
            elif engine == "flite":
                stretch = f"duration_stretch={voice.get('stretch', 1.0):.2f}"
                command = ["flite", "-voice", name, "--setf", stretch, "-t", respelt(text)]
                command += ["-o", wav]
            else:
                command = ["text2wave", "-eval", f"(voice_{name})", "-o", wav]
            subprocess.run(command, input=respelt(text), text=True, capture_output=True)
            try:
                return soundfile.read(wav, dtype="float32")
            except (RuntimeError, OSError):
                return np.zeros(0), RATE


def sentences(words: str) -> list[str]:
    """Give the sentences of a note; a long run without a stop is left whole."""
    return [s for s in re.split(r"(?<=[.?!])\s+", words) if s.strip()]


def note(engines: Engines, words: str, voice: dict, rng: random.Random):
    """Say a note; give samples and [start, end, words] of each sentence, or None where one fails."""
    quiet = lambda s: np.zeros(round(s * RATE))
    made, phrases, at = [quiet(0.4)], [], 0.4
    for sentence in sentences(words):
        audio = engines.say(sentence, voice)
        if not len(audio):
            return None
        phrases.append([round(at, 2), round(at + len(audio) / RATE, 2), sentence])
        pause = quiet(rng.uniform(0.25, 0.9))
        made += [audio * rng.uniform(0.7, 1.0), pause]
        at += (len(audio) + len(pause)) / RATE
    return np.concatenate([*made, quiet(0.4)]), phrases


def speaker(rng: random.Random, engines: Engines) -> dict:
    """Give one speaker of the training."""
    engine = rng.choices(
        ["espeak", "flite", "piper", "kokoro"],
        [0.5, 0.5, 0.2 if engines.piper else 0, 0.2 if engines.kokoro else 0],
    )[0]
    if engine == "espeak":
        name = rng.choice(ESPEAK) + rng.choice(VARIANTS)
        return {
            "engine": engine,
            "name": name,
            "wpm": rng.randrange(130, 185),
            "high": rng.randrange(25, 75),
        }
    pitch = rng.choice([1.0, rng.uniform(0.85, 0.95), rng.uniform(1.06, 1.18)])
    if engine == "flite":
        name, stretch = rng.choice(["kal16", "awb", "slt", "slt"]), rng.uniform(0.85, 1.2)
        return {"engine": engine, "name": name, "stretch": stretch, "pitch": pitch}
    if engine == "piper":
        return {
            "engine": engine,
            "name": "joe",
            "stretch": rng.uniform(0.85, 1.2),
            "pitch": pitch,
        }
    return {"engine": engine, "name": rng.choice(KOKORO), "speed": rng.uniform(0.9, 1.25)}


def chosen(files: list[Path], count: int, rng: random.Random) -> list[tuple[str, str]]:
    """Give (source, line) of notes without figures, as evenly as may be from every file."""
    held = []
    for file in files:
        lines = [line for _, _, line in marks.read([file])]
        words = {line: marks.note(line)["words"] for line in lines}
        fit = [x for x in lines if not re.search(r"\d", words[x]) and len(words[x].split()) < 90]
        rng.shuffle(fit)
        held.append([(file.stem, line) for line in fit])
    made = []
    while len(made) < count and any(held):
        made += [one.pop() for one in held if one]
    return made[:count]


def main() -> None:
    """Say `count` notes."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("out", type=Path)
    p.add_argument("--hands", type=Path, default=HERE / "hands")
    p.add_argument("--count", type=int, required=True)
    p.add_argument("--seed", type=int, required=True)
    p.add_argument("--part", type=int, default=0)
    p.add_argument("--parts", type=int, default=1)
    p.add_argument("--piper", type=Path, help="VOICE.onnx of one piper voice")
    p.add_argument("--kokoro", type=Path, nargs=3, help="model, folder of voices, vocab.json")
    x = p.parse_args()
    rng = random.Random(x.seed)
    engines = Engines(Piper(x.piper) if x.piper else None, Kokoro(*x.kokoro) if x.kokoro else None)
    x.out.mkdir(parents=True, exist_ok=True)
    items, length = [], 0
    opus = dict(samplerate=RATE, channels=1, format="OGG", subtype="OPUS")
    notes = chosen(sorted(x.hands.glob("hands-*.txt")), x.count, rng)
    rng.seed(x.seed + x.part)
    with soundfile.SoundFile(x.out / f"said-{x.part}.opus", "w", **opus) as file:
        for source, line in notes[x.part :: x.parts]:
            voice = speaker(rng, engines)
            made = note(engines, marks.note(line)["words"], voice, rng)
            if made is None:
                continue
            sound, phrases = made
            file.write(0.9 * sound)
            length += len(sound)
            items.append(
                {
                    "source": source,
                    "line": line,
                    "voice": voice,
                    "phrases": phrases,
                    "samples": len(sound),
                }
            )
    (x.out / f"said-{x.part}.json").write_text(json.dumps(items, ensure_ascii=False), "utf-8")
    print(f"{len(items)} notes, {length / RATE / 60:.0f} minutes")


if __name__ == "__main__":
    main()
