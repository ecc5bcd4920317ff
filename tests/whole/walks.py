"""The whole commands that are tried with faults and with lost writes, and the places they begin in.

A place is a folder: `home`, the record; `phone`, two memos; `bag`, an export; `kept`, for backups.
What a command must have done is said by `Walk.holds`, and once more by what it had said itself.
"""

from __future__ import annotations

import shutil
import wave
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.whole.forked import Forks, Ran

WHO = ("--by", "Ines Invented")


@dataclass(frozen=True)
class Walk:
    """A command to be tried: its arguments in a place, and what must hold when it was run again.

    `says` is what it prints when it has done it all, and from when on nothing of it may be lost;
    `again` are the codes that a second run may end with: 7 where the first one had done it all.
    """

    name: str
    args: Callable[[Path], tuple[object, ...]]
    says: str
    holds: Callable[[Forks, Path], bool]
    again: tuple[int, ...] = (0, 7)


def run(forks: Forks, place: Path, *args: object, **how: object) -> Ran:
    """Run the program with stand-in engines in the home of a place."""
    return forks.run("--home", place / "home", *args, **how)  # type: ignore[arg-type]


def told(forks: Forks, place: Path, *args: object, **how: object) -> str:
    """Give what a command prints that must succeed."""
    ran = run(forks, place, *args, **how)
    assert ran.returncode == 0, (args, ran.stderr)
    return ran.stdout


def whole_profile(_: Forks, place: Path) -> bool:
    return "N0417Q" in (place / "home" / "aircraft.toml").read_text("utf-8")


def whole_record(forks: Forks, place: Path) -> bool:
    return whole_profile(forks, place) and "confirmed" in told(forks, place, "drafts", "--all")


def whole_bag(forks: Forks, place: Path) -> bool:
    """Tell whether the newest export or backup can be brought in, and nothing hidden is left."""
    if [p for where in (place, place / "kept") for p in where.glob(".*")]:
        return False
    made = [place / "out", *sorted((place / "kept").glob("*"))]
    home = place / "second"
    shutil.rmtree(home, ignore_errors=True)
    brought = forks.run("--home", home, "import", [one for one in made if one.is_dir()][-1])
    return brought.returncode == 0


WALKS = (
    Walk("begin", lambda p: ("begin", "N0417Q"), "made ", whole_profile, (0, 3)),
    Walk(
        "intake",
        lambda p: ("intake", p / "phone"),
        "look with",
        lambda f, p: told(f, p, "drafts").count("sure") >= 2,
    ),
    Walk(
        "confirm",
        lambda p: ("confirm", "1", *WHO),
        "entered by",
        lambda f, p: "confirmed" in told(f, p, "drafts", "--all"),
    ),
    Walk(
        "close",
        lambda p: ("close", "1", *WHO, "--because", "a trial"),
        "closed by",
        lambda f, p: "closed by Ines" in " ".join(told(f, p, "jobs").split()),
    ),
    Walk("export", lambda p: ("export", p / "out"), "proved", whole_bag, (0, 3)),
    Walk("import", lambda p: ("import", p / "bag"), "taken in, proved", whole_record),
    Walk(
        "lessons",
        lambda p: ("lessons", "--add", "tacks=tach", "--yes"),
        "is read as",
        lambda f, p: (
            whole_profile(f, p) and "tacks" in (p / "home" / "aircraft.toml").read_text("utf-8")
        ),
        (0, 3, 7),
    ),
    Walk("backup", lambda p: ("backup", p / "kept"), "read back", whole_bag),
)


def prepared(forks: Forks, top: Path) -> dict[str, Path]:
    """Make for each command the place that it begins in, and let `forks` read the program ahead."""
    base = top / "base"
    (base / "phone").mkdir(parents=True)
    for number in (1, 2):
        with wave.open(str(base / "phone" / f"REC_20260314_09100{number}.wav"), "wb") as out:
            out.setparams((1, 2, 16000, 0, "NONE", ""))
            out.writeframes((number * 1000).to_bytes(2, "little") * 16000)
    places = {"begin": base}
    made = shutil.copytree(base, top / "begun")
    told(forks, made, "begin", "N0417Q", "--zone", "America/Chicago", learn=True)
    places["intake"] = made
    taken = shutil.copytree(made, top / "taken")
    told(forks, taken, "intake", taken / "phone", learn=True)
    places |= {"confirm": taken, "lessons": taken}
    done = shutil.copytree(taken, top / "done")
    told(forks, done, "confirm", "1", *WHO, learn=True)
    (done / "kept").mkdir()
    places |= {"close": done, "export": done, "backup": done}
    fresh = top / "fresh"
    fresh.mkdir()
    told(forks, done, "export", fresh / "bag", learn=True)
    places["import"] = fresh
    told(forks, fresh, "import", fresh / "bag", learn=True)
    shutil.rmtree(fresh / "home")
    told(forks, done, "check", learn=True)
    told(forks, done, "drafts", "--all", learn=True)
    return places
