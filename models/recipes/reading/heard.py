"""What our own ears make of marked notes: heard in noise, their marks carried over by alignment.

    PYTHONPATH=../speech heard.py hear SAID OUT.json.gz --models DIR --seed 3   (PyTorch, the program)
    heard.py carry OUT.json.gz heard --seed 3
    heard.py check                                                   (the alignment, on cases)

SAID is what said.py wrote. `hear` puts each note into a room, noise and a phone of
recipes/speech/hangar.py (a quarter of them stay clean, the others lie between 3 and 25 dB) and hears
it in all the program's ways (`capture.transcribe.Ear`). `carry` lays the marks onto the words of two
hearings a note, one of `base-hangar` and one of another ear, and writes `heard/HAND.txt`: ear, dB (-:
clean), marked line, with tabs between. A mark that has lost all its words is left out. A note is left
out where a mark's words cannot be found again, where a *no* came or went beside one, or where more
than half of its marks or words were lost.
"""

from __future__ import annotations

import argparse
import gzip
import json
import random
import re
import sys
from difflib import SequenceMatcher
from functools import cache
from pathlib import Path

HERE = Path(__file__).parent
TOP = HERE.parents[2]
sys.path[:0] = [str(TOP), str(HERE)]

import marks  # noqa: E402

TOKEN = re.compile(r"[A-Za-z0-9']+")
NO = {"no", "not", "never", "without", "none", "nothing", "nope", "nor", "cannot"}
GAP, OTHER = 0.75, 0.4  # a word lost or added; a word taken for another, and how unlike besides
ALIKE, NEAR = 0.6, 0.7
LATIN = {"’": "'", "–": "-", "—": "-"}


def tokens(text: str) -> list[tuple[str, int, int]]:
    """Give (word in lower case without apostrophes, start, end) of a text."""
    for odd, plain in LATIN.items():
        text = text.replace(odd, plain)
    found = ((m.group().lower().replace("'", ""), m.start(), m.end()) for m in TOKEN.finditer(text))
    return [one for one in found if one[0]]


@cache
def alike(a: str, b: str) -> float:
    """Give from 0 to 1 how much of two texts' letters is the same, in order."""
    return SequenceMatcher(None, a, b, autojunk=False).ratio()


def aligned(said: list[str], heard: list[str]) -> list[tuple[int | None, int | None]]:
    """Give the cheapest way to turn one list of words into another, as pairs of places."""
    n, m = len(said), len(heard)
    cost = [[0.0] * (m + 1) for _ in range(n + 1)]
    for i in range(n + 1):
        for j in range(m + 1):
            ways = []
            if i:
                ways.append(cost[i - 1][j] + GAP)
            if j:
                ways.append(cost[i][j - 1] + GAP)
            if i and j:
                ways.append(cost[i - 1][j - 1] + _change(said[i - 1], heard[j - 1]))
            cost[i][j] = min(ways, default=0.0)
    pairs, i, j = [], n, m
    while i or j:
        if (
            i
            and j
            and abs(cost[i][j] - cost[i - 1][j - 1] - _change(said[i - 1], heard[j - 1])) < 1e-9
        ):
            i, j = i - 1, j - 1
            pairs.append((i, j))
        elif i and abs(cost[i][j] - cost[i - 1][j] - GAP) < 1e-9:
            i -= 1
            pairs.append((i, None))
        else:
            j -= 1
            pairs.append((None, j))
    return pairs[::-1]


def _change(a: str, b: str) -> float:
    return 0.0 if a == b else OTHER + 0.8 * (1 - alike(a, b))


class LostError(ValueError):
    """A note whose marks cannot be carried over; says why."""


def carried(line: str, heard: str) -> str:
    """Give a heard text with the marks of the line that was said. Raises LostError."""
    note = marks.note(line)
    said, got = tokens(note["marked"]), tokens(heard)
    pairs = aligned([t for t, *_ in said], [t for t, *_ in got])
    to = {i: j for i, j in pairs if i is not None and j is not None}
    if len(to) < len(said) / 2:
        raise LostError("more than half of its words")
    taken = set(to.values())
    heads = [m.group()[1 : m.group().index("|")] for m in marks.MARK.finditer(line)]
    put, last, gone = [], 0, 0
    for head, (a, b, *_rest) in zip(heads, note["spans"], strict=True):
        mine = [k for k, (_, s, e) in enumerate(said) if s < b and a < e]
        if not mine:
            raise LostError("a mark without words")
        span = _span(mine, to, said, got, taken)
        if span is None:
            gone += 1
            continue
        first, end = span
        if first < last:
            raise LostError("two marks on one word")
        last = end
        _same_no(mine, span, said, got)
        put.append((got[first][1], got[end - 1][2], head))
    if gone * 2 > len(heads):
        raise LostError("more than half of its marks")
    made, at = "", 0
    for a, b, head in put:
        made += heard[at:a] + "{" + head + "|" + heard[a:b] + "}"
        at = b
    return made + heard[at:]


def _span(
    mine: list[int], to: dict[int, int], said: list, got: list, taken: set[int]
) -> tuple[int, int] | None:
    """Give the heard words of a mark as (first, behind the last), None where all were lost."""
    hit = [to[k] for k in mine if k in to]
    if not hit:
        return None
    first, end = min(hit), max(hit) + 1
    want = "".join(said[k][0] for k in mine)

    def like(a: int, b: int) -> float:
        return alike(want, "".join(got[j][0] for j in range(a, b)))

    # words that came from nowhere belong to a mark where they make it more like itself
    while first and first - 1 not in taken and like(first - 1, end) > like(first, end):
        first -= 1
    while end < len(got) and end not in taken and like(first, end + 1) > like(first, end):
        end += 1
    if like(first, end) >= ALIKE:
        return first, end
    before, after = mine[0] - 1, mine[-1] + 1
    held = before < 0 or _beside(before, first - 1, to, said, got)
    held = held and (after >= len(said) or _beside(after, end, to, said, got))
    if not held:
        raise LostError("a mark's words")
    return first, end


def _beside(k: int, j: int, to: dict[int, int], said: list, got: list) -> bool:
    return to.get(k) == j and alike(said[k][0], got[j][0]) >= NEAR


def _same_no(mine: list[int], span: tuple[int, int], said: list, got: list) -> None:
    """Raise LostError where a negation came or went in a mark's words or the three before them."""

    def count(words: list, a: int, b: int) -> int:
        near = [t for t, *_ in words[max(0, a - 3) : b]]
        return sum(t in NO or (t.endswith("nt") and len(t) > 3) for t in near) > 0

    if count(said, mine[0], mine[-1] + 1) != count(got, *span):
        raise LostError("a no")


def read(folder: Path):
    """Give (hand, ear, dB or None, marked line) of every heard note of a folder."""
    for file in sorted(folder.glob("*.txt")):
        for row in file.read_text("utf-8").splitlines():
            ear, level, line = row.split("\t")
            yield file.stem, ear, None if level == "-" else int(level), line


def carry(given: argparse.Namespace) -> None:
    """Write what two ears heard of each note, marked."""
    from collections import Counter

    rng, why, made = random.Random(given.seed), Counter(), {}
    for memo in json.loads(gzip.decompress(given.file.read_bytes())):
        ears = {}
        for one in memo["transcript"]["hearings"]:
            ears.setdefault(one["model"], []).append(" ".join(w["text"] for w in one["words"]))
        others = [name for name in ears if name != "base-hangar"]
        for ear in ("base-hangar", rng.choice(others)):
            text = re.sub(r"[{}|\t]", "", rng.choice(ears[ear]))
            try:
                line = carried(memo["line"], text)
                marks.note(line)
            except ValueError as lost:
                why[str(lost)] += 1
                continue
            level = "-" if memo["snr_db"] is None else str(memo["snr_db"])
            rows = made.setdefault(memo["source"], [])
            if not any(row.endswith("\t" + line) for row in rows):
                rows.append(f"{ear}\t{level}\t{line}")
    given.out.mkdir(exist_ok=True)
    for source, rows in made.items():
        (given.out / f"{source}.txt").write_text("\n".join(rows) + "\n", "utf-8")
    print(sum(map(len, made.values())), "carried over; left out for", dict(why))


def hear(given: argparse.Namespace) -> None:
    """Make noise, hear every note in all ways, keep the transcripts."""
    import os
    import time
    from multiprocessing import get_context

    import numpy as np
    import soundfile
    import torch

    sys.path.append(str(HERE.parent / "speech"))
    import hangar

    device = "cuda" if torch.cuda.is_available() else "cpu"
    rng = random.Random(given.seed)
    torch.manual_seed(given.seed)
    size, items, clips = 45 * hangar.RATE, [], []
    for file in sorted(given.said.glob("said-*.json")):
        sound, _ = soundfile.read(file.with_suffix(".opus"), dtype="float32")
        at = 0
        for item in json.loads(file.read_text("utf-8")):
            items.append(item)
            clips.append(torch.from_numpy(sound[at : at + item["samples"]][:size]))
            at += item["samples"]
    order = sorted(range(len(items)), key=lambda k: rng.random())
    items, clips = [items[k] for k in order], [clips[k] for k in order]
    talk = [(30000 * c).to(device) for c in rng.sample(clips, min(100, len(clips)))]
    bank = hangar.bank(rng, 64, size, device, talk)
    noisy = []
    for item, clip in zip(items, clips, strict=True):
        x = clip.to(device)[None]
        item["snr_db"] = None if rng.random() < 0.25 else rng.randrange(3, 26)
        if item["snr_db"] is not None:
            active = sum(round((b - a) * hangar.RATE) for a, b, _ in item["phrases"])
            x = hangar.rooms(x, 0.6)
            power = (x.pow(2).sum() / active).sqrt()
            noise = torch.roll(bank[rng.randrange(64)].float(), rng.randrange(size))
            x = x + noise[: x.shape[1]] * power * 10 ** (-item["snr_db"] / 20)
            x = hangar.phones(x, 0.75)
        noisy.append((x[0] / x.abs().max() * 0.7).cpu().numpy().astype(np.float16))
    os.cpu_count = lambda: 1  # one thread an ear
    begun = time.monotonic()
    with get_context("fork").Pool(given.jobs, _open, (given.models,)) as pool:
        for item, found in zip(items, pool.imap(_listen, noisy, 1), strict=True):
            item["transcript"] = found
            if time.monotonic() - begun > given.seconds:
                pool.terminate()
                break
    items = [item for item in items if "transcript" in item]
    given.out.write_bytes(gzip.compress(json.dumps(items).encode()))
    print(f"{len(items)} notes heard")


def _open(folder: Path) -> None:
    from capture.transcribe import Ear

    global EAR  # one a process
    EAR = Ear(folder)


def _listen(samples):
    from capture.observed import to_json

    return to_json(EAR.hear(samples.astype("float32"), "said"))


CASES = (
    (
        "Put in {oil_added=7.25|seven and a quarter quarts}, drain's shut.",
        "Put in seven and a quarter warts, drains shut.",
        "Put in {oil_added=7.25|seven and a quarter warts}, drains shut.",
    ),
    (
        "Tach {tach_time=234.5|two three four point five}. {drain_closed=true|Quick drain is shut}.",
        "Tack to three four point five. Quick rain is shot.",
        "Tack {tach_time=234.5|to three four point five}. {drain_closed=true|Quick rain is shot}.",
    ),
    (  # heard as something else, between neighbours that hold
        "torqued to {filter_torque=17|seventeen} foot pounds",
        "torqued to heaven foot pounds",
        "torqued to {filter_torque=17|heaven} foot pounds",
    ),
    (  # a mark that lost all its words
        "Put in {oil_added=7|seven} quarts of oil and {sample_taken=true|took a sample}",
        "Put in seven quarts of oil and",
        "Put in {oil_added=7|seven} quarts of oil and",
    ),
    (
        "dip stick shows {oil_level=6.5|six and a half} now",
        "dipstick shows six and a half now",
        "dipstick shows {oil_level=6.5|six and a half} now",
    ),
    ("filter is {filter_safetied=false|not safetied} yet", "filter is now safetied yet", None),
    ("the {oil_added=7|seven quarts} went in fine today", "hello my dear old friend", None),
)


def check() -> None:
    """Try the alignment on cases with a known outcome."""
    for said, heard, want in CASES:
        try:
            got = carried(said, heard)
        except LostError:
            got = None
        assert got == want, (said, heard, got)
    print(len(CASES), "cases hold")


def main() -> None:
    """Run one step."""
    p = argparse.ArgumentParser(description=__doc__)
    steps = p.add_subparsers(dest="step", required=True)
    a = steps.add_parser("hear")
    a.add_argument("said", type=Path)
    a.add_argument("out", type=Path)
    a.add_argument("--models", type=Path, required=True)
    a.add_argument("--seed", type=int, required=True)
    a.add_argument("--jobs", type=int, default=2)
    a.add_argument("--seconds", type=float, default=1e9, help="stop hearing after so long")
    a = steps.add_parser("carry")
    a.add_argument("file", type=Path)
    a.add_argument("out", type=Path)
    a.add_argument("--seed", type=int, required=True)
    steps.add_parser("check")
    given = p.parse_args()
    {"hear": hear, "carry": carry}.get(given.step, lambda _: check())(given)


if __name__ == "__main__":
    main()
