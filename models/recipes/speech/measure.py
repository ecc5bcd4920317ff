"""Word errors of speech models on a set of memos with their truth, by condition.

    measure.py SET MODEL... [--json OUT]

SET holds truth.json (`media`, `condition`, `script`, `phrases` as [start, end, words]) and the sound.
MODEL is a model's folder. Each memo is heard as the program hears it, by long windows and again by
phrases. Prints, for each model and way: word error rate, how many trade words and number words of the script are heard, words
invented per minute, and the error of the start of phrases (median and 90th percentile, seconds).
"""

from __future__ import annotations

import argparse
import json
import re
from collections import defaultdict
from pathlib import Path

import jiwer
import numpy as np

from capture.audio import decode
from capture.transcribe import Ear

TRADE = set(
    "tach hobbs torqued torque safetied safety wired wire lockwire lockwired quarts quart thou thousandths cowl cowling "
    "dipstick filter drain sample ounces additive psi rpm volts leak leaks weeping seeping gapped gap plugs plug pounds "
    "inch foot screen suction pleats magnet metal glitter flakes oil compression cylinder sump twists turns tire".split()
)
NUMBERS = set(
    "zero oh one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen "
    "eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety hundred thousand point decimal half quarter "
    "quarters dash".split()
)


def plain(text: str) -> list[str]:
    """Give the words, small, without points, hyphens and apostrophes."""
    text = text.lower().replace("'", "").replace("r p m", "rpm").replace("p s i", "psi")
    return re.sub(r"[^a-z0-9]+", " ", text).split()


def main() -> None:
    """Print one line a model and condition."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("set", type=Path)
    p.add_argument("models", nargs="+")
    p.add_argument("--json", type=Path)
    x = p.parse_args()
    truth = json.loads((x.set / "truth.json").read_text("utf-8"))
    kept: dict[str, dict[str, str]] = {}
    print(
        f"{'model':28} {'condition':10} {'WER':>6} {'trade':>6} {'number':>6} {'invented/min':>12} {'start p50':>9} {'p90':>6}"
    )
    for name in x.models:
        ear = Ear(Path(name).parent, models=(name,))
        heard = {
            memo["media"]: ear.hear(decode(x.set / memo["media"]), memo["media"]).hearings
            for memo in truth
        }
        for way in range(2):
            title = f"{Path(name).name} {next(iter(heard.values()))[way].settings.split()[-1]}"
            kept[title] = {media: h[way].text for media, h in heard.items()}
            report(title, truth, {media: h[way].words for media, h in heard.items()})
    if x.json:
        x.json.write_text(json.dumps(kept, indent=1), "utf-8")


def report(title: str, truth: list[dict], heard: dict) -> None:
    """Print one line a condition for one model and way; `heard` gives the words of each memo."""
    counts: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    late: dict[str, list[float]] = defaultdict(list)
    for memo in truth:
        words, starts = [], []
        for word in heard[memo["media"]]:
            for piece in plain(word.text):
                words.append(piece)
                starts.append(word.start_s)
        said = plain(memo["script"])
        begins, at = {}, 0
        for start, _, phrase in memo.get("phrases", ()):
            begins[at] = start
            at += len(plain(phrase))
        made = jiwer.process_words(" ".join(said), " ".join(words) or "-")
        for group in (memo["condition"], "all"):
            c = counts[group]
            c["wrong"] += made.substitutions + made.deletions + made.insertions
            c["said"] += len(said)
            c["invented"] += made.insertions
            c["minutes"] += memo.get("duration", 0) / 60
            right = {}
            for chunk in made.alignments[0]:
                if chunk.type == "equal":
                    for k in range(chunk.ref_end_idx - chunk.ref_start_idx):
                        right[chunk.ref_start_idx + k] = chunk.hyp_start_idx + k
            for i, word in enumerate(said):
                for kind, group_words in (("trade", TRADE), ("number", NUMBERS)):
                    if word in group_words:
                        c[kind] += 1
                        c[kind + " right"] += i in right
            late[group] += [abs(starts[right[i]] - s) for i, s in begins.items() if i in right]
    for group in sorted(counts):
        c, off = counts[group], late[group] or [float("nan")]
        print(
            f"{title:28} {group:10} {c['wrong'] / c['said']:6.3f} {c['trade right'] / max(1, c['trade']):6.3f} "
            f"{c['number right'] / max(1, c['number']):6.3f} {c['invented'] / max(c['minutes'], 1e-9):12.2f} "
            f"{np.median(off):9.2f} {np.quantile(off, 0.9):6.2f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
