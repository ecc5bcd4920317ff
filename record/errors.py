"""What the record refuses, and what can go wrong with its database."""

from __future__ import annotations

from capture.errors import CowlnoteError, ExitCode


class StoreError(CowlnoteError):
    """The database cannot be opened, read or written (locked, full, read-only, newer, damaged)."""

    code = ExitCode.STORE


class IntegrityError(CowlnoteError):
    """The record is not what was written: a link of its chain does not hold."""

    code = ExitCode.INTEGRITY


class DamagedError(IntegrityError):
    """Originals are not what was kept; `names` says which."""

    def __init__(self, what: str, names: tuple[str, ...], todo: str) -> None:
        super().__init__(what, todo=todo)
        self.names = names


class RefusedError(CowlnoteError):
    """A rule of the record forbids it: no name, already decided, job closed, entry changed."""

    code = ExitCode.REFUSED


class StaleError(RefusedError):
    """What was shown is no longer so: it changed, or a doubt came up since."""


class DoubtedError(RefusedError):
    """A value given by a person is doubtful, and no reason was given why it is right.

    `doubts` says what speaks against it, `value` how it would be shown.
    """

    def __init__(self, value: str, doubts: tuple[str, ...], todo: str = "") -> None:
        super().__init__(f"{value} is doubtful: {'; '.join(doubts)}", todo=todo or ALTHOUGH)
        self.value, self.doubts = value, doubts


class ReplacesError(RefusedError):
    """A value would take the place of one that is entered, which was not named or needs a reason.

    `entry` is the number of that one.
    """

    def __init__(self, what: str, entry: int, todo: str) -> None:
        super().__init__(what, todo=todo)
        self.entry = entry


ALTHOUGH = "if it is right, give it again with --although TEXT, saying why"
