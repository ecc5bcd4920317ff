"""The process apart: it may die, and the files after it are read."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from capture import apart, audio, photo, regular
from capture.errors import DiedError, InputError
from capture.trying import Trying
from tests.whole import hostile

posix = pytest.mark.skipif(os.name == "nt", reason="no signals and limits of this kind")


@pytest.fixture(autouse=True)
def _own_process():
    """Let each test have a process of its own."""
    apart.end()
    yield
    apart.end()


def idle() -> apart.Worker:
    (worker,) = apart._idle
    return worker


def test_one_process_serves_file_after_file(tmp_path, sound):
    first = audio.listen(sound(tmp_path / "a.wav"))
    process = idle()._process.pid
    second = audio.listen(sound(tmp_path / "b.wav", 330))
    assert idle()._process.pid == process
    assert len(first.samples) == len(second.samples) == 16_000


def test_a_process_that_nothing_more_comes_for_goes(tmp_path, sound, monkeypatch):
    monkeypatch.setattr(apart, "REST_S", 0.2)
    audio.listen(sound(tmp_path / "a.wav"))
    process = idle()._process
    assert process.wait(timeout=10) is not None
    assert not apart._idle
    audio.listen(sound(tmp_path / "b.wav", 330))  # and another is started


def test_what_comes_through_is_what_is_decoded_here(tmp_path):
    """The same file decoded in this process by the libraries' own calls."""
    pixels = np.random.default_rng(3).integers(0, 255, (90, 120, 3), np.uint8)
    Image.fromarray(pixels).save(tmp_path / "p.png")
    assert np.array_equal(np.asarray(photo.look(tmp_path / "p.png").image), pixels)
    (tmp_path / "m.wav").write_bytes(hostile._wav(440))
    with Path(tmp_path / "m.wav").open("rb") as file:
        raw = np.frombuffer(file.read()[44:], "<i2")
    assert np.array_equal(audio.listen(tmp_path / "m.wav").samples, audio.as_float(raw))


@posix
def test_a_death_is_an_error_of_that_file_and_the_next_is_read(tmp_path, sound):
    audio.listen(sound(tmp_path / "a.wav"))
    os.kill(idle()._process.pid, signal.SIGKILL)
    with pytest.raises(DiedError, match="ended the process"):
        audio.listen(tmp_path / "a.wav")
    assert len(audio.listen(tmp_path / "a.wav").samples) == 16_000


@posix
def test_what_takes_too_long_is_ended(tmp_path, sound, monkeypatch):
    audio.listen(sound(tmp_path / "a.wav"))
    monkeypatch.setitem(apart.TASKS, "sound", ("capture.audio", "sound_here", 0.5))
    os.kill(idle()._process.pid, signal.SIGSTOP)  # as if it were busy for ever
    with pytest.raises(DiedError, match="too long"):
        audio.listen(tmp_path / "a.wav")
    monkeypatch.undo()
    assert len(audio.listen(tmp_path / "a.wav").samples) == 16_000


@posix
def test_memory_is_bounded_and_its_end_is_one_line(tmp_path):
    """The picture needs some 480 MB; the process is given 200."""
    rows = bytes(1 + 3 * 12_000) * 9_900
    (tmp_path / "large.png").write_bytes(hostile._png(12_000, 9_900, 2, rows))
    code = (
        "import sys; from pathlib import Path; from capture import apart\n"
        "apart.MEMORY = 200 * 1024**2; apart._bound_memory()\n"
        "print(apart._done('look', [sys.argv[1], 900], lambda data: None))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code, tmp_path / "large.png"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert apart.NO_MEMORY[0] in ran.stdout


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("hour of one.wav", "1 channels of 1 samples a second"),
        ("a day.flac", "24 h of sound"),
        ("list.wav", "not a sound file"),
        ("list.mp3", "not a sound file"),
        ("sdp.m4a", "not a sound file"),
    ],
)
def test_what_would_cost_too_much_or_names_other_files_is_refused_at_once(tmp_path, name, told):
    folder = tmp_path / "f"
    hostile.make(folder, deep=0)
    begin = time.monotonic()
    with pytest.raises(InputError, match=told):
        audio.listen(folder / name)
    assert time.monotonic() - begin < 10


def test_a_list_of_files_plays_no_neighbour(tmp_path):
    """FFmpeg reads `ffconcat` by its first bytes, and plays what it names, if it is let."""
    import av

    (tmp_path / "neighbour.wav").write_bytes(hostile._wav(300))
    (tmp_path / "list.wav").write_text("ffconcat version 1.0\nfile neighbour.wav\n", "utf-8")
    with av.open(str(tmp_path / "list.wav")) as let:
        assert let.format.name == "concat"
    with pytest.raises(InputError, match="not a sound file"):
        audio.listen(tmp_path / "list.wav")


def test_only_listed_pictures_are_opened(tmp_path):
    (tmp_path / "page.jpg").write_bytes(hostile.EPS)
    with Image.open(tmp_path / "page.jpg") as let:
        assert let.format == "EPS"
    Image.new("RGB", (90, 90)).save(tmp_path / "old.gif")
    for name in ("page.jpg", "old.gif"):
        with pytest.raises(InputError, match="not a picture that can be opened"):
            photo.look(tmp_path / name)


@posix
@pytest.mark.parametrize("what", ["pipe", "device", "folder"])
def test_only_files_are_opened(tmp_path, what):
    path = tmp_path / "x.wav"
    if what == "pipe":
        os.mkfifo(path)
    elif what == "device":
        path.symlink_to("/dev/zero")
    else:
        path.mkdir()
    for act in (regular.opened, audio.listen):
        with pytest.raises(InputError, match="this is no file"):
            act(path)


def test_a_file_in_hand_is_noted_until_it_is_done_with(tmp_path):
    trying = Trying(tmp_path / "unfinished")
    with trying.at("ab"):
        assert trying.deaths("ab") == 1  # so it stands if the program is killed now
    assert trying.deaths("ab") == 0
    for error, left in ((InputError("no"), 0), (KeyboardInterrupt(), 0), (DiedError(), 1)):
        with pytest.raises(type(error)), trying.at("ab"):
            raise error
        assert trying.deaths("ab") == left


@pytest.mark.parametrize("seconds", [-1e11, -6.3e10, 2.6e11, 1e300, float("inf"), float("nan")])
def test_a_time_that_is_in_no_calendar_is_no_time(seconds):
    assert regular.changed_at(seconds) == regular.EPOCH


def test_a_name_that_is_no_text_can_be_stored_and_shown():
    assert regular.spelt(os.fsdecode(b"caf\xe9.wav")).encode("utf-8")
