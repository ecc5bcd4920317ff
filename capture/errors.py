"""What can go wrong, in words for the person who meets it, and the number the program ends with."""

from __future__ import annotations

from enum import IntEnum
from pathlib import Path


class ExitCode(IntEnum):
    """How a command ended. Documented in the README; 1, 2 and 130 are Typer's own."""

    DONE = 0
    FAULT = 1
    USAGE = 2
    INPUT = 3
    MODEL = 4
    STORE = 5
    INTEGRITY = 6
    REFUSED = 7
    LEFT = 8
    INTERRUPTED = 130


class CowlnoteError(Exception):
    """Something a person can act on: what was wrong, in which file, what to do.

    Attributes:
        what: what was wrong, without a full stop.
        where: the file or folder concerned, if there is one.
        todo: what the person can do next, without a full stop.
    """

    code = ExitCode.FAULT

    def __init__(self, what: str, where: Path | str | None = None, todo: str = "") -> None:
        super().__init__(what, where, todo)
        self.what, self.where, self.todo = what, where, todo

    def __str__(self) -> str:
        """Give one line: `FILE: what was wrong; what to do`."""
        line = f"{self.where}: {self.what}" if self.where is not None else self.what
        return " ".join((f"{line}; {self.todo}" if self.todo else line).split())


class InputError(CowlnoteError):
    """A file or a typed value cannot be taken."""

    code = ExitCode.INPUT


class DiedError(InputError):
    """The process in which a file was decoded died of it, or had to be ended after its time."""

    def __init__(self, late: bool = False) -> None:
        what = "took too long to read" if late else "ended the process that read it"
        super().__init__(what, todo="leave it out, or copy it again from where it came")


class ModelMissingError(CowlnoteError):
    """A model is not there, or is not the one that the manifest names."""

    code = ExitCode.MODEL


class VaultError(CowlnoteError):
    """The vault cannot be written or read (disk full, no permission)."""

    code = ExitCode.STORE


class AlteredError(VaultError):
    """A kept file is gone, or is not what was kept."""

    code = ExitCode.INTEGRITY
