"""Which trials are made, in what order, and how each ended: for the crash walk and the replay."""

from __future__ import annotations

import json
import random
import sys
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath


@dataclass(frozen=True, slots=True)
class Trial:
    """One trial of a command: what tells it from all others, its sort, and how it is made.

    `made` gives what does not hold, in words; nothing where all does.
    """

    command: str
    told: str
    sort: str
    made: Callable[[], str]


def endings(names: str) -> str:
    """Give the sorts of the files that are named, by their endings; whole names tell too much."""
    own = [one.rpartition("/")[2] for one in names.split()]
    return " ".join("new" if one.startswith(".new-") else PurePath(one).suffix for one in own)


class Log:
    """The trials that were made, a line of JSON each, so that a long walk can be gone on with."""

    def __init__(self, path: Path | None) -> None:
        self._path = path
        self.known: dict[tuple[str, str], str] = {}
        if path is not None and path.exists():
            for line in path.read_text("utf-8").splitlines():
                command, told, wrong = json.loads(line)
                self.known[command, told] = wrong

    def note(self, trial: Trial, wrong: str) -> None:
        """Note how a trial ended."""
        if self._path is not None:
            with self._path.open("a", encoding="utf-8") as out:
                out.write(json.dumps([trial.command, trial.told, wrong]) + "\n")


def in_turn(every: Sequence[Trial], seed: int) -> list[Trial]:
    """Give the trials in a seeded order, the first of each sort first, then the second of each."""
    shuffled = random.Random(seed).sample(every, len(every))
    seen: Counter[str] = Counter()
    turns = []
    for one in shuffled:
        turns.append((seen[one.sort], one))
        seen[one.sort] += 1
    return [one for _, one in sorted(turns, key=lambda turn: turn[0])]


def make(every: Sequence[Trial], what: str, seconds: float, seed: int, log: Log) -> int:
    """Make trials for so long; print a line a failure and one a command. Gives the failures."""
    end = time.monotonic() + seconds
    tried: Counter[str] = Counter()
    bad: Counter[str] = Counter()
    for one in in_turn(every, seed):
        wrong = log.known.get((one.command, one.told))
        if wrong is None:
            if time.monotonic() > end:
                continue
            wrong = one.made()
            log.note(one, wrong)
        tried[one.command] += 1
        if wrong:
            bad[one.command] += 1
            sys.stdout.write(f"  {one.command}: {one.told}: {wrong}\n")
            sys.stdout.flush()
    for name, many in Counter(one.command for one in every).items():
        sys.stdout.write(f"{name}: {tried[name]} of {many} {what} tried, {bad[name]} failed\n")
    sys.stdout.flush()
    return bad.total()
