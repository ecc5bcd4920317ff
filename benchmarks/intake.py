"""How fast the program is: intake against the length of the sound, cold start of `try`, memory.

    python benchmarks/intake.py [FOLDER]

FOLDER holds memos and photos; without it the demo's are taken. Prints figures, asserts nothing.
Aims on two cores: intake within a quarter of real time, under 1.5 GB; `try` of a sentence under a
second from a cold start.
"""

from __future__ import annotations

import json
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

TOP = Path(__file__).resolve().parent.parent
SENTENCE = "torqued the filter to seventeen foot pounds"


def machine() -> str:
    """Name the machine by its processor and cores."""
    model = platform.processor() or platform.machine()
    cpus = Path("/proc/cpuinfo")
    if cpus.is_file():
        for line in cpus.read_text("utf-8").splitlines():
            if line.startswith("model name"):
                model = line.split(":", 1)[1].strip()
                break
    return f"{model}, {len(os.sched_getaffinity(0))} cores, Python {platform.python_version()}"


def run(*args: str) -> tuple[float, float, subprocess.CompletedProcess[str]]:
    """Run the program; give seconds, the peak in MB of any child so far, and the result."""
    begin = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "desk", *args], cwd=TOP, capture_output=True, text=True, check=False
    )
    took = time.perf_counter() - begin
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    return took, peak, done


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
    starts = [run("--home", "/nonexistent", "try", SENTENCE, "--json")[0] for _ in range(7)]
    print(
        f"try of a sentence, cold: median {statistics.median(starts):.2f} s, worst {max(starts):.2f} s"
    )
    with tempfile.TemporaryDirectory() as home:
        took, peak, done = run("--home", home, "intake", str(folder), "--json")
    if not done.stdout.strip():
        sys.exit(done.stderr)
    summary = json.loads(done.stdout)
    sound = seconds_of_sound(folder)
    counts = f"{summary['memos']} memos, {summary['photos']} photos, {len(summary['left'])} left"
    print(f"intake: {took:.1f} s for {sound:.1f} s of sound ({counts}), all of it cold")
    print(f"real time factor: {took / sound:.2f}")
    print(f"peak memory: {peak:.0f} MB")


if __name__ == "__main__":
    main()
