"""How many hearings go on side by side, and what would get in their way.

Imported by the package itself, before numpy, whose pool of threads would spin beside the models'.
"""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Callable
from functools import cache

CORES = max(1, min(4, len(os.sched_getaffinity(0)) if sys.platform == "linux" else 2))
"""Each takes about 100 MB of working memory, so that more than four are not worth theirs."""

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

_TRIM, _PAD, _MMAP, _ARENAS = -1, -2, -3, -8  # of GNU malloc.h
_GIB, _MIB = 1 << 30, 1 << 20


@cache
def keep_memory() -> None:
    """Let the C library keep what a hearing frees for the next one, where it is GNU's.

    A model asks for tens of megabytes a layer and frees them at once. Given back to the system and
    fetched anew, page by page, that took a tenth to a quarter of all processor time and, with one
    store a thread, more memory in all: for 12 s of sound 334,000 pages and 0.9 s in the system,
    against 35,000 and 0.1 s.
    """
    tune = _of_c_library("mallopt")
    if tune is not None:
        for what, value in ((_ARENAS, 1), (_MMAP, _GIB), (_TRIM, _GIB), (_PAD, 64 * _MIB)):
            tune(what, value)


def give_back() -> None:
    """Give free memory back once.

    After a model's loading, which takes twice what the model needs, and after each section of a
    recording, for what is kept lies ever more scattered: four hours took 1.1 GB at the most.
    """
    trim = _of_c_library("malloc_trim")
    if trim is not None:
        trim(0)


def _of_c_library(name: str) -> Callable[..., int] | None:
    return getattr(ctypes.CDLL(None), name, None) if sys.platform == "linux" else None
