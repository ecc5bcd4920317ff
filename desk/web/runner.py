"""One intake at a time, in the background, with a memory of how it went for whoever looks."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from capture.errors import CowlnoteError
from desk.intake import JobDone, Summary
from desk.understood import Lost

BUSY = "Listening and looking…"


@dataclass
class Runner:
    """Runs `work` whenever it is woken, and keeps the last that was said of each file and the run.

    `work` takes a Report and gives a Summary; it is never run twice at once. `ended` says whether
    the desk is closing, so that whoever listens is let go; `after` is told that a run has ended.
    """

    work: Callable[[Any], Summary]
    ended: Callable[[], bool] = lambda: False
    after: Callable[[], None] = lambda: None
    _said: dict[str, tuple[int, str, dict[str, Any]]] = field(default_factory=dict)
    _count: int = 0
    _at: str = ""
    _jobs: dict[int, JobDone] = field(default_factory=dict)
    _left: dict[str, str] = field(default_factory=dict)
    _lock: threading.RLock = field(default_factory=threading.RLock)
    _wanted: threading.Event = field(default_factory=threading.Event)
    _thread: threading.Thread | None = None
    _busy: bool = False

    def since(self, seen: int) -> Iterator[tuple[int, str, dict[str, Any]]]:
        """Give what was said after number `seen`, oldest first: (number, `file` or `run`, content).

        From 0 on it is how everything stands, so that one who left and came back sees it all.
        """
        with self._lock:
            said = sorted(self._said.values(), key=lambda one: one[0])
        yield from (one for one in said if one[0] > seen)

    def _say(self, kind: str, key: str, **content: Any) -> int:
        with self._lock:
            self._count += 1
            self._said[f"{kind} {key}"] = (self._count, kind, content)
            return self._count

    def rests(self) -> bool:
        """Tell whether no run goes on and none is wanted."""
        with self._lock:
            return not self._busy and not self._wanted.is_set()

    def wake(self) -> int:
        """Ask for a run; soon, or after the one that is going on.

        Gives the number of what is said of it: an end that was said before that number is not the
        end of this run.
        """
        with self._lock:
            self._wanted.set()
            number = self._run(BUSY)
            if self._thread is None:
                self._thread = threading.Thread(target=self._loop, name="intake", daemon=True)
                self._thread.start()
        return number

    def _loop(self) -> None:
        while self._wanted.wait():
            with self._lock:
                self._wanted.clear()
                self._busy = True
            try:
                self._end(self.work(self))
            except CowlnoteError as error:
                self._run(str(error))
            except Exception as error:  # noqa: BLE001  (a thread must not die without a word)
                self._run(f"Fault in the program ({type(error).__name__}); what came in is kept.")
            self.after()
            with self._lock:
                self._busy = False

    def _end(self, summary: Summary) -> None:
        """Add a run to what this desk took in since it was opened: every job, every file left."""
        self._done()
        for one in summary.done:
            before = self._jobs.get(one.id)
            files = dict.fromkeys((*(before.files if before else ()), *one.files))
            self._jobs[one.id] = replace(one, files=tuple(files))
        self._left |= dict(summary.left)
        with self._lock:  # what came meanwhile is read first: until then no job is whole
            if not self._wanted.is_set():
                self._tell()

    def _tell(self) -> None:
        done = [self._jobs[number] for number in sorted(self._jobs)]
        files = sum(len(one.files) for one in done)
        words = ""
        if done:
            many = f"{len(done)} jobs" if len(done) > 1 else "1 job"
            words = (
                f"Done: {files} file{'s' * (files != 1)} in {many}, "
                f"{sum(one.drafts for one in done)} values, "
                f"{sum(one.doubtful for one in done)} of them doubtful."
            )
        if self._left:
            words += f" {len(self._left)} could not be taken: {', '.join(self._left)}."
        self._run(words.strip(), [_job(one) for one in done])

    def _done(self) -> None:
        if self._at:
            self._say("file", self._at, name=self._at, note="✓ done")
        self._at = ""

    def _run(self, words: str, jobs: Sequence[dict[str, Any]] = ()) -> int:
        return self._say("run", "", words=words, jobs=list(jobs))

    def begins(self, files: int, foreign: int) -> None:
        """Note that a run begins."""
        self._run(BUSY)

    def doing(self, what: str, name: str, number: int, files: int) -> None:
        """Note what is being done with a file, and that the one before is done."""
        self._done()
        self._at = name
        self._say("file", name, name=name, note=f"{what} ({number} of {files})")

    def share(self, name: str, share: float) -> None:
        """Note how much of a file is done."""
        self._say("file", name, name=name, note=f"hearing {share:.0%}")

    def left(self, name: str, why: str) -> None:
        """Note that a file could not be taken."""
        self._at = ""
        self._say("file", name, name=name, note=f"✗ {why}")

    def lost(self, what: Lost) -> None:
        """Note that nothing was understood in a file; the page lets it be played."""
        self._done()  # the file that was in hand; what was lost is said after it
        note = f"? {what.why}"
        self._say("file", what.name, name=what.name, note=note, media=what.id, of=what.kind)

    def notice(self, line: str) -> None:
        """Note something the person should know."""
        self._say("file", line, name=line, note="")


def _job(one: JobDone) -> dict[str, Any]:
    files = f"{len(one.files)} file{'s' * (len(one.files) != 1)}"
    return {
        "id": one.id,
        "aircraft": one.aircraft or "",
        "day": one.day.isoformat() if one.day else "",
        "words": f"{files}, {one.drafts} values, {one.doubtful} of them doubtful",
        "files": list(one.files),
    }
