"""How well each hearing hears, and what it costs, on a set of recordings with their words.

`python benchmarks/hearing.py SET [--models DIR] [--only NAME,NAME] [--plot FILE] [--json FILE]`

SET is a folder with `truth.json`: a list of objects with `media`, `condition`, `script` and
`phrases` ([start_s, end_s, words]). Word error is jiwer's, over lower-case words without signs.
*numbers* is the share of phrases with spoken numbers that were heard with all of them right and in
order; the last lines say what comparing the models' hearings is worth.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import re
import resource
import sys
import time
from collections import Counter
from pathlib import Path
from typing import Any

import jiwer
import numpy as np

from capture.audio import RATE, decode
from capture.observed import Hearing, Transcript, Word
from capture.transcribe import Ear

SOUNDS_LIKE = {"to": "two", "too": "two", "for": "four", "ate": "eight", "won": "one", "o": "oh"}
SMALL = "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen"
TEENS = "fifteen sixteen seventeen eighteen nineteen"
TENS = "twenty thirty forty fifty sixty seventy eighty ninety"
VALUES = {word: str(n) for n, word in enumerate(f"{SMALL} {TEENS}".split())}
VALUES |= {word: str(n) for n, word in zip(range(20, 100, 10), TENS.split(), strict=True)}
VALUES |= {"oh": "0", "niner": "9"}
FRACTIONS = (
    (r"\ba (?=hundred|thousand)", "one "),
    (r"\band (?:a|one) half\b", " point five "),
    (r"\band (?:a|one) quarter\b", " point two five "),
    (r"\band three quarters\b", " point seven five "),
)
NEAR_S = 0.6


def plain(text: str) -> list[str]:
    """Give lower-case words without signs, hyphens taken apart."""
    return re.sub(r"[^a-z0-9 ]", " ", text.lower().replace("'", "")).split()


def figures(words: list[str]) -> str:
    """Give the numbers of a phrase in figures, however they are written, a space between two.

    "two three four five point six", "twenty-three forty-five point six" and "2345.6" are the same;
    so are "one hundred and ninety-eight" and "198", "five and a half" and "5.5".
    """
    text = " ".join(SOUNDS_LIKE.get(word, word) for word in words)
    for said, shown in FRACTIONS:
        text = re.sub(said, shown, text)
    made = ""
    tens = hundreds = False
    for word in re.findall(r"[a-z]+|\d+|\.", text):
        value = VALUES.get(word, word if word.isdigit() else "")
        if word in ("hundred", "thousand"):
            made, hundreds = made + ("00" if word == "hundred" else "000"), True
        elif word in ("point", "decimal", "dot", "."):
            made += "."
        elif word == "and" and hundreds:
            continue
        elif value and tens and len(value) == 1 and value != "0":
            made = made[:-1] + value
        elif value and hundreds and made.endswith("0" * len(value)):
            made = made[: -len(value)] + value
        elif value:
            made += value
        elif word not in ("a", "uh", "er", "um"):
            made += " "
        tens = len(value) == 2 and value[1] == "0" and not word.isdigit()
        hundreds = hundreds and (word in ("hundred", "thousand") or tens)
    return " ".join(part.strip(".") for part in made.split() if part.strip("."))


def near(words: tuple[Word, ...], start: float, end: float) -> list[str]:
    """Give the plain words that begin about within a phrase."""
    inside = (w.text for w in words if start - NEAR_S <= w.start_s <= end + NEAR_S / 2)
    return spelled(" ".join(inside))


def spelled(text: str) -> list[str]:
    """Give lower-case words and figures; of signs only a point between figures is kept."""
    text = re.sub(r"(?<=\d),(?=\d{3})", "", text.lower().replace("'", ""))
    return re.sub(r"(?<!\d)\.|\.(?!\d)|[^a-z0-9. ]", " ", text).split()


def right(said: str, heard: list[str]) -> bool:
    """Say whether the numbers of a phrase were heard, in order and without another between."""
    return f" {figures(spelled(said))} " in f" {figures(heard)} "


def start_error(hearing: Hearing, phrase: tuple[float, float, str]) -> float | None:
    """Give how far off the phrase's first word is, in seconds, where it was heard."""
    first = plain(phrase[2])[:1]
    off = [abs(w.start_s - phrase[0]) for w in hearing.words if plain(w.text)[:1] == first]
    return min((o for o in off if o < 2), default=None)


def row(truth: list[dict[str, Any]], heard: dict[str, Transcript], which: int) -> dict[str, Any]:
    """Measure one hearing over some recordings."""
    said = [" ".join(plain(t["script"])) for t in truth]
    got = [" ".join(plain(heard[t["media"]].hearings[which].text)) for t in truth]
    phrases = [(t["media"], *p) for t in truth for p in t["phrases"]]
    spoken = [p for p in phrases if figures(spelled(p[3]))]
    hits = [right(p[3], near(heard[p[0]].hearings[which].words, p[1], p[2])) for p in spoken]
    off = [start_error(heard[m].hearings[which], (a, b, w)) for m, a, b, w in phrases]
    return {
        "wer": jiwer.wer(said, got),
        "numbers": sum(hits) / max(1, len(hits)),
        "start_p90_s": float(np.percentile([o for o in off if o is not None] or [0.0], 90)),
    }


def compared(truth: list[dict[str, Any]], heard: dict[str, Transcript]) -> dict[str, float]:
    """Measure what several hearings know together about phrases with numbers."""
    some = two = two_right = count = 0
    for t in truth:
        hearings = heard[t["media"]].hearings
        for start, end, said in t["phrases"]:
            if not figures(spelled(said)):
                continue
            count += 1
            votes: dict[str, set[str]] = {}
            for h in hearings:
                key = figures(near(h.words, start, end))
                votes.setdefault(key, set()).add(h.model)
            some += any(right(said, near(h.words, start, end)) for h in hearings)
            most = Counter({key: len(by) for key, by in votes.items()}).most_common(1)[0]
            if most[1] >= 2:
                two += 1
                two_right += f" {figures(spelled(said))} " in f" {most[0]} "
    return {
        "phrases": count,
        "any hearing right": some / max(1, count),
        "two models agree": two / max(1, count),
        "right where two agree": two_right / max(1, two),
    }


def plot(rows: dict[str, dict[str, dict[str, Any]]], conditions: list[str], file: Path) -> None:
    """Draw word error and numbers by condition, one line a hearing; prints in black and white."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, (left, other) = pyplot.subplots(1, 2, figsize=(10, 4), layout="constrained")
    marks = "osD^vPX*"
    for at, (name, by) in enumerate(rows.items()):
        style = {"marker": marks[at % 8], "color": str(0.13 * (at % 6)), "lw": 1, "label": name}
        left.plot(conditions, [by[c]["wer"] for c in conditions], **style)
        other.plot(conditions, [by[c]["numbers"] for c in conditions], **style)
    left.set(ylabel="word error rate", ylim=(0, None), title="words")
    other.set(ylabel="share right", ylim=(0, 1), title="phrases with numbers, all numbers right")
    other.legend(fontsize=7)
    figure.savefig(file, dpi=110)


def main() -> None:
    """Run the benchmark and print its figures."""
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("set", type=Path)
    ask.add_argument("--models", type=Path, default=Path(__file__).parents[1] / "models")
    ask.add_argument("--only", default="")
    ask.add_argument("--plot", type=Path)
    ask.add_argument("--json", type=Path)
    asked = ask.parse_args()
    truth = json.loads((asked.set / "truth.json").read_text(encoding="utf-8"))
    names = tuple(filter(None, asked.only.split(",")))
    ear = Ear(asked.models, models=names)
    heard: dict[str, Transcript] = {}
    seconds = wall = cpu = 0.0
    for t in truth:
        samples = decode(asked.set / t["media"])
        started, worked = time.perf_counter(), time.process_time()
        heard[t["media"]] = ear.hear(samples, t["media"])
        wall += time.perf_counter() - started
        cpu += time.process_time() - worked
        seconds += len(samples) / RATE
        print(".", end="", flush=True, file=sys.stderr)
    print(file=sys.stderr)
    conditions = list(dict.fromkeys(t["condition"] for t in truth))
    conditions.sort(key=lambda c: (c != "clean", -int("0" + re.sub(r"\D", "", c))))
    groups = {c: [t for t in truth if t["condition"] == c] for c in conditions} | {"all": truth}
    first = next(iter(heard.values()))
    rows = {
        f"{h.model}, {h.settings}": {c: row(some, heard, at) for c, some in groups.items()}
        for at, h in enumerate(first.hearings)
    }
    print("| hearing | " + " | ".join(f"{c} wer / numbers" for c in groups) + " | start p90 |")
    print("| --- |" + " --- |" * (len(groups) + 1))
    for name, by in rows.items():
        cells = " | ".join(f"{by[c]['wer']:.3f} / {by[c]['numbers']:.2f}" for c in groups)
        print(f"| {name} | {cells} | {by['all']['start_p90_s']:.2f} s |")
    for c, some in groups.items():
        print(f"{c}: " + ", ".join(f"{k} {v:.3g}" for k, v in compared(some, heard).items()))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{seconds:.0f} s of sound; real time factor {wall / seconds:.3f} by the clock,")
    print(f"{cpu / seconds:.3f} core seconds a second; peak memory {peak:.0f} MB;")
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    if asked.plot:
        plot(rows, conditions, asked.plot)
    if asked.json:
        asked.json.write_text(json.dumps(rows, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
