"""Which set of hearings is worth its time: values right and silent errors against processor time.

`python benchmarks/ears.py hear SET --into DIR` hears every recording of SET in each way alone, on
one core, and keeps the words and the processor seconds in DIR (a run that was broken off goes on).

`python benchmarks/ears.py weigh SET --from DIR [--last-tach] [--plot FILE] [--scorer FILE]` reads
what every single, pair and triple of ways would have heard, and the sets named with --also, scores
the drafts with the set's own scorer, and prints those that no cheaper one equals.

SET holds `truth.json` (see benchmarks/scoring.py). A way is `model/name`, as in `WAYS`. Those of
`tiny.en` need `cowlnote models get tiny.en` first.
"""

from __future__ import annotations

import argparse
import json
import random
import resource
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import astuple
from itertools import combinations
from pathlib import Path
from typing import Any

from hearing import figures as figures_of
from hearing import near, right, spelled
from scoring import Json, memos_of, score, scorer_of
from speech import last_tach, said_tach

from capture.audio import RATE, decode
from capture.observed import Hearing, Transcript, Word
from capture.speech import find_speech, gather
from capture.transcribe import SECTION_PAUSE_S, SECTION_S, Ear, Way, _in_order
from extract import read
from extract.values.catalogue import load as catalogue
from extract.values.known import Known

MODELS = Path(__file__).parents[1] / "models"
WAYS = (
    Way("base-hangar", "section", tail_s=6.0),
    Way("base-hangar", "window"),
    Way("base", "phrase", 12.0, 1.0, 6.0),
    Way("tiny.en", "hints", hints=True),
    Way("moonshine", "phrase", 12.0, 1.0),
    Way("moonshine-hangar", "phrase", 12.0, 1.0),
)
TRADE = ("tach", "Hobbs", "quarts", "safetied", "torqued", "cowl", "leak check", "thou")
"""Shown to a way with hints."""
SILENT = 5  # values not drafted that one wrong without a doubt is as bad as: our own choice
SHOWN = ("recall", "precision", "silent_wrong", "flagged")


def label(way: Way) -> str:
    """Name a way as this program does."""
    return f"{way.model}/{way.name}"


def spent() -> float:
    """Give the processor seconds of this process, those in the system included."""
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def hear(folder: Path, into: Path) -> None:
    """Hear every recording in every way, one at a time.

    A way that stands behind another of its model and pieces shares what that one encoded.
    """
    into.mkdir(parents=True, exist_ok=True)
    ear = Ear(MODELS, words=TRADE)
    memos = memos_of(folder / "truth.json")
    for number, memo in enumerate(memos, 1):
        file = into / f"{memo['media']}.json"
        done: Json = json.loads(file.read_text("utf-8")) if file.exists() else {"ways": {}}
        todo = [way for way in WAYS if label(way) not in done["ways"]]
        if not todo:
            continue
        began = spent()
        samples = decode(folder / memo["media"])
        speech = list(find_speech(samples))
        done |= {"seconds": len(samples) / RATE, "speech": speech, "finding": spent() - began}
        for way in todo:
            ear._engine(way.model)  # loaded before the clock starts
            began = spent()
            words: list[Word] = []
            for section in gather(speech, SECTION_S, SECTION_PAUSE_S):
                words += ear._section(samples, section, way)
            took = spent() - began
            words = list(_in_order(words))
            done["ways"][label(way)] = {"took": took, "words": [astuple(word) for word in words]}
        file.write_text(json.dumps(done), "utf-8")
        print(f"{number}/{len(memos)}", end=" ", flush=True, file=sys.stderr)


def kept(folder: Path, memos: Sequence[Json]) -> dict[str, Json]:
    """Give what was kept of each recording."""
    return {
        memo["media"]: json.loads((folder / f"{memo['media']}.json").read_text("utf-8"))
        for memo in memos
        if (folder / f"{memo['media']}.json").exists()
    }


def transcript(media: str, held: Json, ways: Iterable[str]) -> Transcript:
    """Give the transcript that some ways together would have made."""
    hearings = tuple(
        Hearing(way.split("/")[0], way, tuple(Word(*word) for word in held["ways"][way]["words"]))
        for way in ways
    )
    return Transcript(media, held["seconds"], hearings, tuple(map(tuple, held["speech"])))


def cost(held: dict[str, Json], ways: Iterable[str]) -> float:
    """Give processor seconds a second of sound, finding the speech included."""
    names = tuple(ways)
    used = sum(h["finding"] + sum(h["ways"][w]["took"] for w in names) for h in held.values())
    return float(used / sum(h["seconds"] for h in held.values()))


def phrases(memos: Sequence[Json], held: dict[str, Json], ways: Sequence[str]) -> list[bool]:
    """Say of each phrase with spoken numbers whether any of the ways has them all right."""
    found = []
    for memo in memos:
        heard = transcript(memo["media"], held[memo["media"]], ways)
        for start, end, said in memo.get("phrases", ()):
            if figures_of(spelled(said)):
                found.append(any(right(said, near(h.words, start, end)) for h in heard.hearings))
    return found


def remember() -> None:
    """Let each hearing be read once, though it stands in many sets: reading is pure."""
    parse, made = read._pipeline, read.to_doc
    done: dict[Any, tuple[Any, Any]] = {}

    def pipeline(fields: Any, year: int | None) -> Callable[[Any], Any]:
        def once(words: Any) -> Any:
            key = (year, words)
            if key not in done:
                doc = parse(fields, year)(made(words))
                done[key] = doc, doc._.statements
            doc, stated = done[key]
            doc._.statements = stated
            return doc

        return once

    read._pipeline = pipeline
    read.to_doc = lambda words, *_: tuple(words)


def drafted(memos: Sequence[Json], held: dict[str, Json], ways: Sequence[str]) -> list[Json]:
    """Give the drafts that are read from some ways together."""
    fields = catalogue()
    return [
        draft.to_json() | {"media": memo["media"]}
        for memo in memos
        for draft in read.read_memo(transcript(memo["media"], held[memo["media"]], ways), fields)
    ]


def knowing(memos: Sequence[Json], held: dict[str, Json], ways: Sequence[str]) -> tuple[int, ...]:
    """Give tach times right and silently wrong, and their number, with the last one known."""
    fields = catalogue()
    good = wrong = count = 0
    for memo in memos:
        true = said_tach(memo)
        if true is None:
            continue
        count += 1
        known = Known(last_tach=last_tach(memo))
        drafts = read.read_memo(transcript(memo["media"], held[memo["media"]], ways), fields, known)
        tach = [d for d in drafts if d.name == "tach_time"]
        good += any(d.value == true for d in tach)
        wrong += any(d.value != true and not d.doubts for d in tach)
    return good, wrong, count


def figures(truth: Path, drafts: list[Json], scorer: Path) -> dict[tuple[str, str], str]:
    """Give the scorer's figures by (group, figure)."""
    lines = (line.split(" ", 2) for line in score(truth, drafts, scorer).splitlines())
    return {(line[0], line[1]): line[2] for line in lines if len(line) == 3}


def front(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Give the rows that no cheaper one equals in values right less silent errors."""
    made: list[dict[str, Any]] = []
    for row in sorted(rows, key=lambda r: r["cost"]):
        if not made or row["worth"] > made[-1]["worth"]:
            made.append(row)
    return made


def plot(rows: list[dict[str, Any]], marked: list[dict[str, Any]], file: Path) -> None:
    """Draw values right and silent errors against processor time; prints in black and white."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, (top, low) = pyplot.subplots(2, 1, figsize=(10, 8), sharex=True, layout="constrained")
    for axis, key in ((top, "recall"), (low, "silent_wrong")):
        for marks, size in (("o", 1), ("s", 2), ("^", 3)):
            some = [r for r in rows if len(r["ways"]) == size]
            style = {"marker": marks, "ls": "", "mfc": "none", "mec": "0.6", "ms": 4}
            label = f"{size} {'way' if size == 1 else 'ways'}"
            axis.plot([r["cost"] for r in some], [r[key] for r in some], **style, label=label)
        for at, row in enumerate(marked, 1):
            name = f"{at}  " + " + ".join(row["ways"])
            axis.plot([row["cost"]], [row[key]], "k.", ms=9, label=name)
            axis.annotate(f" {at}", (row["cost"], row[key]), va="bottom", fontsize=9)
    top.set(ylabel="values right, of all said")
    low.set(ylabel="wrong without a doubt, of all drafted", xlabel="processor seconds a second")
    figure.legend(*top.get_legend_handles_labels(), loc="outside lower center", fontsize=7)
    figure.savefig(file, dpi=110)


def interval(hits: Sequence[bool]) -> str:
    """Give a share with its 95 % interval, by resampling."""
    pick = random.Random(1)  # noqa: S311 - no secret
    shares = sorted(sum(pick.choices(hits, k=len(hits))) / len(hits) for _ in range(1000))
    return f"{sum(hits) / len(hits):.3f} [{shares[25]:.3f}, {shares[974]:.3f}]"


def weigh(given: argparse.Namespace) -> None:
    """Score every set of ways, and print the front."""
    truth, scorer = given.set / "truth.json", scorer_of(given.set, given.scorer)
    every = memos_of(truth)
    held = kept(given.kept, every)
    memos = [memo for memo in every if memo["media"] in held]
    if len(memos) < len(every):
        print(f"{len(memos)} of {len(every)} recordings were heard", file=sys.stderr)
    names = [label(way) for way in WAYS]
    sizes = () if given.only else range(1, given.most + 1)
    sets = [one for size in sizes for one in combinations(names, size)]
    sets = list(dict.fromkeys([*sets, *(tuple(text.split("+")) for text in given.also)]))
    remember()
    rows: list[dict[str, Any]] = []
    part = given.kept / "truth-part.json"
    part.write_text(json.dumps(memos), "utf-8")
    for ways in sets:
        found = figures(part, drafted(memos, held, ways), scorer)
        row: dict[str, Any] = {"ways": ways, "cost": cost(held, ways)}
        row |= {key: float(found["all", key].split()[0]) for key in SHOWN}
        row["worth"] = row["recall"] - SILENT * row["silent_wrong"]
        hits = phrases(memos, held, ways)
        row["any"] = interval(hits) if hits else "-"
        row["by"] = {group: found[group, "recall"] for group, key in found if key == "recall"}
        if given.last_tach:
            row["tach"] = knowing(memos, held, ways)
        rows.append(row)
        shown = " ".join(f"{key} {row[key]:.3f}" for key in ("cost", *SHOWN))
        print(f"{' + '.join(ways)}: {shown} any {row['any']} {row['by']} {row.get('tach', '')}")
    best = front(rows)
    print("\nfront:")
    for row in best:
        print(f"{row['cost']:.3f} {row['recall']:.3f} {row['silent_wrong']:.0f} {row['ways']}")
    if given.plot:
        also = [tuple(text.split("+")) for text in given.also]
        marked = [row for row in rows if row in best or row["ways"] in also]
        plot(rows, sorted(marked, key=lambda row: row["cost"]), given.plot)


def main() -> None:
    """Hear or weigh."""
    ask = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    ask.add_argument("what", choices=("hear", "weigh"))
    ask.add_argument("set", type=Path)
    ask.add_argument("--into", "--from", dest="kept", type=Path, required=True)
    ask.add_argument("--also", action="append", default=[], help="WAY+WAY+…")
    ask.add_argument("--only", action="store_true", help="only the sets of --also")
    ask.add_argument("--most", type=int, default=3)
    ask.add_argument("--last-tach", action="store_true")
    ask.add_argument("--scorer", type=Path)
    ask.add_argument("--plot", type=Path)
    given = ask.parse_args()
    began = time.perf_counter()
    hear(given.set, given.kept) if given.what == "hear" else weigh(given)
    print(f"{time.perf_counter() - began:.0f} s", file=sys.stderr)


if __name__ == "__main__":
    main()
