"""Plan who says what, and say it: kokoro voices and blends of them, speed and pitch varied.

    voices.py plan --seed 11 --count 9000 --prose prose.txt --talk talk.txt --vocab VOCAB PLAN.json    (needs espeak-ng)
    voices.py say PLAN.json MODEL VOICES OUT --part 0 --parts 15 [--until SECONDS] [--backwards]

A plan holds each utterance's words, phoneme numbers, speaker and group (one group is one memo's
speaker). `say` writes OUT/part-*.npz: 16 kHz int16 samples end to end, with lengths and numbers in the plan.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import subprocess
import time
from pathlib import Path

HELD_OUT = (
    "af_nova",
    "am_echo",
    "bf_emma",
    "bm_george",
    "am_michael",
    "af_nicole",
)  # for measuring
DEV = ("am_adam", "af_bella", "bm_daniel", "af_sarah", "bf_alice", "am_liam")  # left out as well
PLAIN = (
    "af_alloy af_aoede af_heart af_jessica af_kore af_river af_sky am_eric am_fenrir am_onyx am_puck "
    "am_santa bf_isabella bf_lily bm_fable bm_lewis"
).split()
ACCENTS = "em_alex ff_siwis hf_alpha hm_omega if_sara im_nicola jf_alpha jm_kumo pf_dora pm_alex zf_xiaobei zm_yunxi".split()
# espeak-ng's phonemes to the ones kokoro was trained on
PHONES = {
    "ʔˌn\u0329": "tn",
    "ʔn\u0329": "tn",
    "ʔn": "tn",
    "a^ɪ": "I",
    "a^ʊ": "W",
    "d^ʒ": "ʤ",
    "e^ɪ": "A",
    "t^ʃ": "ʧ",
    "ɔ^ɪ": "Y",
    "ə^l": "ᵊl",
    "ʲo": "jo",
    "ʲə": "jə",
    "ʲ": "",
    "ɚ": "əɹ",
    "r": "ɹ",
    "x": "k",
    "ç": "k",
    "ɐ": "ə",
    "ɬ": "l",
    "\u0303": "",
    "əɹɹ": "əɹ",
}
AMERICAN = {"o^ʊ": "O", "ɜːɹ": "ɜɹ", "ɜː": "ɜɹ", "ɪə": "iə", "ː": "", "ɾ": "T"}
BRITISH = {"e^ə": "ɛː", "iə": "ɪə", "ə^ʊ": "Q", "o^ʊ": "Q"}
LETTERED = re.compile(r"\b(RPM|PSI|SAE)\b")


def said(text: str) -> str:
    """Give the words as a voice must be told them: initials apart."""
    return LETTERED.sub(lambda m: " ".join(m.group()), text)


def phonemes(clauses: list[str], british: bool) -> dict[str, str]:
    """Give kokoro phonemes for clauses without punctuation, through espeak-ng."""
    lang, made = ("en-gb" if british else "en-us"), {}
    for i in range(0, len(clauses), 1000):
        some = clauses[i : i + 1000]
        run = subprocess.run(
            ["espeak-ng", "-q", "--ipa", "--tie=^", "-v", lang],
            input="\n\n".join(some) + "\n",
            capture_output=True,
            text=True,
            check=True,
        )
        lines = [line.strip() for line in run.stdout.split("\n") if line.strip()]
        if len(lines) != len(some):
            lines = [
                " ".join(
                    subprocess.run(
                        ["espeak-ng", "-q", "--ipa", "--tie=^", "-v", lang, c],
                        capture_output=True,
                        text=True,
                    ).stdout.split()
                )
                for c in some
            ]
        for clause, line in zip(some, lines, strict=True):
            for a, b in sorted(PHONES.items(), key=lambda kv: -len(kv[0])):
                line = line.replace(a, b)
            line = re.sub("(\\S)\u0329", "ᵊ\\1", line).replace("\u0329", "")
            for a, b in (BRITISH if british else AMERICAN).items():
                line = line.replace(a, b)
            made[clause] = (
                line.replace("ʔ", "t").replace("e", "A").replace("o", "ɔ").replace("^", "")
            )
    return made


def speaker(rng: random.Random) -> dict[str, object]:
    """Give one speaker: a voice or a blend, a speed, a pitch factor, whether British."""
    r = rng.random()
    if r < 0.35:
        mix = {rng.choice(PLAIN): 1.0}
    elif r < 0.75:
        a, b = rng.sample(PLAIN, 2)
        share = rng.uniform(0.25, 0.75)
        mix = {a: share, b: 1 - share}
    else:
        share = rng.uniform(0.35, 0.75)
        mix = {rng.choice(PLAIN): share, rng.choice(ACCENTS): 1 - share}
    main = max(mix, key=lambda k: mix[k])
    return {
        "mix": mix,
        "british": main[0] == "b",
        "speed": rng.uniform(0.85, 1.3),
        "pitch": rng.choice([1.0, rng.uniform(0.88, 1.14)]),
        "soft_thou": rng.random() < 0.35,
    }


def texts(seed: int, count: int, prose: list[str], talk: list[str]) -> list[str]:
    """Give what is said: made-up notes, half of them marked notes' sentences where there are any."""
    from notes import sentences

    rng = random.Random(seed)
    made = [t for _, t in sentences(seed, count)]
    for i in range(count):
        r = rng.random()
        if prose and r < 0.07:
            made[i] = rng.choice(prose)
        elif talk and r < 0.55:
            made[i] = rng.choice(talk)
    return made


def plan(seed: int, count: int, lines: list[str], vocab: dict[str, int]) -> list[dict]:
    """Give `count` utterances in groups of 8 to 30 by one speaker."""
    rng = random.Random(seed)
    who: list[tuple[int, dict[str, object]]] = []
    group = 0
    while len(who) < count:
        one = speaker(rng)
        who += [(group, one)] * rng.randrange(8, 31)
        group += 1
    split = [re.findall(r"([^,.;:!?]+)([,.;:!?]*)", said(t)) for t in lines]
    known = {
        b: phonemes(
            sorted(
                {
                    c.strip()
                    for s, w in zip(split, who)
                    if w[1]["british"] is b
                    for c, _ in s
                    if c.strip()
                }
            ),
            b,
        )
        for b in (False, True)
    }
    made = []
    for i, (text, parts, (g, one)) in enumerate(zip(lines, split, who)):
        line = " ".join(
            known[bool(one["british"])][c.strip()] + p[:1] for c, p in parts if c.strip()
        )
        if not one["soft_thou"]:
            line = line.replace("ðˈW", "θˈW")
        made.append(
            {
                "n": i,
                "text": text,
                "group": g,
                "mix": one["mix"],
                "pitch": round(float(one["pitch"]), 4),
                "speed": round(float(one["speed"]) * rng.uniform(0.94, 1.06), 3),
                "tokens": [vocab[c] for c in line if c in vocab][:500],
            }
        )
    return made


def say(items: list[dict], model: str, voices: Path, out: Path, name: str, until: float) -> None:
    """Say the items one after another until done or `until` (time.time() seconds)."""
    import numpy as np
    import onnxruntime as ort
    from scipy.signal import resample

    options = ort.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    session = ort.InferenceSession(model, options, providers=["CPUExecutionProvider"])
    table = {p.stem: np.fromfile(p, np.float32).reshape(510, 256) for p in voices.glob("*.bin")}
    sound, numbers, saved = [], [], 0

    def save() -> None:
        nonlocal saved
        if sound:
            np.savez(
                out / f"tmp-{name}-{saved}.npz",
                sound=np.concatenate(sound),
                lengths=[len(s) for s in sound],
                n=numbers,
            )
            (out / f"tmp-{name}-{saved}.npz").rename(out / f"part-{name}-{saved}.npz")
        saved += 1
        sound.clear()
        numbers.clear()

    for item in items:
        if time.time() > until:
            break
        t = item["tokens"]
        style = sum(w * table[v][min(len(t), 509)] for v, w in item["mix"].items())
        audio = session.run(
            None,
            {
                "tokens": np.array([[0, *t, 0]], np.int64),
                "style": style[None].astype(np.float32),
                "speed": np.array([item["speed"]], np.float32),
            },
        )[0].ravel()
        loud = np.flatnonzero(np.abs(audio) > 0.01)
        if len(loud) < 2000:
            continue
        audio = audio[max(0, loud[0] - 500) : loud[-1] + 700]
        audio = resample(audio, round(len(audio) * 16000 / (24000 * item["pitch"])))
        sound.append((audio / max(1e-3, np.abs(audio).max()) * 30000).astype(np.int16))
        numbers.append(item["n"])
        if len(sound) >= 30:
            save()
    save()


def main() -> None:
    """Run `plan` or `say`."""
    p = argparse.ArgumentParser(description=__doc__)
    sub = p.add_subparsers(dest="do", required=True)
    a = sub.add_parser("plan")
    a.add_argument("--seed", type=int, required=True)
    a.add_argument("--count", type=int, required=True)
    a.add_argument("--prose", type=Path)
    a.add_argument("--talk", type=Path)
    a.add_argument("--vocab", type=Path, required=True)
    a.add_argument("plan", type=Path)
    a = sub.add_parser("say")
    a.add_argument("plan", type=Path)
    a.add_argument("model")
    a.add_argument("voices", type=Path)
    a.add_argument("out", type=Path)
    a.add_argument("--part", type=int, default=0)
    a.add_argument("--parts", type=int, default=1)
    a.add_argument("--seconds", type=float, default=1e9)
    a.add_argument("--backwards", action="store_true")
    x = p.parse_args()
    if x.do == "plan":
        prose, talk = (p.read_text("utf-8").splitlines() if p else [] for p in (x.prose, x.talk))
        vocab = json.loads(x.vocab.read_text("utf-8"))["vocab"]
        x.plan.write_text(
            json.dumps(
                plan(x.seed, x.count, texts(x.seed, x.count, prose, talk), vocab),
                ensure_ascii=False,
            ),
            "utf-8",
        )
        return
    x.out.mkdir(parents=True, exist_ok=True)
    items = json.loads(x.plan.read_text("utf-8"))
    if x.backwards:
        items.reverse()
    say(
        items[x.part :: x.parts],
        x.model,
        x.voices,
        x.out,
        f"{'b' if x.backwards else 'f'}{x.part}",
        time.time() + x.seconds,
    )


if __name__ == "__main__":
    main()
