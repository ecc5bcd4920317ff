"""Memos heard ahead: in order, each with its own fault, and let go of when the run ends."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import pytest

from capture.errors import InputError
from capture.observed import Transcript
from capture.vault import Vault
from desk.hearings import Hearings
from record import media
from record.store import Store

WAIT_S = 20.0


class Meeting:
    """Hears a memo only once `others` more are being heard; notes which were begun."""

    def __init__(self, others: int) -> None:
        self._met = threading.Barrier(others + 1, timeout=WAIT_S)
        self.began: list[str] = []

    def hear(self, samples, media, progress=None):
        self.began.append(media)
        self._met.wait()
        return Transcript(media, 1.0, ())


class Endless:
    """Hears until it is told that nobody waits any more."""

    def __init__(self) -> None:
        self.begun, self.ended = threading.Event(), threading.Event()

    def hear(self, samples, media, progress=None):
        if media == "a.wav":
            assert self.begun.wait(WAIT_S)
            return Transcript(media, 1.0, ())
        self.begun.set()
        try:
            while True:
                time.sleep(0.01)
                progress(0.5)
        finally:
            self.ended.set()


@pytest.fixture
def memos(tmp_path: Path, sound):
    vault, store = Vault(tmp_path / "vault"), Store.open(tmp_path)
    made = []
    with store.session() as session:
        for number, name in enumerate("abcd"):
            kept = vault.keep(sound(tmp_path / "in" / f"{name}.wav", 200 + 50 * number))
            made.append(media.note(session, kept, None))
    yield vault, made
    store.close()


def told(*_: object) -> None:
    """Take what is told of the progress."""


def test_two_are_heard_at_once_and_given_in_order(memos) -> None:
    vault, made = memos
    ear = Meeting(others=1)  # alone, a memo would wait until the barrier breaks
    with Hearings(vault, ear, told, 2) as hearings:
        got = [hearings.of(one, made[at : at + 2])[0].media for at, one in enumerate(made)]
    assert got == [one.name for one in made]
    assert sorted(ear.began) == got


def test_one_at_once_is_heard_where_it_is_asked_for(memos) -> None:
    vault, made = memos
    threads = []

    class Here:
        def hear(self, samples, media, progress=None):
            threads.append(threading.current_thread())
            return Transcript(media, 1.0, ())

    with Hearings(vault, Here(), told, 1) as hearings:
        hearings.of(made[0], made[:1])
    assert threads == [threading.current_thread()]


def test_a_fault_is_raised_for_the_memo_that_has_it_alone(memos) -> None:
    vault, made = memos

    class Faulty:
        def hear(self, samples, media, progress=None):
            if media == made[1].name:
                raise InputError("is no sound")
            return Transcript(media, 1.0, ())

    with Hearings(vault, Faulty(), told, 2) as hearings:
        assert hearings.of(made[0], made[:2])[0].media == made[0].name
        with pytest.raises(InputError, match="is no sound"):
            hearings.of(made[1], made[1:3])
        assert hearings.of(made[2], made[2:4])[0].media == made[2].name


def test_what_is_heard_ahead_ends_with_the_run_and_tells_no_progress_of_its_own(memos) -> None:
    vault, made = memos
    ear, shares = Endless(), []

    def run() -> None:
        with Hearings(vault, ear, lambda name, _: shares.append(name), 2) as hearings:
            hearings.of(made[0], made[:2])
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run()
    assert ear.ended.is_set()
    assert shares == []
