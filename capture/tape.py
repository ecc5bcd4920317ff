"""Long sound on the disk instead of in memory, so that four hours take no more than ten minutes."""

from __future__ import annotations

import mmap
import tempfile
from collections.abc import Iterator
from typing import IO, Any

import numpy as np
import numpy.typing as npt

from capture.errors import InputError

ROLL = 2 * 16_000 * 600
"""Bytes of 16-bit sound that are held in memory: ten minutes."""


class Tape:
    """Takes 16-bit samples as they come; what is past ten minutes goes to a file without a name.

    The file is in the system's folder for such files and is gone with the samples, or with the
    process that held them, however it ended.
    """

    def __init__(self) -> None:
        self._held = bytearray()
        self._file: IO[bytes] | None = None

    def extend(self, data: bytes) -> None:
        """Add samples. Raises InputError where the disk has no room for them."""
        self._held += data
        if len(self._held) > ROLL:
            self._write()

    def _write(self) -> None:
        try:
            if self._file is None:
                self._file = tempfile.TemporaryFile()  # noqa: SIM115  (it lives with the samples)
            self._file.write(self._held)
            self._file.flush()
        except OSError as error:
            raise InputError(
                f"there is no room to decode it in {tempfile.gettempdir()} ({error.strerror})",
                todo="make room: an hour takes 115 MB",
            ) from error
        self._held.clear()

    def samples(self) -> npt.NDArray[np.int16]:
        """Give all samples (n,). Those on the disk are read as they are looked at."""
        if self._file is None:
            return np.frombuffer(self._held, np.int16)
        self._write()
        return np.memmap(self._file, np.int16, "r")


def forget(samples: npt.NDArray[Any]) -> None:
    """Let go of the memory that samples on the disk took by being looked at; they stay readable."""
    mapped = getattr(samples, "_mmap", None)
    if mapped is not None and hasattr(mapped, "madvise"):
        mapped.madvise(mmap.MADV_DONTNEED)


def blocks(samples: npt.NDArray[Any], size: int) -> Iterator[tuple[int, npt.NDArray[Any]]]:
    """Give (first sample, samples) block by block, each let go of when the next is asked for."""
    for first in range(0, len(samples), size):
        yield first, samples[first : first + size]
        forget(samples)
