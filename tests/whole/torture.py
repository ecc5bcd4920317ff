"""The crash walk: a kill, a full disk, a disk that fails, at the system calls of whole commands.

`python tests/whole/torture.py [SECONDS] [SEED]`, or `make torture`. strace (Debian's) injects one
fault at one call that touches the home or the export; afterwards the command is run again without
one, and nothing may be lost, doubled or half there. Each command gets its share of the seconds; in
them its calls are taken in a seeded order until all were. Ends with 1 where a trial failed.

What is asked of a faulted run: no traceback, no exit code 1, one line where it fails. A read that
fails in the program's own files is not tried: that is the machine's fault and not the record's.
"""

from __future__ import annotations

import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
PROGRAM = Path(__file__).with_name("stand_in.py")
WHO = ("--by", "Ines Invented")
WRITES = ("write", "pwrite64", "ftruncate", "mkdir", "rename", "renameat2", "openat", "fsync")
CALLS = (*WRITES, "fdatasync", "unlink", "read", "pread64", "chmod", "sendfile", "copy_file_range")
SPACE = {"write", "pwrite64", "mkdir", "rename", "renameat2", "openat", "ftruncate", "fsync"}
LINE = re.compile(r"^(?P<pid>\d+) +(?P<call>\w+)\((?P<rest>.*)")


@dataclass(frozen=True)
class Walk:
    """A command to be faulted: its arguments in a place, and what must hold when it was run again.

    `again` are the codes that a second run may end with: 7 where the first one had done it all.
    """

    name: str
    args: Callable[[Path], tuple[object, ...]]
    holds: Callable[[Path], bool]
    again: tuple[int, ...] = (0, 7)


def run(
    place: Path, *args: object, under: tuple[str, ...] = ()
) -> subprocess.CompletedProcess[str]:
    """Run the program with stand-in engines in the home of a place."""
    env = {**os.environ, "PYTHONPATH": str(TOP), "STAND_IN_S": "0", "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.run(
        [*under, sys.executable, str(PROGRAM), "--home", str(place / "home"), *map(str, args)],
        cwd=TOP,
        env=env,
        capture_output=True,
        text=True,
        errors="replace",
        check=False,
        timeout=120,
    )


def told(place: Path, *args: object) -> str:
    """Give what a command prints that must succeed."""
    ran = run(place, *args)
    assert ran.returncode == 0, (args, ran.stderr)
    return ran.stdout


def whole_profile(place: Path) -> bool:
    return "N0417Q" in (place / "home" / "aircraft.toml").read_text("utf-8")


def no_leftover(place: Path) -> bool:
    return not list(place.glob(".cowlnote-export-*"))


WALKS = (
    Walk("begin", lambda p: ("begin", "N0417Q"), whole_profile, (0, 3)),
    Walk(
        "intake", lambda p: ("intake", p / "phone"), lambda p: told(p, "drafts").count("sure") >= 2
    ),
    Walk(
        "confirm",
        lambda p: ("confirm", "1", *WHO),
        lambda p: "confirmed" in told(p, "drafts", "--all"),
    ),
    Walk(
        "close",
        lambda p: ("close", "1", *WHO, "--because", "a trial"),
        lambda p: "closed by Ines" in " ".join(told(p, "jobs").split()),
    ),
    Walk("export", lambda p: ("export", p / "out"), no_leftover, (0, 3)),
    Walk("import", lambda p: ("import", p / "bag"), whole_profile),
    Walk(
        "lessons",
        lambda p: ("lessons", "--add", "tacks=tach", "--yes"),
        lambda p: whole_profile(p) and "tacks" in (p / "home" / "aircraft.toml").read_text("utf-8"),
        (0, 3, 7),
    ),
)


def prepared(top: Path) -> dict[str, Path]:
    """Make for each command the place that it begins in."""
    import wave

    base = top / "base"
    (base / "phone").mkdir(parents=True)
    for number in (1, 2):
        with wave.open(str(base / "phone" / f"REC_20260314_09100{number}.wav"), "wb") as out:
            out.setparams((1, 2, 16000, 0, "NONE", ""))
            out.writeframes((number * 1000).to_bytes(2, "little") * 16000)
    places = {"begin": base}
    told(base, "check") if (base / "home").exists() else None
    made = shutil.copytree(base, top / "begun")
    told(made, "begin", "N0417Q", "--zone", "America/Chicago")
    places["intake"] = made
    taken = shutil.copytree(made, top / "taken")
    told(taken, "intake", taken / "phone")
    places |= {"confirm": taken, "lessons": taken}
    done = shutil.copytree(taken, top / "done")
    told(done, "confirm", "1", *WHO)
    places |= {"close": done, "export": done}
    fresh = top / "fresh"
    fresh.mkdir()
    told(done, "export", fresh / "bag")
    places["import"] = fresh
    return places


def faults(walk: Walk, start: Path, top: Path) -> list[tuple[str, int, str]]:
    """Give every call of the command that touches its place, each with the faults to be tried."""
    place = shutil.copytree(start, top / "look")
    log = top / "trace"
    names = ",".join(CALLS)
    run(
        place,
        *walk.args(place),
        under=("strace", "-f", "-y", "-o", str(log), "-e", f"trace={names}"),
    )
    seen: Counter[str] = Counter()
    found, first = [], ""
    for line in log.read_text("utf-8", "replace").splitlines():
        match = LINE.match(line)
        if match is None:
            continue
        first = first or match["pid"]
        if match["pid"] != first:  # a fault is counted for each thread; the first does the work
            continue
        call = match["call"]
        seen[call] += 1
        if str(place) in match["rest"]:
            found.append((call, seen[call], "signal=KILL"))
            found.append((call, seen[call], "error=EIO"))
            if call in SPACE:
                found.append((call, seen[call], "error=ENOSPC"))
    shutil.rmtree(place)
    return found


def trial(walk: Walk, start: Path, top: Path, call: str, number: int, fault: str) -> str:
    """Fault one call, run again, and give what does not hold; empty where all does."""
    place = shutil.copytree(start, top / "trial")
    try:
        how = f"inject={call}:{fault}:when={number}"
        under = ("strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={call}", "-e", how)
        ran = run(place, *walk.args(place), under=under)
        if ran.returncode == 1 or "Traceback" in ran.stderr:
            return f"ended with {ran.returncode}: {ran.stderr.strip()[-300:]}"
        if ran.returncode not in (0, 8, -9, 137) and not ran.stderr.strip():
            return f"ended with {ran.returncode} and no line"
        again = run(place, *walk.args(place))
        if again.returncode not in walk.again:
            return f"then ended with {again.returncode}: {again.stderr.strip()[-300:]}"
        if not walk.holds(place):
            return "did not do its work when it was run again"
        if (place / "home" / "record.db").exists():
            proved = run(place, "check")
            if proved.returncode != 0:
                return f"check: {proved.stderr.strip()[-300:]}"
    except (AssertionError, OSError) as error:
        return f"{type(error).__name__}: {str(error)[-300:]}"
    finally:
        shutil.rmtree(place, ignore_errors=True)
    return ""


def main(seconds: float = 600.0, seed: int = 417) -> int:
    """Walk; print a line a command and a line a failure."""
    if shutil.which("strace") is None:
        sys.stdout.write("no strace: install it (Debian: apt-get install strace)\n")
        return 2
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        top = Path(folder).resolve()
        places = prepared(top)
        for walk in WALKS:
            end = time.monotonic() + seconds / len(WALKS)
            every = faults(walk, places[walk.name], top)
            random.Random(seed).shuffle(every)
            tried, bad = 0, 0
            for call, number, fault in every:
                if time.monotonic() > end:
                    break
                tried += 1
                if wrong := trial(walk, places[walk.name], top, call, number, fault):
                    bad += 1
                    sys.stdout.write(f"  {walk.name}: {call} {number} {fault}: {wrong}\n")
            failed += bad
            sys.stdout.write(f"{walk.name}: {tried} of {len(every)} faults tried, {bad} failed\n")
            sys.stdout.flush()
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(*map(float, sys.argv[1:2]), *map(int, sys.argv[2:3])))
