"""The crash walk: a kill, a full disk, a disk that fails, at the system calls of whole commands.

Beside it the replay (`replay.py`): what a power cut leaves of them. It gets a third of the seconds.

`python -m tests.whole.torture [SECONDS] [SEED]`, or `make torture`. strace (Debian's) injects one
fault at one call that touches the home or the export; afterwards the command is run again without
one, and nothing may be lost, doubled or half there. Faults are taken in a seeded order until all
were or the seconds are over: first one of each sort (command, call, fault, kind of file), then
another of each, so that a short walk has seen every sort of place. Ends with 1 where a trial
failed. With `--log FILE` each trial is noted there, and one that is noted is not made again.

What is asked of a faulted run: no traceback, no exit code 1, one line where it fails. A read that
fails in the program's own files is not tried: that is the machine's fault and not the record's. A
kill at a call that changes nothing on the disk leaves what a kill at the next one that does leaves,
so that only those are tried.
"""

from __future__ import annotations

import argparse
import re
import shutil
import sys
import tempfile
from collections import Counter
from functools import partial
from pathlib import Path

from tests.whole import replay
from tests.whole.forked import Forks
from tests.whole.trials import Log, Trial, endings, make
from tests.whole.walks import WALKS, Walk, prepared, run

CHANGES = (
    *("write", "pwrite64", "writev", "ftruncate", "fallocate", "mkdir", "rmdir", "link", "linkat"),
    *("rename", "renameat", "renameat2", "openat", "unlink", "unlinkat", "chmod", "fchmod"),
    *("sendfile", "copy_file_range", "utimensat"),
)
CALLS = (*CHANGES, "fsync", "fdatasync", "read", "pread64", "getdents64")
SPACE = {"write", "pwrite64", "writev", "mkdir", "rename", "renameat2", "link", "linkat", "openat"}
SPACE |= {"ftruncate", "fallocate", "fsync", "fdatasync", "sendfile", "copy_file_range"}
CHANGED = re.compile(r"O_CREAT|O_TRUNC")
LINE = re.compile(r"^(?P<pid>\d+) +(?P<call>\w+)\((?P<rest>.*)")
Fault = tuple[str, int, str]
"""A call, which one of its kind it is, and what is to happen at it, in strace's words."""


def faults(forks: Forks, walk: Walk, start: Path, top: Path) -> list[tuple[Fault, str]]:
    """Give every call of the command that touches its place, each with the faults to be tried.

    Beside each stands its sort: the call, the fault, and the kinds of the files.
    """
    place = shutil.copytree(start, top / "trial")
    log = top / "trace"
    names = ",".join(CALLS)
    run(
        forks,
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
        call, rest = match["call"], match["rest"]
        seen[call] += 1
        if str(place) in rest:
            makes = call in CHANGES and (call != "openat" or CHANGED.search(rest))
            kinds = ["signal=KILL"] if makes else []
            kinds += ["error=ENOSPC"] if call in SPACE and (call != "openat" or makes) else []
            where = endings(" ".join(re.findall(f'{re.escape(str(place))}([^>"]*)', rest)))
            for kind in [*kinds, "error=EIO"]:
                found.append(((call, seen[call], kind), f"{walk.name} {call} {kind} {where}"))
    shutil.rmtree(place)
    return found


def trial(forks: Forks, walk: Walk, start: Path, top: Path, fault: Fault) -> str:
    """Fault one call, run again, and give what does not hold; empty where all does."""
    call, number, what = fault
    place = shutil.copytree(start, top / "trial")
    try:
        how = f"inject={call}:{what}:when={number}"
        under = ("strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={call}", "-e", how)
        ran = run(forks, place, *walk.args(place), under=under)
        if ran.returncode == 1 or "Traceback" in ran.stderr:
            return f"ended with {ran.returncode}: {ran.stderr.strip()[-300:]}"
        if ran.returncode not in (0, 8, -9) and not ran.stderr.strip():
            return f"ended with {ran.returncode} and no line"
        again = run(forks, place, *walk.args(place))
        if again.returncode not in walk.again:
            return f"then ended with {again.returncode}: {again.stderr.strip()[-300:]}"
        if not walk.holds(forks, place):
            return "did not do its work when it was run again"
        if (place / "home" / "record.db").exists():
            proved = run(forks, place, "check")
            if proved.returncode != 0:
                return f"check: {proved.stderr.strip()[-300:]}"
    except (AssertionError, OSError) as error:
        return f"{type(error).__name__}: {str(error)[-300:]}"
    finally:
        shutil.rmtree(place, ignore_errors=True)
    return ""


def walked(forks: Forks, walk: Walk, start: Path, top: Path) -> list[Trial]:
    """Give a trial for every fault of a command."""
    return [
        Trial(
            walk.name,
            " ".join(map(str, fault)),
            sort,
            partial(trial, forks, walk, start, top, fault),
        )
        for fault, sort in faults(forks, walk, start, top)
    ]


def main() -> int:
    """Walk; print a line a command and a line a failure."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("seconds", type=float, nargs="?", default=600.0)
    parser.add_argument("seed", type=int, nargs="?", default=417)
    parser.add_argument("--log", type=Path)
    parser.add_argument("--only", nargs="*", default=[walk.name for walk in WALKS])
    asked = parser.parse_args()
    if shutil.which("strace") is None:
        sys.stdout.write("no strace: install it (Debian: apt-get install strace)\n")
        return 2
    log, chosen = Log(asked.log), [walk for walk in WALKS if walk.name in asked.only]
    with tempfile.TemporaryDirectory() as folder:
        top = Path(folder).resolve()
        (top / "said").mkdir()
        forks = Forks(top / "said")
        places = prepared(forks, top)
        crashes = [one for walk in chosen for one in walked(forks, walk, places[walk.name], top)]
        cuts = [
            one for walk in chosen for one in replay.played(forks, walk, places, top, asked.seed)
        ]
        failed = make(crashes, "faults", asked.seconds * 2 / 3, asked.seed, log)
        failed += make(cuts, "power cuts", asked.seconds / 3, asked.seed, log)
        forks.close()
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
