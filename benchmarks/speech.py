"""How rightly recorded notes become drafts, beside two plain decodings read by the same extractor.

`python benchmarks/speech.py --set DIR [--last-tach] [--hearings DIR] [--out DIR] [--scorer FILE]`

DIR holds `truth.json` (see benchmarks/scoring.py) and the recordings. Rows, in one run:

- all hearings: `cowlnote try --json` on every recording;
- with the last tach time known (--last-tach): the same for every recording in which a tach time is
  said, each with a profile whose last reading is 24.6 h below the true one;
- `base` and `tiny.en` (`cowlnote models get tiny.en` fetches it): one decoding each with
  faster-whisper's own defaults, word times added.

Prints the set's scorer's figures of each row, then all rows side by side with word error (jiwer,
lower case, numbers spelled out by num2words), and of the whole program the real time factor (wall
time over the length of the sound, its start included) and the peak of memory. With --hearings the
transcripts are made in this process and kept in that folder, one NAME.json a recording, or taken
from there when it has them: for work on the reading alone. --out keeps the drafts of every row.
"""

from __future__ import annotations

import argparse
import json
import re
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import jiwer
from num2words import num2words
from scoring import Json, machine, memos_of, score, scorer_of, tried

from capture.audio import RATE, decode
from capture.observed import Hearing, Transcript, Word, to_json, transcript_from_json
from capture.transcribe import Ear
from desk.settings import load as settings
from extract.read import read_memo
from extract.values.catalogue import load as catalogue
from extract.values.known import NOTHING, Known

SINCE_LAST = Decimal("24.6")
SHOWN = (
    "precision",
    "recall",
    "silent_wrong",
    "trap_hits",
    "flagged",
    "time_error_p90",
    "ece",
)
OURS, KNOWING = "all hearings", "last tach known"


def plain(text: str) -> str:
    """Give lower-case words, figures spelled out, so that no way of writing a number counts."""

    def spelled(found: re.Match[str]) -> str:
        whole, _, part = found[0].replace(",", "").partition(".")
        words = [num2words(int(whole))] if whole else []
        return " ".join([*words, *(["point", *map(num2words, map(int, part))] if part else [])])

    text = re.sub(r"\d[\d,]*(?:\.\d+)?|\.\d+", lambda m: f" {spelled(m)} ", text.lower())
    return " ".join(re.sub(r"[^a-z ]", " ", text.replace("'", "").replace("-", " ")).split())


def said_tach(memo: Json) -> Decimal | None:
    """Give the true tach time of a memo, h, or None."""
    found = [f["value"] for f in memo["fields"] if f["name"] == "tach_time"]
    return Decimal(str(found[0])) if found else None


def day_of(memo: Json) -> date | None:
    """Give the day on which a memo was recorded, where the set says it: as intake reads it off."""
    said = memo.get("recorded_at")
    return datetime.fromisoformat(said).date() if said else None


def last_tach(memo: Json) -> Decimal | None:
    """Give a last reading below the true tach time of a memo, h, or None."""
    tach = said_tach(memo)
    return None if tach is None else max(Decimal(0), tach - SINCE_LAST)


def by_program(folder: Path, memos: list[Json]) -> list[Json]:
    """Give the drafts of one run of the program over all recordings."""
    lines = tried([str(folder / memo["media"]) for memo in memos])
    return [draft for line in lines for draft in json.loads(line)]


def knowing(folder: Path, memos: list[Json]) -> list[Json]:
    """Give the drafts of recordings that say a tach time, each run with a last reading below it."""
    drafts = []
    for memo in memos:
        with tempfile.TemporaryDirectory() as home:
            profile = f"[last]\ntach_time = {last_tach(memo)}\n"
            (Path(home) / "aircraft.toml").write_text(profile, "utf-8")
            lines = tried([str(folder / memo["media"])], home=Path(home))
        drafts += [draft for line in lines for draft in json.loads(line)]
        print(".", end="", flush=True, file=sys.stderr)
    print(file=sys.stderr)
    return drafts


def read(
    memos: list[Json], heard: dict[str, Transcript], known: Callable[[Json], Known]
) -> list[Json]:
    """Read transcripts in this process, each with what is known for its memo."""
    fields = catalogue()
    return [
        draft.to_json() | {"media": memo["media"]}
        for memo in memos
        for draft in read_memo(heard[memo["media"]], fields, known(memo))
    ]


def kept(folder: Path, memos: list[Json], keep: Path) -> dict[str, Transcript]:
    """Hear every recording of which no transcript is kept yet; give them all."""
    keep.mkdir(parents=True, exist_ok=True)
    ear = Ear(settings(None, {}).models_dir)
    heard = {}
    for memo in memos:
        file = keep / f"{memo['media']}.json"
        if not file.exists():
            made = ear.hear(decode(folder / memo["media"]), memo["media"])
            file.write_text(json.dumps(to_json(made)), "utf-8")
            print(".", end="", flush=True, file=sys.stderr)
        heard[memo["media"]] = transcript_from_json(json.loads(file.read_text("utf-8")))
    return heard


def decoded(folder: Path, memos: list[Json], model: str) -> dict[str, Transcript]:
    """Decode every recording once with a model and the library's defaults."""
    from faster_whisper import WhisperModel

    engine = WhisperModel(
        str(settings(None, {}).models_dir / model), device="cpu", compute_type="int8"
    )
    heard = {}
    for memo in memos:
        samples = decode(folder / memo["media"])
        segments, _ = engine.transcribe(samples, language="en", word_timestamps=True)
        words = tuple(
            Word(w.word.strip(), w.start, w.end, w.probability) for s in segments for w in s.words
        )
        hearing = Hearing(model=model, settings="library defaults", words=words)
        heard[memo["media"]] = Transcript(
            media=memo["media"], duration_s=len(samples) / RATE, hearings=(hearing,)
        )
    return heard


def word_error(memos: list[Json], heard: dict[str, Transcript]) -> float:
    """Give the word error rate of each recording's first hearing, over all of them."""
    said = [plain(memo["script"]) for memo in memos]
    return float(jiwer.wer(said, [plain(heard[m["media"]].hearings[0].text) for m in memos]))


def tach(memos: list[Json], drafts: list[Json]) -> str:
    """Say how many true tach times were drafted exactly, and how many wrongly without a doubt."""
    right = wrong = count = 0
    for memo in memos:
        true = said_tach(memo)
        got = [
            d for d in drafts if d["name"] == "tach_time" and Path(d["media"]).name == memo["media"]
        ]
        count += true is not None
        right += any(true is not None and Decimal(str(d["value"])) == true for d in got)
        wrong += any(Decimal(str(d["value"])) != true and not d["doubts"] for d in got)
    return f"{right}/{count}, silently wrong {wrong}"


def main() -> None:
    """Run every row, score and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--set", type=Path, required=True)
    parser.add_argument("--last-tach", action="store_true")
    parser.add_argument("--hearings", type=Path)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--scorer", type=Path)
    parser.add_argument("--list", action="store_true")
    given = parser.parse_args()
    scorer, truth = scorer_of(given.set, given.scorer), given.set / "truth.json"
    memos = memos_of(truth)
    with_tach = [memo for memo in memos if said_tach(memo) is not None]

    rows: dict[str, list[Json]] = {}
    errors: dict[str, str] = {}
    cost = ""
    if given.hearings:
        heard = kept(given.set, memos, given.hearings)
        rows[OURS] = read(memos, heard, lambda m: Known(on=day_of(m)))
        errors[OURS] = f"{word_error(memos, heard):.3f}"
        if given.last_tach:
            rows[KNOWING] = read(
                with_tach, heard, lambda m: Known(last_tach=last_tach(m), on=day_of(m))
            )
    else:
        begun = time.perf_counter()
        rows[OURS] = by_program(given.set, memos)
        took = time.perf_counter() - begun
        peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        sound = sum(memo["duration"] for memo in memos)
        cost = (
            f"real time factor {took / sound:.2f} ({took:.0f} s for {sound:.0f} s), {peak:.0f} MB"
        )
        if given.last_tach:
            rows[KNOWING] = knowing(given.set, with_tach)
    for model in ("base", "tiny.en"):
        heard = decoded(given.set, memos, model)
        rows[model] = read(memos, heard, lambda _: NOTHING)
        errors[model] = f"{word_error(memos, heard):.3f}"

    print(machine())
    found: dict[str, dict[tuple[str, str], str]] = {}
    for name, drafts in rows.items():
        printed = score(truth, drafts, scorer, listed=given.list)
        print(f"\n== {name}\n{printed}", end="")
        lines = (line.split(" ", 2) for line in printed.splitlines())
        found[name] = {(line[0], line[1]): line[2] for line in lines if len(line) == 3}
        if given.out:
            given.out.mkdir(parents=True, exist_ok=True)
            (given.out / f"{name.replace(' ', '-')}.json").write_text(json.dumps(drafts), "utf-8")
    columns = [name for name in rows if name != KNOWING]
    print("\n" + " ".join(f"{text:>26}" for text in ("", *columns)))
    for group, figure in found[OURS]:
        if figure in SHOWN:
            cells = (found[name].get((group, figure), "") for name in columns)
            print(" ".join(f"{text:>26}" for text in (f"{group} {figure}", *cells)))
    print(" ".join(f"{t:>26}" for t in ("word error", *(errors.get(n, "") for n in columns))))
    print("\ntach time exact: " + "; ".join(f"{n}: {tach(memos, d)}" for n, d in rows.items()))
    if cost:
        print(cost)


if __name__ == "__main__":
    main()
