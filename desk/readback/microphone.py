"""Where sound comes from: this machine's microphone, or a file that stands in for one."""

from __future__ import annotations

import queue
import time
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np

from capture.audio import RATE, Samples, as_float
from capture.errors import InputError

BLOCK_S = 0.1
BLOCK = round(RATE * BLOCK_S)
WIDE = 3  # a device that does not sample at 16 kHz is read at 48 kHz, three samples to one
HOW = "install it with `pip install 'cowlnote[listen]'`, or use a phone: `cowlnote desk --lan`"


def from_file(path: Path, *, paced: bool = True) -> Iterator[Samples]:
    """Give a file's sound in blocks of a tenth of a second; `paced` as slowly as it would be heard.

    Raises InputError for what is no sound.
    """
    from capture.audio import listen

    samples = as_float(listen(path).samples)
    begun = time.monotonic()
    for number, first in enumerate(range(0, len(samples), BLOCK), 1):
        if paced:
            time.sleep(max(0.0, begun + number * BLOCK_S - time.monotonic()))
        yield samples[first : first + BLOCK]


def opened(blocks: Iterator[Samples]) -> Iterator[Samples]:
    """Give the same blocks once the first has come: what cannot be opened is said before all else.

    Raises InputError where there is no sound.
    """
    first = next(blocks, None)
    return blocks if first is None else chain([first], blocks)


def microphone() -> Iterator[Samples]:
    """Give what this machine's microphone hears, in blocks of a tenth of a second, without end.

    Raises InputError where the library or a microphone is not there.
    """
    device = _library()
    blocks: queue.SimpleQueue[Samples] = queue.SimpleQueue()

    def came(heard: Any, *_: Any) -> None:
        blocks.put(np.array(heard[:, 0], np.float32))

    try:
        stream, wide = _stream(device, came)
        with stream:
            while True:
                block = blocks.get()
                yield block.reshape(-1, WIDE).mean(axis=1) if wide else block
    except device.PortAudioError as error:
        why = " ".join(str(error).split())
        raise InputError(
            f"no microphone can be opened ({why})", todo="plug one in, or use a phone"
        ) from None


def _stream(device: Any, came: Any) -> tuple[Any, bool]:
    for wide in (False, True):
        rate = RATE * (WIDE if wide else 1)
        size = round(rate * BLOCK_S)
        try:
            return (
                device.InputStream(rate, size, channels=1, dtype="float32", callback=came),
                wide,
            )
        except device.PortAudioError:
            if wide:
                raise
    raise AssertionError("one of the two was returned or raised")


def _library() -> Any:
    try:
        import sounddevice
    except ImportError:
        raise InputError("the library for the microphone is not installed", todo=HOW) from None
    except OSError:  # it is there, and what it stands on is not
        raise InputError(
            "this machine has no PortAudio, by which a microphone is opened",
            todo="install it (Debian: libportaudio2), or use a phone: `cowlnote desk --lan`",
        ) from None
    return sounddevice
