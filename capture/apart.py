"""What strangers made is decoded in a process apart, which may die of it without harm to the run.

The process is started once, serves file after file, and is started again after a death. It may take
only so much memory and time, opens nothing but the file that it is given, and answers with plain
JSON and bytes: nothing that it sends is ever run. A request is one line of JSON, `[task, ...]`; an
answer is frames of a letter, four bytes of length and their content: `d` data, `m` the end with a
JSON object, `e` an error in words.
"""

from __future__ import annotations

import atexit
import importlib
import json
import os
import signal
import struct
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, BinaryIO

from capture.errors import DiedError, InputError

# what can be asked for: the function that does it there, and the most seconds that it may take
TASKS: dict[str, tuple[str, str, float]] = {
    "sound": ("capture.audio", "sound_here", 300.0),
    "part": ("capture.audio", "part_here", 120.0),
    "begun": ("capture.audio", "time_here", 60.0),
    "look": ("capture.photo", "look_here", 120.0),
    "taken": ("capture.photo", "time_here", 60.0),
    "thumbnail": ("capture.photo", "thumbnail_here", 120.0),
    "crop": ("capture.photo", "crop_here", 120.0),
}
MEMORY = 1000 * 1024**2
"""Bytes that the process may fill: a picture of 120 megapixels in colour takes about 550 MB."""
AT_ONCE = 3
REST_S = 20.0
"""How long a process waits for the next file before it goes: it takes 60 MB, and 0.3 s to start."""
LARGEST = 256 * 1024**2
"""Bytes of one frame that are believed."""
HEAD = struct.Struct(">cI")
NO_MEMORY = ("there is not enough memory for it", "make it smaller, or leave it out")

Take = Callable[[bytes], object]
Out = Callable[[bytes], None]


class Worker:
    """The process apart, from this side."""

    def __init__(self) -> None:
        own = Path(__file__).parent.parent
        calm = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        calm["PYTHONPATH"] = os.pathsep.join(filter(None, (str(own), calm.get("PYTHONPATH"))))
        # -P: a folder of memos may hold a file that is called like one of Python's own
        program = [sys.executable, "-P", "-c", "from capture.apart import serve; serve()"]
        try:
            self._process = subprocess.Popen(  # noqa: S603  (this Python, and this module)
                program,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env=calm,
            )
        except OSError as error:
            raise InputError(
                f"no process to read it in can be started ({error.strerror})",
                todo="close other programs",
            ) from error
        self.fit = True

    def ask(self, task: str, args: tuple[Any, ...], take: Take) -> dict[str, Any]:
        """Have a task done; `take` is given its data as it comes. Gives what it says at the end.

        Raises:
            InputError: the file cannot be taken, as the task says.
            DiedError: the process died of it, or was ended because it took too long.
        """
        late = threading.Event()

        def end() -> None:
            late.set()
            self._process.kill()

        timer = threading.Timer(TASKS[task][2], end)
        timer.daemon = True
        self.fit = False  # until it has answered whole
        timer.start()
        try:
            kind, body = self._answers(json.dumps([task, *args]).encode(), take)
        except (OSError, EOFError, ValueError):
            raise DiedError(late.is_set()) from None
        finally:
            timer.cancel()
            if not self.fit:
                self.close()
        if kind == b"e":
            raise InputError(body["what"], body["where"], body["todo"])
        return body

    def _answers(self, request: bytes, take: Take) -> tuple[bytes, dict[str, Any]]:
        given, answer = self._process.stdin, self._process.stdout
        assert given is not None  # noqa: S101  (both are pipes, made above)
        assert answer is not None  # noqa: S101
        given.write(request + b"\n")
        given.flush()
        while True:
            kind, size = HEAD.unpack(_exactly(answer, HEAD.size))
            if size > LARGEST:
                raise ValueError(size)
            body = _exactly(answer, size)
            if kind == b"d":
                take(body)
                continue
            told = json.loads(body)
            if not isinstance(told, dict):
                raise ValueError(told)
            self.fit = not told.get("last", False)
            return kind, told

    def close(self) -> None:
        """End the process, whatever it does."""
        self.fit = False
        for pipe in (self._process.stdin, self._process.stdout):
            with suppress(OSError):
                if pipe is not None:
                    pipe.close()
        self._process.kill()
        self._process.wait()


def _exactly(answer: Any, size: int) -> bytes:
    body: bytes = answer.read(size)
    if len(body) != size:
        raise EOFError
    return body


_idle: list[Worker] = []
_alarms: list[threading.Timer] = []
_lock = threading.Lock()
_few = threading.BoundedSemaphore(AT_ONCE)


def run(task: str, *args: Any, take: Take = lambda _: None) -> dict[str, Any]:
    """Have a task of `TASKS` done in the process apart; `args` are what JSON can hold.

    Raises as `Worker.ask`. May be called by several threads.
    """
    with _few:
        with _lock:
            worker = _idle.pop() if _idle else None
            _still()
        worker = worker or Worker()
        try:
            return worker.ask(task, args, take)
        finally:
            with _lock:
                if worker.fit and not _idle:
                    _idle.append(worker)
                    worker = None
                    alarm = threading.Timer(REST_S, end)
                    alarm.daemon = True
                    alarm.start()
                    _alarms.append(alarm)
            if worker is not None:
                worker.close()


def _still() -> None:
    while _alarms:
        _alarms.pop().cancel()


@atexit.register
def end() -> None:
    """End the process that waits for the next file."""
    with _lock:
        _still()
        while _idle:
            _idle.pop().close()


def serve() -> None:
    """Do what is asked on the standard input, until it ends. The other side of `Worker`."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the program, which ends this one
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library prints must not be taken for an answer
    _bound_memory()
    for line in sys.stdin.buffer:
        task, *args = json.loads(line)
        _bound_time(TASKS[task][2])
        kind, body = _done(task, args, lambda data: _send(out, b"d", data))
        _send(out, kind, json.dumps(body).encode())
        if body.get("last"):
            return


def _send(out: BinaryIO, kind: bytes, body: bytes) -> None:
    out.write(HEAD.pack(kind, len(body)))
    out.write(body)
    out.flush()


def _done(task: str, args: list[Any], out: Out) -> tuple[bytes, dict[str, Any]]:
    module, name, _ = TASKS[task]
    try:
        return b"m", getattr(importlib.import_module(module), name)(out, *args)
    except InputError as error:
        where = None if error.where is None else str(error.where)
        return b"e", {"what": error.what, "where": where, "todo": error.todo}
    except MemoryError:
        what, todo = NO_MEMORY
        return b"e", {"what": what, "where": None, "todo": todo, "last": True}


def _bound_memory() -> None:
    with suppress(ImportError, OSError, ValueError):  # Windows has no such limit
        import resource

        hard = resource.getrlimit(resource.RLIMIT_DATA)[1]
        most = MEMORY if hard == resource.RLIM_INFINITY else min(MEMORY, hard)
        resource.setrlimit(resource.RLIMIT_DATA, (most, hard))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _bound_time(seconds: float) -> None:
    """Let the system end this process should nobody be left who does."""
    with suppress(ImportError, OSError, ValueError):
        import resource

        used = sum(resource.getrusage(resource.RUSAGE_SELF)[:2])
        hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
        resource.setrlimit(resource.RLIMIT_CPU, (int(used + seconds) + 1, hard))
