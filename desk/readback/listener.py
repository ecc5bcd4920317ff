"""Blocks of sound to memos: one begins when somebody speaks and ends at a pause.

A memo is written to the disk block by block, so that a laptop that dies loses a tenth of a second.
"""

from __future__ import annotations

import io
import os
import struct
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from capture.audio import RATE, Samples
from desk.readback.phrases import Finder

BEFORE_S = 1.0  # of what was heard before somebody was found to speak
PAUSE_S = 2.5  # nobody speaks for so long: the memo ends
LONGEST_S = 120.0
LOOK_S, WINDOW_S, RECENT_S = 0.3, 1.5, 0.5
HEAR_S = 0.5  # how often a growing memo is given to be heard
# Below so much of full scale, or so little above what the room always has, nobody speaks: the
# finder of speech, which costs the processor, is not asked. The project's own choice.
FAINT, ABOVE = 0.0015, 1.6
HEAD = 44


@dataclass(slots=True)
class Recorded:
    """A memo on the disk: its file, when it began, and whether it has ended."""

    path: Path
    began: datetime
    ended: bool = False
    samples: int = 0
    voice_s: float = 0.0

    @property
    def length_s(self) -> float:
        """Give how long it is, in seconds."""
        return self.samples / RATE


@dataclass
class Listener:
    """Cuts a stream of sound into memos. `told` is given each as it grows and when it has ended.

    `mutes` says that the tool itself is speaking: what comes then is written as silence. `level` is
    told how loud it is, 0 to 1.
    """

    folder: Path
    find: Finder
    now: Callable[[], datetime]
    told: Callable[[Recorded], None]
    mutes: Callable[[], bool] = lambda: False
    level: Callable[[float], None] = lambda _: None
    memo: Recorded | None = None
    stopped: bool = False
    _recent: deque[Samples] = field(default_factory=deque)
    _floor: float = 1.0
    _muted: bool = False
    _since_look: float = 0.0
    _since_told: float = 0.0

    def run(self, blocks: Iterable[Samples]) -> None:
        """Listen until the sound ends or `stopped` is set; the memo that is open is ended."""
        try:
            for block in blocks:
                self._muted = self.mutes()
                self._take(np.zeros_like(block) if self._muted else block)
                if self.stopped:
                    break
        finally:
            self._end()

    def _take(self, block: Samples) -> None:
        seconds = len(block) / RATE
        self._recent.append(block)
        while sum(map(len, self._recent)) > round(max(BEFORE_S, WINDOW_S) * RATE):
            self._recent.popleft()
        if self.memo is not None:
            self._write(block)
        self._since_look += seconds
        if self._since_look < LOOK_S:
            return
        self._since_look = 0.0
        if self._speaks():
            if self.memo is None:
                self._begin()
            assert self.memo is not None  # noqa: S101  (it has just begun)
            self.memo.voice_s = self.memo.length_s
        memo = self.memo
        if memo is None:
            return
        if memo.length_s - memo.voice_s > PAUSE_S or memo.length_s > LONGEST_S:
            self._end()
        elif memo.length_s - self._since_told >= HEAR_S:
            self._since_told = memo.length_s
            self.told(memo)

    def _speaks(self) -> bool:
        """Tell whether somebody was speaking within the last half second."""
        window = np.concatenate(list(self._recent))[-round(WINDOW_S * RATE) :]
        loud = float(np.sqrt(np.mean(np.square(window[-round(LOOK_S * RATE) :], dtype=np.float64))))
        if not self._muted:  # the tool's own silence is no sign that nothing is heard
            self.level(min(1.0, loud * 8))
        # what the room always has: down at once, up slowly
        self._floor = loud if loud < self._floor else self._floor * 1.01
        if loud < FAINT or (self.memo is None and loud < self._floor * ABOVE):
            return False
        length = len(window) / RATE
        return any(length - end < RECENT_S for _, end in self.find(window))

    def _begin(self) -> None:
        before = list(self._recent)
        kept = np.concatenate(before)[-round(BEFORE_S * RATE) :]
        began = self.now() - timedelta(seconds=len(kept) / RATE)
        self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        path = self.folder / f"memo {began:%Y-%m-%d %H.%M.%S}.wav"
        while path.exists():  # a clock that was put back: no memo takes the place of another
            path = path.with_stem(f"{path.stem} again")
        path.write_bytes(header(None))
        self.memo = Recorded(path, began)
        self._since_told = 0.0
        self._write(kept)

    def _write(self, block: Samples) -> None:
        memo = self.memo
        if memo is None:
            return
        with memo.path.open("ab") as out:
            out.write((np.clip(block, -1, 1) * 32767).astype("<i2").tobytes())
        memo.samples += len(block)

    def _end(self) -> None:
        memo, self.memo = self.memo, None
        if memo is None:
            return
        with memo.path.open("r+b") as out:  # now its length is known
            out.write(header(memo.samples))
            out.flush()
            os.fsync(out.fileno())
        memo.ended = True
        self.told(memo)


def header(samples: int | None) -> bytes:
    """Give the head of a 16-bit mono WAV file at 16 kHz; None: of a length not known yet."""
    size = 0xFFFFFFFF if samples is None else samples * 2
    whole = size if samples is None else size + HEAD - 8
    out = io.BytesIO()
    out.write(b"RIFF" + struct.pack("<I", whole) + b"WAVEfmt ")
    out.write(struct.pack("<IHHIIHH", 16, 1, 1, RATE, RATE * 2, 2, 16))
    out.write(b"data" + struct.pack("<I", size))
    return out.getvalue()
