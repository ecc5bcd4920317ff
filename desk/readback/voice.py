"""The laptop's voice: a program that speaks, one sentence at a time, and who is mute meanwhile."""

from __future__ import annotations

import queue
import shutil
import subprocess
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

# Programs that speak a text and end: eSpeak NG, its elder, and macOS's own.
VOICES: tuple[tuple[str, ...], ...] = (
    ("espeak-ng", "-v", "en-us", "-s", "150"),
    ("espeak", "-v", "en-us", "-s", "150"),
    ("say",),
)
ECHO_S = 0.4  # after the voice ends the room still has it


def voice() -> Callable[[str], None] | None:
    """Give what speaks a text here and returns when it was said; None where nothing does."""
    for program, *options in VOICES:
        if found := shutil.which(program):
            command = [found, *options]
            return lambda text: _spoken(command, text)
    return None


def _spoken(command: Sequence[str], text: str) -> None:
    subprocess.run(  # noqa: S603  (a program of this machine; a sentence begins with a letter)
        [*command, text],
        check=False,
        stdin=subprocess.DEVNULL,
        capture_output=True,
    )


@dataclass
class Speaker:
    """Says one text after the other in the background. While it does, nobody is to listen.

    `speak` says one text and returns when it was said; None says nothing at all.
    """

    speak: Callable[[str], None] | None
    _texts: queue.SimpleQueue[str] = field(default_factory=queue.SimpleQueue)
    _waiting: int = 0
    _until: float = 0.0
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _thread: threading.Thread | None = None

    def say(self, text: str) -> None:
        """Say a text, after those that wait."""
        if self.speak is None or not text:
            return
        with self._lock:
            self._waiting += 1
            self._texts.put(text)
            if self._thread is None:
                self._thread = threading.Thread(target=self._loop, name="voice", daemon=True)
                self._thread.start()

    def mutes(self) -> bool:
        """Tell whether the microphone would hear this voice."""
        with self._lock:
            return self._waiting > 0 or time.monotonic() < self._until

    def rest(self) -> None:
        """Wait until all was said."""
        while self.mutes():
            time.sleep(0.05)

    def _loop(self) -> None:
        while True:
            text = self._texts.get()
            try:
                if self.speak is not None:
                    self.speak(text)
            finally:
                with self._lock:
                    self._waiting -= 1
                    self._until = time.monotonic() + ECHO_S
