"""Listening on this machine: sound in, read-back out, memos kept and taken in as from a phone.

Knows no screen; what is to be shown goes to a `Shown`.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol

from capture.audio import Samples
from capture.errors import InputError
from capture.observed import Instant
from capture.turns import Turns
from capture.vault import Vault
from desk import engines, observe
from desk.intake import Report, take_in
from desk.opening import Opened
from desk.readback.journal import Item, Journal, Sent
from desk.readback.listener import Listener, Recorded
from desk.readback.live import Arriving, Live
from desk.readback.phrases import Finder
from desk.readback.voice import Speaker
from desk.readback.watched import Watched
from desk.web.runner import Runner
from record import media

LAPTOP = "laptop"  # the name under which what is read back here is kept
FOLDER = "listening"  # in the home: the memos that are being spoken
LOOK_S = 0.1


class Shown(Protocol):
    """Who is shown what is understood, and how loud it is."""

    def read_back(self, item: Item) -> None:
        """Something was understood, asked, changed or not understood."""

    def stands(self, state: dict[str, Any]) -> None:
        """What is still to say, and what stands against the work (`Talk.standing`)."""

    def level(self, share: float) -> None:
        """It is so loud, 0 to 1."""

    def problem(self, words: str) -> None:
        """Nothing can be read back, and why."""


@dataclass
class Listening:
    """One session at the laptop; `ear`, `eye`, `find` stand in for models and the finder of speech.

    `photos` is the folder into which photos come, None for none.
    """

    here: Opened
    shown: Shown
    speaker: Speaker
    report: Report
    ear: Any = None
    eye: Any = None
    find: Finder | None = None
    photos: Watched | None = None
    seen: int = 0
    _files: dict[Path, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Make what hears, keeps and reads back."""
        settings = self.here.settings
        self.vault = Vault(settings.vault_dir)
        turns = Turns()
        self.ear = self.ear or engines.LateEar(settings, turns=turns)
        self.eye = engines.OneLook(self.eye or engines.LateEye(settings), turns)
        self.live = Live(
            settings, self.here.catalogue, self.here.store, self.ear, self.eye, self.find
        )
        self.talk = self.live.talk(LAPTOP)
        self.journal: Journal = self.talk.journal
        self.seen = self.journal.at
        self.runner = Runner(self._work, after=self.live.settled)

    def _work(self, _: Any) -> Any:
        here = self.here
        return take_in(
            [],
            here.settings,
            here.store,
            self.vault,
            self.ear,
            self.eye,
            self.report,
            here.catalogue,
        )

    def now(self) -> datetime:
        """Give the time of day where the home is."""
        return datetime.now(self.here.settings.zone)

    def run(self, blocks: Iterable[Samples]) -> None:
        """Listen until the sound ends, somebody says that the notes do, or Ctrl-C; then finish.

        Raises InputError where there is no microphone.
        """
        folder = self.here.settings.home / FOLDER
        self._left_behind(folder)
        listener = Listener(
            folder,
            self.find or _finder(),
            self.now,
            self._recorded,
            self.speaker.mutes,
            self.shown.level,
        )

        def watched() -> Iterable[Samples]:
            for block in blocks:
                self._look()
                if self._tell():
                    listener.stopped = True
                yield block

        with suppress(KeyboardInterrupt):
            listener.run(watched())
        self._finish()

    def _recorded(self, memo: Recorded) -> None:
        """Let a memo be heard as it grows; keep it once it has ended."""
        key = self._files.setdefault(memo.path, f"{memo.began:%Y%m%d-%H%M%S}-{len(self._files)}")
        began = Instant(memo.began, "name", 1.0)
        if not memo.ended:
            self.live.arrived(Arriving(LAPTOP, key, memo.path.name, memo.path, began))
            return
        self._keep(memo.path, key)

    def _look(self, *, at_once: bool = False) -> None:
        """Take the photos that came; one that cannot be kept is named, and left where it is."""
        for path in self.photos.look(at_once=at_once) if self.photos else ():
            try:
                self._keep(path, f"photo-{self.now():%Y%m%d-%H%M%S}-{len(self._files)}", ours=False)
            except InputError as error:
                self.report.left(path.name, error.what)
            self._files[path] = path.name

    def _keep(self, path: Path, key: str, *, ours: bool = True) -> None:
        """Keep a file and let it be read back; one of `ours` is not needed beside the vault."""
        kept = self.vault.keep(path)
        there = self.vault.path(kept.sha256)
        began = observe.began_at(there, kept, self.here.settings.zone)
        with self.here.store.session() as session:
            row = media.note(session, kept, began)
        new = kept.sha256 not in self.journal.sent
        self.live.kept(LAPTOP, Sent(key, kept.name, kept.sha256, kept.size))
        if new or ours:
            self.live.arrived(
                Arriving(LAPTOP, key, row.name, there, row.began, row.kind, whole=True)
            )
        if ours:
            path.unlink(missing_ok=True)
        self.runner.wake()

    def _left_behind(self, folder: Path) -> None:
        """Keep what a session that was cut off had written; what is no sound yet is let go."""
        for path in sorted(folder.glob("memo *.wav")):
            try:
                observe.hear(path, path.name, _Deaf())
            except InputError:
                path.unlink(missing_ok=True)
                continue
            self._keep(path, f"left-{path.stem[5:].replace(' ', '-').replace('.', '')}")

    def _tell(self) -> bool:
        """Show and say what is new; tell whether the notes were ended."""
        ended = False
        for item in self.journal.since(self.seen):
            self.seen = item.n
            self.shown.read_back(item)
            self.speaker.say(item.say)
            ended = ended or item.kind == "stopped"
        if self.live.problem:
            self.shown.problem(self.live.problem)
            self.live.problem = ""
        return ended

    def _finish(self) -> None:
        """Wait for the full hearings, tell what they change, and show what is left to say."""
        self._look(at_once=True)
        while not self._rests():
            self._tell()
            time.sleep(LOOK_S)
        self._tell()
        self.shown.stands(self.talk.standing())
        self.speaker.rest()
        self.live.close()

    def _rests(self) -> bool:
        return self.live.idle() and self.runner.rests()


class _Deaf:
    """Stands in for the ear where only it is asked whether a file is sound at all."""

    def hear(self, samples: Any, media: str, progress: Any = None) -> Any:
        """Hear nothing."""


def _finder() -> Finder:
    from capture.speech import find_speech

    return find_speech
