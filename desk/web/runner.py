"""One intake at a time, in the background, with a memory of its events for whoever looks."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from capture.errors import CowlnoteError
from desk.intake import Summary


@dataclass
class Runner:
    """Runs `work` whenever it is woken, and keeps what it reports since the desk was started.

    `work` takes a Report and gives a Summary; it is never run twice at once. Events are
    (kind, content) with kind `file` or `run`.
    """

    work: Callable[[Any], Summary]
    events: list[tuple[str, dict[str, Any]]] = field(default_factory=list)
    _wanted: threading.Event = field(default_factory=threading.Event)
    _thread: threading.Thread | None = None

    def wake(self) -> None:
        """Ask for a run; soon, or after the one that is going on."""
        self._wanted.set()
        if self._thread is None:
            self._thread = threading.Thread(target=self._loop, name="intake", daemon=True)
            self._thread.start()

    def _loop(self) -> None:
        while self._wanted.wait():
            self._wanted.clear()
            try:
                summary = self.work(self)
            except CowlnoteError as error:
                self.events.append(("run", {"words": str(error), "job": None}))
                continue
            except Exception as error:  # noqa: BLE001  (a thread must not die without a word)
                words = f"Fault in the program ({type(error).__name__}); what came in is kept."
                self.events.append(("run", {"words": words, "job": None}))
                continue
            words = f"{summary.drafts} drafts, {summary.doubtful} of them doubtful."
            job = summary.jobs[-1] if summary.jobs else None
            self.events.append(("run", {"words": words, "job": job}))

    def begins(self, files: int, foreign: int) -> None:
        """Note that a run begins."""
        self.events.append(("run", {"words": "Listening and looking…", "job": None}))

    def doing(self, what: str, name: str, number: int, files: int) -> None:
        """Note what is being done with a file."""
        self.events.append(("file", {"name": name, "note": f"{what} ({number} of {files})"}))

    def share(self, name: str, share: float) -> None:
        """Note how much of a file is done."""
        self.events.append(("file", {"name": name, "note": f"hearing {share:.0%}"}))

    def left(self, name: str, why: str) -> None:
        """Note that a file could not be taken."""
        self.events.append(("file", {"name": name, "note": f"✗ {why}"}))

    def notice(self, line: str) -> None:
        """Note something the person should know."""
        self.events.append(("run", {"words": line, "job": None}))
