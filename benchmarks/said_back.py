"""Is what is said back heard as it was said? python benchmarks/said_back.py [--values N] [--quick].

Lets espeak-ng speak what is said back of values of every field, lets the tool's own ear hear it (in
every way, or once with --quick), and compares the values: the same, doubted or not heard, another
value without a doubt. One JSON line a value goes to --out; a run that is begun again goes on where
that file ends, so that it can be had in pieces. --show prints what such a file holds, field by
field.

Needs Debian's espeak-ng and the models. 500 values in every way take an hour on two cores; give it
little of a shared machine with `nice -n 19` and OMP_NUM_THREADS=1.
"""

from __future__ import annotations

import argparse
import json
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

TOP = Path(__file__).parent.parent
sys.path.insert(0, str(TOP))

import psutil  # noqa: E402  (after the path to the project is set)

from capture.audio import decode  # noqa: E402
from extract.read import read_memo  # noqa: E402
from extract.values.catalogue import load as catalogue  # noqa: E402
from tests.desk.test_readback_wording import OTHER_VERBS, spoken_values  # noqa: E402

SAME, DOUBTED, OTHERWISE = "the same", "doubted or not heard", "another, without a doubt"


def chosen(fields: Any, many: int) -> list[tuple[Any, str]]:
    """Give so many drafts of every field with what is said of them, spread over the fields."""
    every = [
        (made, say)
        for made, say in spoken_values(fields)
        if not (
            made.name == "recurring_done" and (made.value is False or made.position in OTHER_VERBS)
        )
    ]
    return every[:: max(1, len(every) // many)]


def sound_of(say: str) -> Any:
    """Let the voice say a sentence; samples as the ear takes them."""
    raw = subprocess.run(
        ["espeak-ng", "-v", "en-us", "-s", "150", "--stdout", say], check=True, capture_output=True
    ).stdout
    with tempfile.NamedTemporaryFile(suffix=".wav") as file:
        file.write(raw)
        file.flush()
        return decode(Path(file.name))


def quickly(ear: Any, sound: Any) -> Any:
    """Hear a sound once, as the first hearing of a phrase does."""
    from capture.speech import find_speech
    from desk.readback.phrases import Phrases

    phrases = Phrases(ear, find_speech)
    phrases.feed(sound, whole=True)
    return phrases.transcript("said.wav", None)


def judged(made: Any, heard: Any, fields: Any) -> tuple[str, str]:
    """Give how a value came back, and as what."""
    found = [d for d in read_memo(heard, fields) if d.slot == made.slot]
    if found and fields.fields[made.name].kind_object.same(found[0].value, made.value):
        return (SAME if not found[0].doubts else DOUBTED), str(found[0].value)
    if not found or found[0].doubts:
        return DOUBTED, str(found[0].value) if found else ""
    return OTHERWISE, str(found[0].value)


def run(args: argparse.Namespace, out: Path) -> None:
    """Say and hear what the file does not hold yet."""
    from capture.transcribe import Ear

    if not shutil.which("espeak-ng"):
        raise SystemExit("no espeak-ng on this machine")
    fields, ear = catalogue(), Ear(TOP / "models")
    done = {one["say"] for one in lines(out)}
    todo = [(made, say) for made, say in chosen(fields, args.values) if say not in done]
    for made, say in todo[: args.most]:
        sound = sound_of(say)
        heard = quickly(ear, sound) if args.quick else ear.hear(sound, "said.wav")
        how, as_ = judged(made, heard, fields)
        told = {"field": made.name, "value": str(made.value), "say": say, "how": how, "as": as_}
        with out.open("a", encoding="utf-8") as file:
            file.write(json.dumps({**told, "heard": heard.text}) + "\n")


def lines(out: Path) -> list[dict[str, str]]:
    """Give what a file of results holds."""
    if not out.exists():
        return []
    return [json.loads(line) for line in out.read_text("utf-8").splitlines()]


def show(out: Path) -> None:
    """Print the counts of each field, and what did not come back the same."""
    every = lines(out)
    by_field: dict[str, Counter[str]] = {}
    for one in every:
        by_field.setdefault(one["field"], Counter())[one["how"]] += 1
    print(f"{'field':24}{SAME:>10}{DOUBTED:>24}{OTHERWISE:>28}")
    for name, counts in by_field.items():
        print(f"{name:24}{counts[SAME]:10}{counts[DOUBTED]:24}{counts[OTHERWISE]:28}")
    total = Counter(one["how"] for one in every)
    print(f"{len(every):<24}{total[SAME]:10}{total[DOUBTED]:24}{total[OTHERWISE]:28}")
    for one in every:
        if one["how"] != SAME:
            print(f"{one['how']}: {one['say']} -> {one['as']} ({one['heard']})")
    print(f"load {psutil.getloadavg()[0]:.1f}")


def main() -> None:
    """Read the options and run."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--values", type=int, default=500)
    parser.add_argument("--most", type=int, default=10_000, help="at most so many in this run")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--out", type=Path, default=None)
    parser.add_argument("--show", action="store_true", help="print what --out holds")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        out = args.out or Path(folder) / "said.jsonl"
        if not args.show:
            run(args, out)
        show(out)


if __name__ == "__main__":
    main()
