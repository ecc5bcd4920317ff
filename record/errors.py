"""What the record refuses, and what can go wrong with its database."""

from __future__ import annotations

from capture.errors import CowlnoteError, ExitCode


class StoreError(CowlnoteError):
    """The database cannot be opened, read or written (locked, full, read-only, newer, damaged)."""

    code = ExitCode.STORE


class IntegrityError(CowlnoteError):
    """The record is not what was written: a link of its chain does not hold."""

    code = ExitCode.INTEGRITY


class RefusedError(CowlnoteError):
    """A rule of the record forbids it: no name, already decided, job closed, entry changed."""

    code = ExitCode.REFUSED
