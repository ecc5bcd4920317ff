"""Whose turn it is at the engines: what somebody waits for goes before what can wait.

A read-back is waited for beside an open cowl; the full set of hearings is not. Each holds a core
for one piece of sound at a time, so that the first waits for no more than that.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from capture.cores import CORES


@dataclass(slots=True)
class Turns:
    """Lets as many work as there are cores; who comes by `first` goes before all by `then`."""

    cores: int = CORES
    _waiting: int = 0
    _busy: int = 0
    _changed: threading.Condition = field(default_factory=threading.Condition)

    @contextmanager
    def first(self) -> Iterator[None]:
        """Hold a core for what somebody waits for."""
        with self._changed:
            self._waiting += 1
            try:
                self._changed.wait_for(lambda: self._busy < self.cores)
                self._busy += 1
            finally:
                self._waiting -= 1
                self._changed.notify_all()  # a core may be left for what waited behind it
        yield from self._held()

    @contextmanager
    def then(self) -> Iterator[None]:
        """Hold a core for what can wait."""
        with self._changed:
            self._changed.wait_for(lambda: self._busy < self.cores and not self._waiting)
            self._busy += 1
        yield from self._held()

    def _held(self) -> Iterator[None]:
        try:
            yield
        finally:
            with self._changed:
                self._busy -= 1
                self._changed.notify_all()
