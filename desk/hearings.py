"""Memos heard a little ahead, so that no core waits for the last piece of the memo before."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from types import TracebackType

from capture.observed import Transcript
from capture.vault import Vault
from desk import observe
from record.media import Media

Heard = tuple[Transcript, str]
"""What was heard in a memo, and what is doubtful about the file, or nothing."""


class _EndedError(Exception):
    """The run ends, and what is heard ahead with it."""


class Hearings:
    """Gives what is heard in each memo, while the next are heard beside it, `at_once` in all.

    With one at once each is heard where it is asked for. Leaving it ends what is still being heard,
    after the section that is in hand.
    """

    def __init__(
        self, vault: Vault, ear: observe.Ear, share: Callable[[str, float], None], at_once: int
    ) -> None:
        self._vault, self._ear, self._share = vault, ear, share
        self._pool = ThreadPoolExecutor(at_once, "memo") if at_once > 1 else None
        self._begun: dict[int, Future[Heard]] = {}
        self._shown = ""
        self._ended = threading.Event()

    def __enter__(self) -> Hearings:
        """Begin."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        """Let go of what was begun and not asked for."""
        self._ended.set()
        if self._pool:
            self._pool.shutdown(cancel_futures=True)

    def of(self, media: Media, ahead: Sequence[Media]) -> Heard:
        """Give what is heard in a memo, and begin with those `ahead`, itself among them.

        Raises what `observe.hear` does, and AlteredError where the vault's copy is another.
        """
        self._shown = media.name
        if not self._pool:
            return self._hear(media)
        for one in ahead:
            if one.id not in self._begun:
                self._begun[one.id] = self._pool.submit(self._hear, one)
        return self._begun.pop(media.id).result()

    def _hear(self, media: Media) -> Heard:
        path = self._vault.proved(media.sha256)
        return observe.hear(path, media.name, self._ear, self._tell)

    def _tell(self, name: str, share: float) -> None:
        if self._ended.is_set():
            raise _EndedError
        if name == self._shown:
            self._share(name, share)
