"""Shared fixtures: nouns that any test may ask for. Nothing in the suite reaches a network."""

from __future__ import annotations

import socket
import wave
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import hypothesis
import numpy as np
import pytest

from capture.errors import InputError, ModelMissingError
from capture.observed import Hearing, PhotoText, Reading, Transcript, Word

WORD_S = 0.4  # how long a word of a made-up memo lasts, and how far apart words begin
ZONE = ZoneInfo("America/Chicago")

# No test asserts a time: on a machine under load one example in thousands takes a second.
hypothesis.settings.register_profile("cowlnote", deadline=None)
hypothesis.settings.load_profile("cowlnote")


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let sockets reach this machine alone."""
    connect = socket.socket.connect

    def guarded(sock: socket.socket, address: Any) -> None:
        here = ("127.0.0.1", "::1", "localhost")
        if sock.family != socket.AF_UNIX and str(address[0]) not in here:
            raise AssertionError(f"a test reached for the network: {address}")
        connect(sock, address)

    monkeypatch.setattr(socket.socket, "connect", guarded)


@pytest.fixture(scope="session")
def catalogue() -> Any:
    """The project's own field catalogue."""
    from extract.values.catalogue import load

    return load()


@pytest.fixture
def vault(tmp_path: Path) -> Any:
    """An empty vault."""
    from capture.vault import Vault

    return Vault(tmp_path / "home" / "vault")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Any]:
    """An empty record in a home of its own."""
    from record.store import Store

    (tmp_path / "home").mkdir(exist_ok=True)
    opened = Store.open(tmp_path / "home")
    yield opened
    opened.close()


def transcript(*texts: str, media: str = "memo.wav", model: str = "recorded") -> Transcript:
    """Make a transcript of one or several hearings, each word 0.4 s after the one before it."""
    hearings = []
    for text in texts:
        words = tuple(
            Word(word, round(i * WORD_S, 2), round((i + 0.9) * WORD_S, 2), 0.95)
            for i, word in enumerate(text.split())
        )
        hearings.append(Hearing(model, "", words))
    end = max((w.end_s for h in hearings for w in h.words), default=0.0)
    return Transcript(media, end + 0.5, tuple(hearings), ((0.0, end),) if end else ())


@pytest.fixture
def heard() -> Callable[..., Transcript]:
    """Make a timed transcript from a string: `heard("torqued to seventeen")`."""
    return transcript


@dataclass
class RecordedEar:
    """Hears in each memo what the test says is in it; counts what it heard."""

    says: dict[str, str] = field(default_factory=dict)
    calls: list[str] = field(default_factory=list)

    def hear(self, samples: Any, media: str, progress: Any = None) -> Transcript:
        """Give the recorded words."""
        self.calls.append(media)
        if progress:
            progress(1.0)
        return transcript(self.says.get(media, ""), media=media)


@dataclass
class FailingEar:
    """Fails in the way that it is given, from the `after`th memo on."""

    error: BaseException
    after: int = 0
    inner: RecordedEar = field(default_factory=RecordedEar)

    def hear(self, samples: Any, media: str, progress: Any = None) -> Transcript:
        """Raise, once it is time."""
        if len(self.inner.calls) >= self.after:
            raise self.error
        return self.inner.hear(samples, media, progress)


@dataclass
class RecordedEye:
    """Reads off each photo what the test says is on it: (subject, kind, text)."""

    shows: dict[str, tuple[str, str, str]] = field(default_factory=dict)
    calls: list[str] = field(default_factory=list)

    def read(self, path: Path, media: str) -> PhotoText:
        """Give the recorded reading."""
        self.calls.append(media)
        subject, kind, text = self.shows.get(media, ("other", "text", ""))
        quad = ((10.0, 10.0), (90.0, 10.0), (90.0, 40.0), (10.0, 40.0))
        readings = (Reading(kind, text, quad, 0.97),) if text else ()
        return PhotoText(media, (100, 60), subject, readings, "recorded")


@pytest.fixture
def ear() -> RecordedEar:
    """An ear that hears what it is told."""
    return RecordedEar()


@pytest.fixture
def eye() -> RecordedEye:
    """An eye that reads what it is told."""
    return RecordedEye()


@pytest.fixture
def failing_ear() -> Callable[..., FailingEar]:
    """Make an ear that fails: by `damaged`, `no model`, `killed` or `memory`."""
    ways: dict[str, Callable[[], BaseException]] = {
        "damaged": lambda: InputError("no sound in it"),
        "no model": lambda: ModelMissingError("the speech model base is not there", todo="get it"),
        "killed": lambda: KeyboardInterrupt(),
        "memory": lambda: MemoryError(),
    }
    return lambda way, after=0, inner=None: FailingEar(ways[way](), after, inner or RecordedEar())


@pytest.fixture
def sound() -> Callable[..., Path]:
    """Write a memo: a second of a quiet tone as WAV. Two of different `pitch` are two memos."""

    def make(path: Path, pitch: float = 220.0, seconds: float = 1.0) -> Path:
        tone = np.sin(2 * np.pi * pitch * np.arange(int(16_000 * seconds)) / 16_000)
        path.parent.mkdir(parents=True, exist_ok=True)
        with wave.open(str(path), "wb") as out:
            out.setnchannels(1)
            out.setsampwidth(2)
            out.setframerate(16_000)
            out.writeframes((tone * 8000).astype("<i2").tobytes())
        return path

    return make


@pytest.fixture
def photo() -> Callable[..., Path]:
    """Write a grey photo taken at an EXIF moment; two moments are two photos. None: no EXIF."""

    def make(path: Path, taken: str | None = None, offset: str = "-05:00") -> Path:
        from PIL import Image

        exif = Image.Exif()
        if taken:
            exif.get_ifd(0x8769).update({0x9003: taken, 0x9011: offset})
        path.parent.mkdir(parents=True, exist_ok=True)
        shade = sum(map(ord, taken or "")) % 200 + 20
        Image.new("RGB", (320, 240), (shade, shade, shade)).save(path, exif=exif)
        return path

    return make
