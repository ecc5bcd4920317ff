"""Whole commands without the second that Python takes to begin: a process that has read the program
and forks for each command.

The crash walk and the replay run some thirty thousand commands. `Forks` is this side; run as a
program, this file is the other. A command that is held waits, stopped, until strace has taken hold
of it, so that strace counts the calls of the command alone. Linux only, as strace is.
"""

from __future__ import annotations

import ctypes
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

TOP = Path(__file__).resolve().parents[2]
THREADED = "onnxruntime"
"""The library that starts a thread when it is read, which a fork loses: each command reads it."""
LATE_S = 120.0
PR_SET_PTRACER = 0x59616D61
"""Linux, prctl(2): lets a process that is no parent trace this one, where Yama would forbid it."""


@dataclass(frozen=True, slots=True)
class Ran:
    """How a command ended: its code, negative for the signal that it died of, and what it said."""

    returncode: int
    stdout: str
    stderr: str


class Forks:
    """The process that forks, from this side. `folder` is for what the commands print.

    A `forgetful` program never flushes a file: to see that this is found out.
    """

    def __init__(self, folder: Path, *, forgetful: bool = False) -> None:
        self._out, self._err = folder / "stdout", folder / "stderr"
        self.stdout = folder / "stdout"
        self._modules = folder / "modules"
        calm = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1"}
        env = {**os.environ, **calm, "PYTHONPATH": str(TOP), "STAND_IN_S": "0"}
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.whole.forked", *(["forgetful"] if forgetful else [])],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=env,
            cwd=TOP,
        )

    def run(self, *args: object, under: Sequence[str] = (), learn: bool = False) -> Ran:
        """Run a command of the program to its end; `under` is the strace that is to watch it.

        With `learn` what it has read of the program is read ahead for all later ones. Raises
        TimeoutError where it takes over two minutes.
        """
        names = str(self._modules) if learn else ""
        self._ask({"args": [str(a) for a in args], "hold": bool(under), "modules": names})
        pid = int(self._told()["pid"])
        watcher = self._watched(pid, under) if under else None
        end = time.monotonic() + LATE_S
        while not (told := self._peek(max(0.0, end - time.monotonic()))):
            os.kill(pid, signal.SIGKILL)
            self._told()
            raise TimeoutError(f"took over {LATE_S:.0f} s: {args}")
        if watcher is not None:
            watcher.wait(LATE_S)
        if learn:
            self._ask({"learn": str(self._modules)})
            self._told()
        out, err = (f.read_text("utf-8", "replace") for f in (self._out, self._err))
        return Ran(told["code"], out, err)

    def close(self) -> None:
        """End the process."""
        if self._process.stdin is not None:
            self._process.stdin.close()
        self._process.wait(LATE_S)

    def _watched(self, pid: int, under: Sequence[str]) -> subprocess.Popen[bytes]:
        status = Path(f"/proc/{pid}/status")
        while "State:\tT" not in status.read_text():  # it has not stopped itself yet
            time.sleep(0.001)
        watcher = subprocess.Popen([*under, "-p", str(pid)], stderr=subprocess.DEVNULL)
        while "TracerPid:\t0\n" in status.read_text():
            if watcher.poll() is not None:
                os.kill(pid, signal.SIGKILL)
                self._told()
                raise OSError("strace could not take hold of the command")
            time.sleep(0.001)
        os.kill(pid, signal.SIGCONT)
        return watcher

    def _ask(self, what: dict[str, Any]) -> None:
        assert self._process.stdin is not None
        raw = {"out": str(self._out), "err": str(self._err), **what}
        self._process.stdin.write(json.dumps(raw).encode() + b"\n")
        self._process.stdin.flush()

    def _told(self) -> dict[str, Any]:
        assert self._process.stdout is not None
        told: dict[str, Any] = json.loads(self._process.stdout.readline())
        return told

    def _peek(self, seconds: float) -> dict[str, Any] | None:
        import select

        return self._told() if select.select([self._process.stdout], [], [], seconds)[0] else None


def _read_ahead(modules: Sequence[str]) -> None:
    import importlib

    sys.modules[THREADED] = None  # type: ignore[assignment]  # no import of it, for the moment
    for name in modules:
        if name.partition(".")[0] != THREADED:
            with suppress(Exception):
                importlib.import_module(name)
    del sys.modules[THREADED]
    threads = len(list(Path("/proc/self/task").iterdir()))
    assert threads == 1, f"{threads} threads: a fork would lose all but one"


def _command(asked: dict[str, Any]) -> int:
    """Be the command, in the child; give its exit code."""
    import traceback

    from desk import cli

    for name, number in (("out", 1), ("err", 2)):
        os.dup2(os.open(asked[name], os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600), number)
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    for said in (sys.stdout, sys.stderr):  # as in a terminal: a line is said when it is whole
        said.reconfigure(line_buffering=True)  # type: ignore[union-attr]
    if asked["hold"]:
        # strace is no parent of this process
        ctypes.CDLL(None).prctl(PR_SET_PTRACER, ctypes.c_long(-1), 0, 0, 0)
        os.kill(os.getpid(), signal.SIGSTOP)
    sys.argv[:] = ["cowlnote", *asked["args"]]
    try:
        cli.main()
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else int(ended.code is not None)
    except BaseException:  # noqa: BLE001  (as Python itself does at the end of a program)
        traceback.print_exc()
        return 1
    return 0


def _child(asked: dict[str, Any]) -> None:
    import atexit

    code = 1
    with suppress(BaseException):
        code = _command(asked)
    with suppress(BaseException):
        if names := asked.get("modules"):
            Path(names).write_text("\n".join(sys.modules))
        atexit._run_exitfuncs()
        sys.stdout.flush()
        sys.stderr.flush()
    os._exit(code)


def serve() -> None:
    """Do what is asked on the standard input, until it ends."""
    import gc
    from functools import cache

    from typer import main

    from desk import cli
    from tests.whole import stand_in

    stand_in.put_in()
    if "forgetful" in sys.argv:
        os.fsync = lambda _handle: None
    main.get_command = cache(main.get_command)
    for line in sys.stdin.buffer:
        asked = json.loads(line)
        if "learn" in asked:
            _read_ahead(Path(asked["learn"]).read_text("utf-8").split())
            main.get_command(cli.app)  # built once, and shared by all
            gc.freeze()
            _say({})
            continue
        pid = os.fork()
        if pid == 0:
            _child(asked)
        _say({"pid": pid})
        _say({"code": os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])})


def _say(what: dict[str, Any]) -> None:
    sys.stdout.buffer.write(json.dumps(what).encode() + b"\n")
    sys.stdout.buffer.flush()


if __name__ == "__main__":
    serve()
