"""How long a connection may take, and how much the terminal is told of what goes wrong on one."""

from __future__ import annotations

import logging
import time
import traceback
from typing import TYPE_CHECKING, Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

if TYPE_CHECKING:
    import asyncio

HEAD_S = 10.0  # for the lines before the body, and to say anything at all
BODY_S = 120.0  # for a body of at most 8 MiB: a slow network sends 70 kB a second
STALLED_S = 60.0  # for the other side to take what it asked for
IDLE_S = 15  # between two requests
QUIET_S = 60.0  # one line of a kind in this time


class Limited(H11Protocol):
    """A connection that is closed when its other side is slow to ask, to send or to take."""

    _due: asyncio.TimerHandle | None = None
    _stalled: asyncio.TimerHandle | None = None
    _phase = ""

    def connection_made(self, transport: Any) -> None:
        """Begin to wait for a request."""
        super().connection_made(transport)
        self._watch()

    def data_received(self, data: bytes) -> None:
        """Take in bytes; they do not lengthen the time that there is for them all."""
        super().data_received(data)
        self._watch()

    def on_response_complete(self) -> None:
        """Begin to wait for the next request, or for what is left of this one."""
        super().on_response_complete()
        self._watch()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the times."""
        self._phase = ""
        for timer in (self._due, self._stalled):
            if timer is not None:
                timer.cancel()
        super().connection_lost(exc)

    def pause_writing(self) -> None:
        """Begin to wait until the other side takes what was sent."""
        super().pause_writing()
        self._stalled = self.loop.call_later(STALLED_S, self.transport.abort)

    def resume_writing(self) -> None:
        """Go on sending."""
        if self._stalled is not None:
            self._stalled.cancel()
        super().resume_writing()

    def _watch(self) -> None:
        theirs = self.conn.their_state
        phase = {h11.IDLE: "head", h11.SEND_BODY: "body"}.get(theirs, "")
        if phase == "head" and self.cycle is not None and self._phase == "":
            phase = "idle"  # the server's own clock runs between requests
        if phase == self._phase:
            return
        self._phase = phase
        if self._due is not None:
            self._due.cancel()
        wait = {"head": HEAD_S, "body": BODY_S, "idle": IDLE_S + HEAD_S}.get(phase)
        self._due = self.loop.call_later(wait, self.transport.abort) if wait else None


class Brief(logging.Filter):
    """Makes one line of a fault, and says a thing again only after a while, with how often.

    A neighbour who sends nonsense cannot fill the terminal.
    """

    def __init__(self) -> None:
        super().__init__()
        self._said: dict[str, tuple[float, int]] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        """Shorten a record, or hold it back."""
        words = record.getMessage().partition("\n")[0]
        if record.exc_info and record.exc_info[1] is not None:
            words = f"{words} ({_told(record.exc_info[1])})"
        record.exc_info = record.exc_text = record.stack_info = None
        last, held = self._said.get(words, (-QUIET_S, 0))
        now = time.monotonic()
        if now - last < QUIET_S:
            self._said[words] = (last, held + 1)
            return False
        if len(self._said) > 1000:
            self._said.clear()
        self._said[words] = (now, 0)
        record.msg, record.args = (f"{words} ({held} times more before)" if held else words), ()
        return True


def _told(error: BaseException) -> str:
    frames = traceback.extract_tb(error.__traceback__)
    where = f", {frames[-1].filename}:{frames[-1].lineno}" if frames else ""
    return " ".join(f"{type(error).__name__}: {error}{where}".split())[:400]


LOG: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"brief": {"()": Brief}},
    "handlers": {"err": {"class": "logging.StreamHandler", "filters": ["brief"]}},
    "loggers": {
        name: {"handlers": ["err"], "level": "WARNING", "propagate": False}
        for name in ("uvicorn", "uvicorn.error", "asyncio")
    },
}
"""How the server tells what goes wrong: one line each on the terminal."""
