"""The replay: what a power cut leaves of whole commands, when what was not flushed may be lost.

Each command is run once while strace records what it does to its place; then the disk is laid out
as it may be found after a power cut at any moment of it (`disk.Disk`): all that was not flushed
lost; names kept but their bytes not, which leaves files empty; lengths kept but filled with zeros;
and seeded parts of it kept. There `cowlnote check` and the command itself are run:

- once the command has said that it is done, everything of it is there, up to the very head;
- before that, what was in the record before the command is there, up to its head;
- a check ends green or names what is wrong, and has no traceback;
- run again, the command does its work, and then a check is green.

`tests/whole/torture.py` runs it beside the crash walk.
"""

from __future__ import annotations

import random
import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from tests.whole.disk import Disk, Done, State, digest, put
from tests.whole.forked import Forks
from tests.whole.traced import OPTIONS, Follower
from tests.whole.trials import Trial, endings
from tests.whole.walks import Walk, run

NAMES = ("name", "move")
LOSSES = ("lost", "named", "zeros", "some", "most", "few")
HALVES = {"some": 0.5, "most": 0.9, "few": 0.1}
LAST = 6
"""How many seeds are tried at the end of a command, when it has said that it is done."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A power cut after so many things done, and which of what was not flushed is lost."""

    at: int
    loss: str
    seed: int
    sort: str


@dataclass(frozen=True, slots=True)
class Played:
    """A command as it was recorded: what it did, and the heads of the record before and after."""

    disk: Disk
    before: str
    after: str


def head(forks: Forks, place: Path) -> str:
    """Give the head of a record; empty where there is none."""
    if not (place / "home" / "record.db").exists():
        return ""
    shown = re.search(r"\d+-[0-9a-f]{12,}", run(forks, place, "head").stdout)
    return shown[0] if shown else ""


def record(forks: Forks, walk: Walk, start: Path, top: Path) -> Played:
    """Run a command to its end and follow what it does."""
    place = shutil.copytree(start, top / "trial")
    before, log = head(forks, place), top / "trace"
    disk = Disk(place)
    ran = run(forks, place, *walk.args(place), under=("strace", *OPTIONS, "-o", str(log)))
    assert ran.returncode == 0, ran.stderr
    Follower(disk, forks.stdout).follow(log)
    assert _same(disk, place), f"{walk.name}: what was followed is not what is there"
    assert walk.says in disk.said(len(disk.done)), f"{walk.name} did not say that it is done"
    after = head(forks, place)
    shutil.rmtree(place)
    return Played(disk, before, after)


def _same(disk: Disk, place: Path) -> bool:
    """Tell whether the disk, as it was followed, is to the last byte what lies there."""
    whole = disk.state(len(disk.done), lambda _number, _one: True)
    there = Disk(place).state(0, lambda _number, _one: True)
    known = {p: c for p, (c, _) in whole.items() if not p.name.endswith("-shm")}
    return known == {p: c for p, (c, _) in there.items() if not p.name.endswith("-shm")}


def laid_out(disk: Disk, cut: Cut) -> State:
    """Give what a power cut leaves."""
    chance = random.Random(f"{cut.seed} {cut.at} {cut.loss}")

    def keep(_number: int, one: Done) -> bool:
        if cut.loss in HALVES:
            return chance.random() < HALVES[cut.loss]
        return cut.loss != "lost" and one.kind in NAMES

    return disk.state(cut.at, keep, zeros=cut.loss == "zeros")


def cuts(walk: Walk, disk: Disk, seed: int) -> Iterator[Cut]:
    """Give the moments that can differ: the end, and about each flush, name and word said."""
    end = len(disk.done)
    for loss in LOSSES:
        many = LAST if loss in HALVES else 1
        yield from (Cut(end, loss, seed + n, f"{walk.name} end {loss}") for n in range(many))
    for number, one in enumerate(disk.done):
        if one.kind in ("write", "cut"):
            continue
        for at in (number, number + 1):
            for loss in LOSSES:
                sort = f"{walk.name} {at - number} {one.kind} {endings(one.sort)} {loss}"
                yield Cut(at, loss, seed, sort)


def different(walk: Walk, disk: Disk, seed: int) -> list[Cut]:
    """Give the cuts that leave disks unlike each other, or at which something else was said."""
    seen: set[tuple[str, bool]] = set()
    found = []
    for cut in cuts(walk, disk, seed):
        key = (digest(laid_out(disk, cut)), walk.says in disk.said(cut.at))
        if key not in seen:
            seen.add(key)
            found.append(cut)
    return found


def trial(forks: Forks, walk: Walk, played: Played, cut: Cut, top: Path) -> str:
    """Lay the disk out as a cut leaves it, look, run again; give what does not hold, or nothing."""
    place = top / "trial"
    put(laid_out(played.disk, cut), place)
    claimed = walk.says in played.disk.said(cut.at)
    known = played.after if claimed else played.before
    against = ("--against", known) if known else ()
    try:
        looked = run(forks, place, "check", *against)
        if looked.returncode == 1 or "Traceback" in looked.stderr:
            return f"check ended with {looked.returncode}: {looked.stderr.strip()[-300:]}"
        if looked.returncode and "cowlnote: " not in looked.stderr:
            return f"check ended with {looked.returncode} and no line"
        if claimed and looked.returncode and (place / "home" / "record.db").exists():
            return f"said done, and then: {looked.stderr.strip()[-300:]}"
        if claimed and not walk.holds(forks, place):
            return "said done, and it was not"
        again = run(forks, place, *walk.args(place))
        if again.returncode not in walk.again or "Traceback" in again.stderr:
            return f"run again, ended with {again.returncode}: {again.stderr.strip()[-300:]}"
        if not walk.holds(forks, place):
            return "did not do its work when it was run again"
        if (place / "home" / "record.db").exists():
            proved = run(forks, place, "check", *against)
            if proved.returncode != 0:
                return f"then check: {proved.stderr.strip()[-300:]}"
    except (AssertionError, OSError, IndexError) as error:
        return f"{type(error).__name__}: {str(error)[-300:]}"
    finally:
        shutil.rmtree(place, ignore_errors=True)
    return ""


def played(forks: Forks, walk: Walk, places: dict[str, Path], top: Path, seed: int) -> list[Trial]:
    """Give a trial for every disk, unlike each other, that a power cut may leave of a command."""
    found = record(forks, walk, places[walk.name], top)
    return [
        Trial(
            f"{walk.name}, power cut",
            f"after {cut.at} of {len(found.disk.done)}, {cut.loss}, seed {cut.seed}",
            cut.sort,
            partial(trial, forks, walk, found, cut, top),
        )
        for cut in different(walk, found.disk, seed)
    ]
