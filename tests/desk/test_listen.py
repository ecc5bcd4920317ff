"""`cowlnote listen`: the laptop's own microphone and voice, by a room of our own and tones."""

from __future__ import annotations

import sys
import threading
import time
import wave
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from capture.errors import InputError
from desk.listening import FOLDER, Listening
from desk.opening import Opened
from desk.readback import microphone, voice
from desk.readback.listener import Listener, header
from desk.readback.voice import Speaker
from desk.readback.watched import Watched
from record import media, queue
from tests.conftest import RecordedEye
from tests.desk.page.conftest import open_home
from tests.desk.page.test_told import RATE, SAYS, PhraseEar, find, tones

BLOCK = microphone.BLOCK


class Notes:
    """Keeps what would be shown."""

    def __init__(self):
        self.items, self.state, self.problems, self.loudest = [], {}, [], 0.0

    def read_back(self, item):
        self.items.append(item)

    def stands(self, state):
        self.state = state

    def level(self, share):
        self.loudest = max(self.loudest, share)

    def problem(self, words):
        self.problems.append(words)

    # the intake's report
    def begins(self, files, foreign): ...
    def doing(self, what, name, number, files): ...
    def share(self, name, share): ...
    def left(self, name, why):
        self.problems.append(why)

    def lost(self, what): ...
    def notice(self, line): ...


def samples(*pitches):
    return np.frombuffer(tones(*pitches)[44:], "<i2").astype(np.float32) / 32768


def blocks(sound):
    for first in range(0, len(sound), BLOCK):
        yield sound[first : first + BLOCK]


@pytest.fixture
def here(tmp_path):
    made = open_home(tmp_path / "home")
    yield made
    made.store.close()


@pytest.fixture
def listening(here):
    def make(speak=None):
        notes = Notes()
        ear = PhraseEar(dict(SAYS))
        opened = Opened(here.settings, here.catalogue, here.store)
        return Listening(opened, notes, Speaker(speak), notes, ear=ear, find=find), notes

    return make


def said(notes):
    return [item.say for item in notes.items]


def test_what_is_spoken_is_read_back_and_becomes_drafts(listening, here):
    session, notes = listening()
    quiet = np.zeros(3 * RATE, np.float32)
    sound = np.concatenate([quiet, samples(200), quiet, quiet, samples(300), quiet])
    heard_s = [0.0]

    def at_its_pace():  # the clock goes with the sound, which is not waited for
        for block in blocks(sound):
            heard_s[0] += len(block) / RATE
            yield block

    start = session.now()
    session.now = lambda: start + timedelta(seconds=heard_s[0])
    session.run(at_its_pace())
    assert said(notes) == [
        "Tach, two three four six decimal two.",
        "Filter torqued to seventeen foot pounds.",
    ]
    assert notes.state["still"][0]["field"] == "drain_closed"
    with here.store.session(write=False) as session_:
        drafts = {q.draft.name: str(q.draft.value) for q in queue.drafts(session_)}
        names = [m.name for m in media.media(session_)]
    assert drafts["tach_time"] == "2346.2"
    assert drafts["filter_torque"] == "17"
    assert len(names) == 2  # two memos: they were six seconds apart
    assert notes.loudest > 0.5
    assert list((here.settings.home / FOLDER).iterdir()) == []


def test_photos_that_come_into_a_folder_are_answered_and_left_there(here, tmp_path, photo):
    folder = tmp_path / "photos"
    folder.mkdir()
    photo(folder / "IMG_0001.jpg", "2026:03:14 09:00:00")  # from before
    notes = Notes()
    eye = RecordedEye(
        {"IMG_0002.jpg": ("tach", "drum", "2346.2"), "IMG_0003.jpg": ("label", "text", "")}
    )
    opened = Opened(here.settings, here.catalogue, here.store)
    session = Listening(
        opened, notes, Speaker(None), notes, ear=PhraseEar({}), eye=eye, find=find,
        photos=Watched(folder),
    )  # fmt: skip

    def sound():
        for number, block in enumerate(blocks(np.zeros(6 * RATE, np.float32))):
            if number == 5:
                photo(folder / "IMG_0002.jpg", "2026:03:14 09:12:30")
                (folder / "note.txt").write_text("no photo")
                (folder / "IMG_0004.jpg").write_bytes(b"not one either")
            if number == 55:
                photo(folder / "IMG_0003.jpg", "2026:03:14 09:12:40")
            time.sleep(0.04)
            yield block

    session.run(sound())
    texts = [line.text for item in notes.items for line in item.lines]
    assert "Tach reads 2346.2 h" in texts
    assert "No part number read: closer, less glare" in texts
    with here.store.session(write=False) as db:
        kept = {row.name: row.state for row in media.media(db)}
        assert {"IMG_0002.jpg", "IMG_0003.jpg"} <= set(kept)
        assert "IMG_0001.jpg" not in kept
    assert (folder / "IMG_0002.jpg").is_file()


def test_a_folder_that_is_not_there_is_one_line(cowlnote, tmp_path, monkeypatch):
    from desk.engines import LateEar

    monkeypatch.setattr(LateEar, "check", lambda self: None)
    ran = cowlnote("listen", "--silent", "--photos", tmp_path / "none")
    assert ran.code == 3
    assert "there is no such folder" in ran.err
    assert len(ran.err.strip().splitlines()) == 1


def test_a_photo_is_taken_when_it_is_whole(tmp_path, photo):
    now = [0.0]
    watched = Watched(tmp_path, lambda: now[0])
    whole = photo(tmp_path / "made.jpg").read_bytes()
    (tmp_path / "made.jpg").unlink()
    path = tmp_path / "IMG_0001.jpg"
    path.write_bytes(whole[:100])
    assert list(watched.look()) == []
    path.write_bytes(whole)
    assert list(watched.look()) == []  # not a second later
    now[0] = 1.1
    assert list(watched.look()) == []  # it has grown since
    now[0] = 2.2
    assert list(watched.look()) == [path]
    now[0] = 3.3
    assert list(watched.look()) == []


def test_the_terminal_shows_that_it_hears_and_says_when_it_does_not(monkeypatch, capsys):
    from desk.commands import listen

    now = [0.0]
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(listen.time, "monotonic", lambda: now[0])
    shown = listen.Printed()
    shown.level(0.5)
    assert "hears |############            |" in capsys.readouterr().err
    for second in range(1, 8):
        now[0] = float(second)
        shown.level(0.0)
    assert capsys.readouterr().err.count("The microphone gives no sound") == 1
    shown.level(0.2)
    assert "#####" in capsys.readouterr().err


def test_nothing_is_recorded_while_nobody_speaks(listening, here):
    session, notes = listening()
    hum = np.sin(np.arange(20 * RATE) / 50).astype(np.float32) * 0.001
    session.run(blocks(hum))
    assert notes.items == []
    with here.store.session(write=False) as session_:
        assert media.media(session_) == []


def test_saying_that_the_notes_end_ends_them(listening):
    session, notes = listening()
    quiet = np.zeros(4 * RATE, np.float32)
    given = []

    def endless():
        yield from blocks(np.concatenate([quiet, samples(800), quiet]))
        for _ in range(2000):
            given.append(1)
            time.sleep(0.002)
            yield np.zeros(BLOCK, np.float32)

    session.run(endless())
    assert [item.kind for item in notes.items] == ["stopped"]
    assert len(given) < 2000


class Room:
    """A room in which the voice of the tool comes back into the microphone, as a tone."""

    def __init__(self):
        self.echo, self.played, self.lock = [], 0, threading.Lock()

    def speak(self, text):
        tone = list(blocks(samples(1000)[: RATE // 2]))  # "tach reads … decimal seven"
        with self.lock:
            self.echo += tone
        while True:
            with self.lock:
                if not self.echo:
                    break
            time.sleep(0.002)
        self.played += 1

    def listen(self, sound):
        """Give the sound with what is played meanwhile; go on until something was played."""
        for block in blocks(sound):
            yield self._mixed(block)
        until = time.monotonic() + 20
        while time.monotonic() < until:
            yield self._mixed(np.zeros(BLOCK, np.float32))
            if self.played:
                break
        for _ in range(60):  # and for six seconds after it
            yield self._mixed(np.zeros(BLOCK, np.float32))

    def _mixed(self, block):
        time.sleep(0.004)
        with self.lock:
            return block + self.echo.pop(0)[: len(block)] if self.echo else block


@pytest.mark.parametrize("muted", [True, False])
def test_the_tool_does_not_take_its_own_voice_for_speech(listening, monkeypatch, muted):
    monkeypatch.setattr(voice, "ECHO_S", 0.02)
    room = Room()
    session, notes = listening(room.speak)
    if not muted:  # the control: without the muting it is heard
        monkeypatch.setattr(session.speaker, "mutes", lambda: False)
        monkeypatch.setattr(session.speaker, "rest", lambda: None)
    quiet = np.zeros(2 * RATE, np.float32)
    session.run(room.listen(np.concatenate([quiet, samples(200), quiet])))
    assert room.played
    heard = any("decimal seven" in text for text in said(notes))
    assert heard is not muted


def test_a_session_that_was_cut_off_loses_nothing(listening, here):
    folder = here.settings.home / FOLDER
    folder.mkdir()
    body = samples(300)
    raw = (body * 32767).astype("<i2").tobytes()
    (folder / "memo 2026-03-14 09.12.05.wav").write_bytes(header(None) + raw)
    (folder / "memo 2026-03-14 09.20.00.wav").write_bytes(header(None))
    session, notes = listening()
    session.run(blocks(np.zeros(RATE, np.float32)))
    assert "Filter torqued to seventeen foot pounds." in said(notes)
    assert list(folder.iterdir()) == []
    with here.store.session(write=False) as session_:
        assert [q.draft.name for q in queue.drafts(session_) if q.draft.unit] == ["filter_torque"]


def test_a_memo_that_is_recorded_is_a_whole_wav_file(tmp_path):
    made = []
    at = datetime(2026, 3, 14, 9, 12, 5, tzinfo=UTC)
    listener = Listener(tmp_path, find, lambda: at, made.append)
    listener.run(blocks(np.concatenate([np.zeros(2 * RATE, np.float32), samples(200)])))
    with wave.open(str(made[-1].path)) as file:
        assert file.getframerate() == RATE
        assert file.getnframes() == made[-1].samples
    assert made[-1].ended


def test_without_the_library_or_a_device_one_line_says_what_to_do(monkeypatch):
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(InputError, match="library for the microphone is not installed"):
        next(microphone.microphone())

    class NoDevice:
        class PortAudioError(Exception): ...

        def InputStream(self, *_, **__):  # noqa: N802
            raise self.PortAudioError("Error querying device -1")

    monkeypatch.setitem(sys.modules, "sounddevice", NoDevice())
    with pytest.raises(InputError, match="no microphone can be opened"):
        next(microphone.microphone())


def test_a_device_without_16_khz_is_read_at_48(monkeypatch):
    class Device:
        class PortAudioError(Exception): ...

        def InputStream(self, rate, size, channels, dtype, callback):  # noqa: N802
            if rate == RATE:
                raise self.PortAudioError("Invalid sample rate")
            assert (rate, size) == (48_000, 4800)

            class Stream:
                def __enter__(self):
                    callback(np.full((4800, 1), 0.25, np.float32), 4800, None, None)

                def __exit__(self, *_): ...

            return Stream()

    monkeypatch.setitem(sys.modules, "sounddevice", Device())
    block = next(microphone.microphone())
    assert block.shape == (BLOCK,)
    assert np.allclose(block, 0.25)


def test_the_command_says_in_one_line_what_is_missing(cowlnote, tmp_path, monkeypatch):
    from desk.engines import LateEar

    monkeypatch.setenv("COWLNOTE_MODELS", str(tmp_path / "none"))
    ran = cowlnote("listen", "--silent")
    assert ran.code == 4
    assert len(ran.err.strip().splitlines()) == 1
    monkeypatch.setattr(LateEar, "check", lambda self: None)
    ran = cowlnote("listen", "--silent", "--from", tmp_path / "nothing.wav")
    assert ran.code == 3
    assert "nothing.wav" in ran.err
