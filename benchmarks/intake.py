"""How fast the program is: intake against the length of the sound, cold start of `try`, memory.

    python benchmarks/intake.py [FOLDER]

FOLDER holds memos and photos; without it the demo's are taken. Prints figures, asserts nothing.
Aims on two cores: intake within a quarter of real time, under 1.5 GB; `try` of a sentence under a
second from a cold start.
"""

from __future__ import annotations

import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from scoring import machine

TOP = Path(__file__).resolve().parent.parent
SENTENCE = "torqued the filter to seventeen foot pounds"


def run(*args: str) -> tuple[float, float, float, subprocess.CompletedProcess[str]]:
    """Run the program; give wall and processor seconds, the peak in MB, and the result."""
    before, begin = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "desk", *args], cwd=TOP, capture_output=True, text=True, check=False
    )
    took = time.perf_counter() - begin
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return took, used, after.ru_maxrss / 1024, done


def seconds_of_sound(folder: Path) -> float:
    """Add up the length of the memos in a folder."""
    from capture.audio import RATE, decode
    from capture.vault import kind_of

    memos = [path for path in sorted(folder.rglob("*")) if kind_of(path) == "memo"]
    return sum(len(decode(path)) / RATE for path in memos)


def main() -> None:
    """Print the figures."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else TOP / "demo_media"
    print(f"machine: {machine()}")
    starts = [run("--home", "/nonexistent", "try", SENTENCE, "--json") for _ in range(7)]
    wall = statistics.median(start[0] for start in starts)
    used = statistics.median(start[1] for start in starts)
    print(f"try of a sentence, cold: {wall:.2f} s, {used:.2f} s of processor (medians of 7)")
    with tempfile.TemporaryDirectory() as home:
        wall, used, peak, done = run("--home", home, "intake", str(folder), "--json")
    if not done.stdout.strip():
        sys.exit(done.stderr)
    summary = json.loads(done.stdout)
    sound = seconds_of_sound(folder)
    print(
        f"intake: {summary['memos']} memos of {sound:.1f} s in all, {summary['photos']} photos, "
        f"{len(summary['left'])} left, from a cold start"
    )
    print(f"real time factor: {wall / sound:.2f} by the clock, {used / sound:.2f} of one processor")
    print(f"peak memory: {peak:.0f} MB")
    print(f"load of the machine meanwhile: {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
