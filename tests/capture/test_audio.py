from __future__ import annotations

import io
import wave
from contextlib import suppress
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from capture import audio
from capture.audio import RATE, clip, container_time, decode, listen
from capture.errors import InputError

CODECS = {
    "wav": "pcm_s16le",
    "m4a": "aac",
    "mp3": "libmp3lame",
    "ogg": "libopus",
    "flac": "flac",
    "webm": "libopus",
    "3gp": "aac",
    "mov": "aac",
    "mp4": "aac",
}


def _tone(seconds: float, pitch: float = 440.0) -> np.ndarray:
    return 0.5 * np.sin(2 * np.pi * pitch * np.arange(round(seconds * RATE)) / RATE)


def _write(path: Path, samples: np.ndarray, *, rate: int = 48_000, **tags: str) -> Path:
    """Write stereo at 48 kHz, as phones do, with PyAV's own encoders."""
    end = path.suffix[1:]
    form = {"m4a": "ipod"}.get(end, end)
    with av.open(str(path), "w", format=form) as out:
        out.metadata.update(tags)
        stream = out.add_stream(CODECS[end], rate=rate)
        stream.layout = "stereo"
        if end in ("mp4", "mov"):
            picture = out.add_stream("mpeg4", rate=10)
            picture.width = picture.height = 32
            for _ in range(10):
                out.mux(picture.encode(av.VideoFrame(32, 32, "yuv420p")))
            out.mux(picture.encode())
        wide = np.interp(np.arange(0, len(samples), RATE / rate), np.arange(len(samples)), samples)
        both = (np.repeat(wide, 2) * 32767).astype(np.int16).reshape(1, -1)
        frame = av.AudioFrame.from_ndarray(both, format="s16", layout="stereo")
        frame.rate, frame.time_base, frame.pts = rate, Fraction(1, rate), 0
        resampler = av.AudioResampler(
            format=stream.codec_context.format or "s16",
            layout="stereo",
            rate=rate,
            frame_size=stream.codec_context.frame_size or 1024,
        )
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            out.mux(stream.encode(part))
        out.mux(stream.encode())
    return path


def _pitch(samples: np.ndarray) -> float:
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    return float(np.argmax(spectrum) * RATE / len(samples))


@pytest.mark.parametrize("end", sorted(CODECS))
def test_every_usual_format_gives_the_tone_and_the_length_that_went_in(
    tmp_path: Path, end: str
) -> None:
    samples = decode(_write(tmp_path / f"a.{end}", _tone(2.0)))
    assert samples.dtype == np.float32
    assert len(samples) / RATE == pytest.approx(2.0, abs=0.1)
    assert _pitch(samples) == pytest.approx(440, abs=2)
    assert np.abs(samples).max() == pytest.approx(0.5, abs=0.1)


def test_amr_is_decoded(tmp_path: Path) -> None:
    # RFC 4867 section 5: magic, then frames of 20 ms; mode 7 (0x3C) is 32 bytes with its head
    path = tmp_path / "a.amr"
    path.write_bytes(b"#!AMR\n" + (b"\x3c" + bytes(31)) * 50)
    assert len(decode(path)) / RATE == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize(
    ("head", "speech", "silence"),
    [
        # RFC 4867, tables 1a and 1b: type 8 (9 in wide band) is comfort noise, 15 nothing sent
        (b"#!AMR\n", b"\x3c" + bytes(31), (b"\x44" + bytes(5)) + b"\x7c" * 7),
        (b"#!AMR-WB\n", b"\x14" + bytes(32), (b"\x4c" + bytes(5)) + b"\x7c" * 7),
    ],
)
def test_silence_that_amr_sends_as_less_is_silence_and_nothing_is_cut_short(
    tmp_path: Path, head: bytes, speech: bytes, silence: bytes
) -> None:
    path = tmp_path / "a.amr"
    path.write_bytes(head + silence * 25 + speech * 100 + silence * 25 + speech * 100)
    sound = listen(path)
    # 25 times 8 frames, 100 frames, twice, of 20 ms each
    assert len(sound.samples) / RATE == pytest.approx(12.0, abs=0.1)
    assert sound.doubt == ""


def test_an_amr_file_that_ends_in_a_frame_is_said_to_be_damaged(tmp_path: Path) -> None:
    path = tmp_path / "a.amr"
    path.write_bytes((b"#!AMR\n" + (b"\x3c" + bytes(31)) * 50)[:-20])
    assert "damaged" in listen(path).doubt


@pytest.mark.parametrize("end", ["wav", "mp3", "ogg", "flac", "webm"])
def test_a_truncated_file_gives_what_is_there_and_says_so(tmp_path: Path, end: str) -> None:
    path = _write(tmp_path / f"a.{end}", _tone(8.0))
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    sound = listen(path)
    assert 2.5 < len(sound.samples) / RATE < 5.5
    assert _pitch(sound.samples) == pytest.approx(440, abs=2)
    if end in ("flac", "webm"):  # only these name their length in their head, apart from the bytes
        assert "cut short" in sound.doubt


def test_a_file_cut_before_its_index_is_one_line(tmp_path: Path) -> None:
    path = _write(tmp_path / "a.m4a", _tone(3.0))
    path.write_bytes(path.read_bytes()[:-2000])
    with pytest.raises(InputError, match="cut short") as caught:
        decode(path)
    assert "\n" not in str(caught.value)


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(end=st.sampled_from(sorted(CODECS)), data=st.data())
def test_damage_anywhere_gives_sound_or_one_line_and_never_anything_else(
    tmp_path: Path, end: str, data: st.DataObject
) -> None:
    path = tmp_path / f"a.{end}"
    if not path.exists():
        _write(path, _tone(1.5))
    raw = bytearray(path.read_bytes())
    for _ in range(data.draw(st.integers(1, 12))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    damaged = tmp_path / f"damaged.{end}"
    damaged.write_bytes(raw[: data.draw(st.integers(1, len(raw)))])
    for act in (listen, container_time, lambda p: clip(p, 0.2, 0.9)):
        with suppress(InputError):
            act(damaged)


@pytest.mark.parametrize(
    ("body", "word"),
    [(b"", "empty"), (b"bread, milk\n" * 50, "not a sound"), (b"\0" * 900, "sound")],
)
def test_what_is_no_sound_is_one_line(tmp_path: Path, body: bytes, word: str) -> None:
    path = tmp_path / "note.m4a"
    path.write_bytes(body)
    with pytest.raises(InputError, match=word) as caught:
        decode(path)
    assert "note.m4a" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_film_without_sound_is_one_line(tmp_path: Path) -> None:
    path = tmp_path / "film.mp4"
    with av.open(str(path), "w") as out:
        picture = out.add_stream("mpeg4", rate=10)
        picture.width = picture.height = 32
        out.mux(picture.encode(av.VideoFrame(32, 32, "yuv420p")))
        out.mux(picture.encode())
    with pytest.raises(InputError, match="no sound in it"):
        decode(path)


def test_what_is_long_stays_in_sixteen_bits(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = _write(tmp_path / "a.wav", _tone(3.0))
    short = decode(path)
    monkeypatch.setattr(audio, "LONG_S", 1)
    long = decode(path)
    assert long.dtype == np.int16
    assert np.array_equal(audio.as_float(long), short)


@given(st.floats(0, 2), st.floats(0, 2))
def test_a_clip_is_a_wave_file_of_the_length_asked_for(start: float, length: float) -> None:
    # read back by the standard library's own wave module
    raw = io.BytesIO(clip(_tone(4.0).astype(np.float32), start, start + length))
    with wave.open(raw) as made:
        frames = made.getnframes()
        assert (made.getframerate(), made.getnchannels(), made.getsampwidth()) == (RATE, 1, 2)
    assert frames == pytest.approx(length * RATE, abs=1)


@pytest.mark.parametrize("end", ["wav", "m4a", "mp3", "ogg", "flac", "webm"])
def test_a_clip_from_a_file_is_cut_where_it_was_asked(tmp_path: Path, end: str) -> None:
    # a step of one second in pitch every second says where a clip was cut
    steps = np.concatenate([_tone(1.0, 300 + 50 * n) for n in range(12)])
    path = _write(tmp_path / f"a.{end}", steps)
    for second in (0, 3, 9):
        with wave.open(io.BytesIO(clip(path, second + 0.1, second + 0.9))) as made:
            part = np.frombuffer(made.readframes(RATE), np.int16).astype(float)
        assert len(part) == pytest.approx(0.8 * RATE, abs=2)
        assert _pitch(part) == pytest.approx(300 + 50 * second, abs=3)


@pytest.mark.parametrize("end", ["m4a", "ogg", "mp4", "mov", "3gp"])
def test_the_containers_time_is_read(tmp_path: Path, end: str) -> None:
    # written by FFmpeg's own muxers: seconds since 1904 in an MP4 (ISO 14496-12), a comment in Ogg
    path = _write(tmp_path / f"a.{end}", _tone(0.5), creation_time="2026-03-14T16:26:53Z")
    assert container_time(path) == datetime(2026, 3, 14, 16, 26, 53, tzinfo=UTC)


def test_1773505613_in_unix_time_is_3856350413_in_a_movie_header(tmp_path: Path) -> None:
    # golden value: 2026-03-14T16:26:53Z is 3,856,350,413 s after 1904 (offset 2,082,844,800 s)
    path = _write(tmp_path / "a.m4a", _tone(0.5), creation_time="2026-03-14T16:26:53Z")
    raw = path.read_bytes()
    head = raw.index(b"mvhd")
    assert int.from_bytes(raw[head + 8 : head + 12], "big") == 3_856_350_413
    unset = raw.replace((3_856_350_413).to_bytes(4, "big"), bytes(4))
    path.write_bytes(unset)
    assert container_time(path) is None


def test_an_offset_in_a_tag_is_kept_and_a_time_without_one_stays_naive(tmp_path: Path) -> None:
    with_offset = _write(tmp_path / "a.ogg", _tone(0.5), creation_time="2025-11-08T09:42:39-05:00")
    there = timezone(timedelta(hours=-5))
    assert container_time(with_offset) == datetime(2025, 11, 8, 9, 42, 39, tzinfo=there)
    without = _write(tmp_path / "b.ogg", _tone(0.5), creation_time="2025-11-08T09:42:39")
    found = container_time(without)
    assert found is not None
    assert found.tzinfo is None


def test_a_file_without_a_time_or_with_a_broken_one_has_none(tmp_path: Path) -> None:
    assert container_time(_write(tmp_path / "a.wav", _tone(0.5))) is None
    assert container_time(_write(tmp_path / "b.ogg", _tone(0.5), date="2026")) is None
    assert container_time(_write(tmp_path / "c.ogg", _tone(0.5), creation_time="yesterday")) is None


def test_a_video_whose_picture_runs_longer_than_its_sound_is_not_called_short(
    tmp_path: Path,
) -> None:
    path = tmp_path / "a.mp4"
    with av.open(str(path), "w") as out:
        sound = out.add_stream("aac", rate=48_000)
        picture = out.add_stream("mpeg4", rate=5)
        picture.width, picture.height, picture.pix_fmt = 64, 48, "yuv420p"
        for n in range(40):  # 8 s of picture
            still = av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), format="rgb24")
            still.pts = n
            out.mux(picture.encode(still))
        out.mux(picture.encode(None))
        tone = np.sin(2 * np.pi * 440 * np.arange(48_000 * 2) / 48_000).astype(np.float32)
        frame = av.AudioFrame.from_ndarray(tone[None], format="fltp", layout="mono")
        frame.sample_rate = 48_000
        for part in [*sound.encode(frame), *sound.encode(None)]:
            out.mux(part)
    heard = listen(path)
    assert len(heard.samples) / RATE == pytest.approx(2.0, abs=0.2)
    assert heard.doubt == ""
