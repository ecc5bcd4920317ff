"""Whose turn it is at the engines: what somebody waits for goes before what can wait.

A read-back is waited for beside an open cowl; the full set of hearings is not. Each holds the
engines for one piece of sound at a time, so that the first waits for no more than that.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field


@dataclass(slots=True)
class Turns:
    """Lets one at a time, and whoever comes by `first` before all who come by `then`."""

    _waiting: int = 0
    _busy: bool = False
    _changed: threading.Condition = field(default_factory=threading.Condition)

    @contextmanager
    def first(self) -> Iterator[None]:
        """Hold the engines for what somebody waits for."""
        with self._changed:
            self._waiting += 1
            try:
                self._changed.wait_for(lambda: not self._busy)
                self._busy = True
            finally:
                self._waiting -= 1
        yield from self._held()

    @contextmanager
    def then(self) -> Iterator[None]:
        """Hold the engines for what can wait."""
        with self._changed:
            self._changed.wait_for(lambda: not self._busy and not self._waiting)
            self._busy = True
        yield from self._held()

    def _held(self) -> Iterator[None]:
        try:
            yield
        finally:
            with self._changed:
                self._busy = False
                self._changed.notify_all()
