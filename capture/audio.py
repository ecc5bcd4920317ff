"""Any sound file to samples, and a few seconds of it to a clip that a browser plays.

Samples are mono at 16,000 a second. Sound is read block by block, and what is longer than ten
minutes lies on the disk in 16-bit numbers (`capture.tape`), so that four hours take no more memory.
Files are decoded in a process apart (`capture.apart`), in the functions whose names end in `_here`;
what a file would cost is looked up in its head and refused before it is paid.
"""

from __future__ import annotations

import io
import wave
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from capture import apart, regular
from capture.errors import InputError
from capture.tape import Tape

RATE = 16_000
LONG_S = 600
LACKING_S = 1.0
BLOCK = RATE * 30
MOST_S = 6 * 3600
MOST_RATE, LEAST_RATE, MOST_CHANNELS = 384_000, 4_000, 8
MOST_WORK = 4 * 3600 * 96_000 * 2
"""Samples of all channels that are decoded of one file: four hours of studio sound."""
AGAIN = "copy it from the phone or recorder again"
SHORTER = "cut it into parts"
NO_SOUND_FILE = "not a sound file that can be read"
BUFFER = 1 << 18
SEEKABLE = frozenset(("wav", "flac", "ogg", "mov", "matroska"))
"""Formats in which a seek lands where it says; in the others a clip is found by reading on."""

LISTED = {
    # FFmpeg's names of the formats that are taken; it would open playlists and lists of files too
    "format_whitelist": "mov,mp3,wav,ogg,flac,amr,amrnb,amrwb,matroska,aac,caf",
    "protocol_whitelist": "none",
}

# RFC 4867, section 5.3, tables 1a and 1b: bytes of a frame with its head, by the type in its head
AMR = {
    "amrnb": (13, 14, 16, 18, 20, 21, 27, 32, 6, 7, 6, 6, 1, 1, 1, 1),
    "amrwb": (18, 24, 33, 37, 41, 47, 51, 59, 61, 6, 1, 1, 1, 1, 1, 1),
}
SILENT = {"amrnb": 8, "amrwb": 9}
"""The first type of frame without speech: comfort noise, then nothing sent. Each is 20 ms long."""

Samples = npt.NDArray[Any]


@dataclass(frozen=True, slots=True)
class Sound:
    """What a file sounds like, and what is wrong with it.

    `samples` is float32 (n,) from -1 to 1 at 16 kHz mono, or int16 for more than ten minutes, which
    `as_float` turns into the same. `doubt` is a sentence, or empty.
    """

    samples: Samples
    doubt: str = ""


def as_float(samples: Samples) -> npt.NDArray[np.float32]:
    """Give samples, or a part of them, as float32 from -1 to 1."""
    if samples.dtype == np.int16:
        return samples.astype(np.float32) / np.float32(32768)
    return samples.astype(np.float32, copy=False)


@contextmanager
def _opened(path: Path) -> Iterator[tuple[Any, Any]]:
    """Open a file and its sound, or say in one line why not."""
    import av

    try:
        file = regular.opened(path)
    except OSError as error:
        raise InputError(f"cannot be read ({error.strerror})", path, "check the file") from error
    with file:
        head = file.read(16)
        file.seek(0)
        if not head:
            raise InputError("the file is empty", path, AGAIN)
        try:
            # FFmpeg is handed the open file, so that there is no name by which it opens another
            container = av.open(
                file, options=dict(LISTED), metadata_errors="ignore", buffer_size=BUFFER
            )
        except (av.FFmpegError, OSError, ValueError) as error:
            what = "the file is cut short" if b"ftyp" in head else NO_SOUND_FILE
            raise InputError(what, path, AGAIN) from error
        with container:
            if not container.streams.audio:
                raise InputError("there is no sound in it", path, "leave it out")
            yield container, container.streams.audio[0]


def _afford(container: Any, stream: Any, path: Path) -> None:
    """Refuse by its head what no recorder writes, and what would cost too much to decode."""
    rate, channels = stream.codec_context.sample_rate, stream.codec_context.channels
    if not (LEAST_RATE <= rate <= MOST_RATE and 1 <= channels <= MOST_CHANNELS):
        what = f"it says that it has {channels} channels of {rate} samples a second"
        raise InputError(what, path, AGAIN)
    seconds = _promised(container, stream)
    if seconds > MOST_S or seconds * rate * channels > MOST_WORK:
        raise InputError(_too_long(seconds), path, SHORTER)


def _too_long(seconds: float) -> str:
    return f"it holds {seconds / 3600:.0f} h of sound, and at most {MOST_S // 3600} h are taken"


def _blocks(container: Any, stream: Any, state: dict[str, bool]) -> Iterator[tuple[float, Any]]:
    """Give (time in s of the frame that began the block, or -1; int16 samples) as they come.

    Damaged stretches are passed over; `state["damaged"]` says that there were some.
    """
    import av

    resampler = av.AudioResampler(format="s16", layout="mono", rate=RATE)
    packets = container.demux(stream)
    while True:
        try:
            packet = next(packets)
        except (StopIteration, EOFError):
            break
        except av.FFmpegError:
            state["damaged"] = True
            break
        try:
            for frame in _frames(packet, stream.codec_context):
                if isinstance(frame, tuple):
                    yield frame
                    continue
                at = -1.0 if frame.time is None else float(frame.time)
                frame.pts = None
                for made in resampler.resample(frame):
                    yield at, made.to_ndarray().reshape(-1)
        except (av.FFmpegError, ValueError):
            state["damaged"] = True
    try:
        for made in resampler.resample(None):
            yield -1.0, made.to_ndarray().reshape(-1)
    except (av.FFmpegError, ValueError):
        return


def _frames(packet: Any, codec: Any) -> Iterator[Any]:
    """Give the frames of a packet; of AMR, a frame without speech as (time in s, silence).

    The decoder knows no frames of comfort noise; passed over, all that is said after them would
    come too early.
    """
    import av

    sizes = AMR.get(codec.name)
    if sizes is None or not packet.size:
        yield from codec.decode(packet)
        return
    data, at = bytes(packet), 0
    time = -1.0 if packet.pts is None else float(packet.pts * packet.time_base)
    while at < len(data):
        kind = data[at] >> 3 & 15
        if kind >= SILENT[codec.name]:
            yield time, np.zeros(RATE // 50, np.int16)
        else:
            piece = av.Packet(data[at : at + sizes[kind]])
            piece.pts, piece.time_base = packet.pts, packet.time_base
            yield from codec.decode(piece)
        at += sizes[kind]


def _promised(container: Any, stream: Any) -> float:
    """Give the seconds of sound that a file says it has; a video's picture may run longer.

    A bare AMR file says nothing; a guess from its size goes wrong where silence is sent as less.
    """
    if container.format.name == "amr":
        return 0.0
    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    return float(container.duration or 0) / 1e6


def listen(path: Path) -> Sound:
    """Decode a whole file. A damaged or truncated one gives what can be had, with a doubt.

    Raises InputError where that is nothing (empty, cut off before its index, no sound in it), and
    where it holds more than six hours or costs more than it may.
    """
    tape = Tape()
    told = apart.run("sound", str(path), take=tape.extend)
    samples = tape.samples()
    if not len(samples):
        raise InputError("no sound could be decoded from it", path, AGAIN)
    seconds, promised = len(samples) / RATE, float(told["promised"])
    doubt = ""
    if promised - seconds > LACKING_S:
        doubt = f"the file is cut short: {seconds:.0f} s of {promised:.0f} s could be decoded"
    elif told["damaged"]:
        doubt = "parts of the file are damaged and were passed over"
    return Sound(samples if seconds > LONG_S else as_float(samples), doubt)


def sound_here(out: apart.Out, name: str) -> dict[str, Any]:
    """Send the int16 samples of a whole file; give what it promised and whether it is damaged."""
    state, path = {"damaged": False}, Path(name)
    with _opened(path) as (container, stream):
        _afford(container, stream, path)
        waiting, seconds = bytearray(), 0.0
        for _at, block in _blocks(container, stream, state):
            waiting += block.tobytes()
            seconds += len(block) / RATE
            if seconds > MOST_S:  # its head said nothing, or less
                raise InputError(_too_long(seconds), path, SHORTER)
            if len(waiting) >= BUFFER:
                out(bytes(waiting))
                waiting.clear()
        out(bytes(waiting))
        return {"promised": _promised(container, stream), "damaged": state["damaged"]}


def decode(path: Path) -> Samples:
    """Decode a whole file to samples (n,), as in `Sound`; raises InputError."""
    return listen(path).samples


def part_here(out: apart.Out, name: str, start_s: float, end_s: float) -> dict[str, Any]:
    """Send the int16 samples that lie between two seconds of a file."""
    state, path = {"damaged": False}, Path(name)
    with _opened(path) as (container, stream):
        _afford(container, stream, path)
        at: float | None = None
        if start_s > 5 and set(container.format.name.split(",")) & SEEKABLE:
            container.seek(int((start_s - 1) * 1_000_000))
        else:
            at = 0.0
        begin = max(0, round(start_s * RATE))
        end = round(end_s * RATE)
        for stamp, block in _blocks(container, stream, state):
            if at is None:
                at = max(0.0, stamp)
            first = round(at * RATE)
            out(block[max(0, begin - first) : max(0, end - first)].tobytes())
            at += len(block) / RATE
            if first + len(block) >= end:
                break
    return {}


def clip(source: Samples | Path, start_s: float, end_s: float) -> bytes:
    """Cut from one second to another and give a 16-bit mono WAV file."""
    if isinstance(source, Path):
        buffer = bytearray()
        apart.run("part", str(source), start_s, end_s, take=buffer.extend)
        part = np.frombuffer(buffer, np.int16)
    else:
        part = source[max(0, round(start_s * RATE)) : max(0, round(end_s * RATE))]
    if part.dtype != np.int16:
        part = (np.clip(part, -1, 1) * 32767).astype(np.int16)
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(part.tobytes())
    return out.getvalue()


def container_time(path: Path) -> datetime | None:
    """Give the time that the recorder wrote into the file, with its offset where it gave one.

    Looks for a phone's own creation date with offset, then the container's `creation_time`, then a
    broadcast WAV's origination. A time before 1990 is an unset clock (0 in an MP4 file is 1904).
    """
    told = apart.run("begun", str(path))["at"]
    return datetime.fromisoformat(told) if told else None


def time_here(out: apart.Out, name: str) -> dict[str, Any]:
    """Give what `container_time` tells, as text."""
    found = _container_time(Path(name))
    return {"at": found.isoformat() if found else ""}


def _container_time(path: Path) -> datetime | None:
    with _opened(path) as (container, stream):
        tags = {k.lower(): v for k, v in {**stream.metadata, **container.metadata}.items()}
    spoken = (
        tags.get("com.apple.quicktime.creationdate"),
        tags.get("creation_time"),
        f"{tags.get('origination_date', tags.get('date', ''))}T{tags.get('origination_time', '')}",
        tags.get("date"),
    )
    for text in spoken:
        try:
            found = datetime.fromisoformat((text or "").strip())
        except ValueError:
            continue
        if found.year >= 1990 and len(text or "") > len("2026-03-21"):
            return found
    return None
