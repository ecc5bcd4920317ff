"""How well photos are read, on a set of photos with their truth, beside two baselines.

`python benchmarks/photos.py --set DIR [--scorer FILE] [--out DIR]`

DIR holds `truth.json`: a list of objects with `file`, `kind`, `difficulty`, `taken_at`, `fields`
(`name`, `value`, `position`) and, for the second baseline, `quad_upright`: the counter's or label's
corners in the upright picture. FILE is the scorer that belongs to the set (`score_photos.py` in the
folder above it, unless given); it is called with the truth and the drafts of `try --json`.

The baselines are the OCR library alone, told the field's name and the convention that the last
figure is a tenth: once on the whole picture, once on a crop cut by hand. Times are wall-clock on
this machine, for a program already started, and once for one photo from a cold start.
"""

from __future__ import annotations

import argparse
import json
import re
import statistics
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

from capture.photo import look
from capture.photo_cut import level

BATCH = 8


def ours(files: list[Path]) -> tuple[list[dict[str, Any]], list[tuple[float, float]], float]:
    """Give the drafts of `try --json`, (wall, processor) seconds a photo, and seconds from cold."""
    drafts: list[dict[str, Any]] = []
    begin = time.monotonic()
    tried([files[0]])
    cold = time.monotonic() - begin
    for start in range(0, len(files), BATCH):
        drafts += tried(files[start : start + BATCH])
    from capture.photo_text import Eye
    from desk.settings import load

    eye = Eye(load(None, {}).models_dir)
    eye.read(files[0], files[0].name)
    times = []
    for file in files:
        begin, work = time.monotonic(), time.process_time()
        eye.read(file, file.name)
        times.append((time.monotonic() - begin, time.process_time() - work))
    return drafts, times, cold


def tried(files: list[Path]) -> list[dict[str, Any]]:
    """Run `try --json` on some photos; each prints an array a line, or a line on stderr."""
    command = [sys.executable, "-m", "desk", "try", *map(str, files), "--json"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.stderr.strip():
        print(done.stderr.strip(), file=sys.stderr)
    return [draft for line in done.stdout.splitlines() for draft in json.loads(line)]


def alone(engine: Any, pixels: np.ndarray, entry: dict[str, Any]) -> list[dict[str, Any]]:
    """Give the drafts that the OCR library's lines amount to, for one photo."""
    result = engine(pixels[..., ::-1])
    lines = list(zip(result.txts or (), result.scores or (), strict=True))
    made = []
    for field in entry["fields"]:
        if field.get("handwritten"):
            continue
        if field["name"] == "filter_part_number":
            found = [(m[1], s) for t, s in lines if (m := re.search(r"P\W?N\W+(.*)", t, re.I))]
        else:
            found = [(t, s) for t, s in lines if re.fullmatch(r"[\d\s.]+", t)]
            found.sort(key=lambda one: -len(re.sub(r"\D", "", one[0])))
            found = [(tenths(t), s) for t, s in found]
        if found:
            value, score = found[0]
            made.append(
                {
                    "name": field["name"],
                    "value": value,
                    "position": None,
                    "media": entry["file"],
                    "confidence": float(score),
                    "doubts": [],
                    "alternatives": [],
                }
            )
    return made


def tenths(text: str) -> float:
    """Take figures for hours whose last one is a tenth."""
    return int(re.sub(r"\D", "", text)) / 10


def main() -> None:
    """Run, score and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--set", type=Path, required=True)
    parser.add_argument("--scorer", type=Path)
    parser.add_argument("--out", type=Path, default=Path("build/photos"))
    given = parser.parse_args()
    scorer = given.scorer or given.set.parent / "score_photos.py"
    truth = json.loads((given.set / "truth.json").read_text("utf-8"))
    given.out.mkdir(parents=True, exist_ok=True)

    drafts, times, cold = ours([given.set / entry["file"] for entry in truth])
    rows = {
        "cowlnote": drafts,
        "OCR library, whole picture": [],
        "OCR library, hand-given crop": [],
    }
    from rapidocr import RapidOCR

    engine = RapidOCR(params={"Global.log_level": "critical"})
    for entry in truth:
        photo = look(given.set / entry["file"])
        rows["OCR library, whole picture"] += alone(engine, np.asarray(photo.image), entry)
        if entry.get("quad_upright"):
            quad = np.array(entry["quad_upright"]) / photo.scale
            tall = 64 if entry["kind"] != "label" else 800
            cut = np.asarray(level(photo.image, quad, tall))
            rows["OCR library, hand-given crop"] += alone(engine, cut, entry)
    for number, (name, made) in enumerate(rows.items()):
        file = given.out / f"drafts{number}.json"
        file.write_text(json.dumps(made, indent=1), "utf-8")
        print(f"\n== {name}")
        more = ["--list"] if number == 0 else []
        command = [sys.executable, str(scorer), str(given.set / "truth.json"), str(file), *more]
        print(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
    wall, work = (sorted(column) for column in zip(*times, strict=True))
    print(f"seconds a photo: median {statistics.median(wall):.2f}, longest {wall[-1]:.2f}")
    print(f"seconds of processor a photo: median {statistics.median(work):.2f}")
    print(f"seconds for one photo from a cold start: {cold:.2f}")


if __name__ == "__main__":
    main()
