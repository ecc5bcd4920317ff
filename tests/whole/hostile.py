"""A folder of hostile and of good files, the same for a seed: `python hostile.py DIR [SEED]`.

What each poison file is after stands beside it. Good files are short; all is invented.
"""

from __future__ import annotations

import io
import os
import random
import struct
import subprocess
import sys
import wave
import zlib
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import numpy as np
from PIL import Image

MEMOS, PHOTOS = 35, 15
DEEP = 1500
ASCII = "0123456789abcdefghijklmnopqrstuvwxyz"


def _wav(pitch: float, seconds: float = 0.5) -> bytes:
    tone = np.sin(2 * np.pi * pitch * np.arange(int(16_000 * seconds)) / 16_000)
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(16_000)
        file.writeframes((tone * 8000).astype("<i2").tobytes())
    return out.getvalue()


def _riff(rate: int, channels: int, bits: int, data: bytes) -> bytes:
    """Write a WAV whose head says what it is told to."""
    frame = channels * bits // 8
    form = struct.pack("<HHIIHH", 1, channels, rate, rate * frame, frame, bits)
    body = b"WAVEfmt " + struct.pack("<I", len(form)) + form
    body += b"data" + struct.pack("<I", len(data)) + data
    return b"RIFF" + struct.pack("<I", len(body)) + body


def _flac(rate: int, channels: int, samples: int) -> bytes:
    """Write a FLAC whose head (RFC 9639, section 8.2) promises what never comes."""
    packed = rate << 44 | (channels - 1) << 41 | 15 << 36 | samples
    info = struct.pack(">HH", 4096, 4096) + bytes(6) + packed.to_bytes(8, "big") + bytes(16)
    return b"fLaC" + b"\x80" + len(info).to_bytes(3, "big") + info + b"\xff\xf8\xc9\x18" * 40


def _png(width: int, height: int, colour: int, rows: bytes) -> bytes:
    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    head = struct.pack(">IIBBBBB", width, height, 8, colour, 0, 0, 0)
    packed = zlib.compress(rows, 9)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")
    )


def _picture(shade: int, form: str, taken: str = "", size: tuple[int, int] = (320, 240)) -> bytes:
    exif = Image.Exif()
    if taken:
        exif.get_ifd(0x8769).update({0x9003: taken, 0x9011: "-05:00"})
    out = io.BytesIO()
    Image.new("RGB", size, (shade, 40, 90)).save(out, form, exif=exif.tobytes())
    return out.getvalue()


def _looping_tiff() -> bytes:
    """Write a TIFF whose second page is its first, and so on without end."""
    entries = [(256, 3, 64), (257, 3, 64), (258, 3, 8), (259, 3, 1), (262, 3, 1), (273, 4, 8),
               (277, 3, 1), (278, 3, 64), (279, 4, 4096)]  # fmt: skip
    rows = b"".join(struct.pack("<HHIHH", tag, kind, 1, value, 0) for tag, kind, value in entries)
    return b"II*\x00" + struct.pack("<IH", 8, len(entries)) + rows + struct.pack("<I", 8)


def _silent_film() -> bytes:
    import av

    out = io.BytesIO()
    with av.open(out, "w", format="mp4") as container:
        stream = container.add_stream("mpeg4", rate=5)
        stream.width, stream.height, stream.pix_fmt = 64, 64, "yuv420p"
        frame = av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8), format="rgb24")
        for packet in (*stream.encode(frame), *stream.encode(None)):
            container.mux(packet)
    return out.getvalue()


EPS = (
    b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 200 200\nnewpath 9 9 moveto 99 99 lineto stroke\n"
)


def _files(chance: random.Random) -> dict[str, bytes]:
    """Give the poison files that are files, by name."""
    whole = _wav(150)
    return {
        # 19 GB once it is decoded to 16,000 samples a second
        "hour of one.wav": _riff(1, 1, 8, chance.randbytes(600_000)),
        "a day.flac": _flac(192_000, 8, 192_000 * 86_400),
        "no rate.wav": _riff(0, 0, 16, b"\0" * 4000),
        # FFmpeg plays what lists name: a neighbour, another host
        "list.wav": b"ffconcat version 1.0\nfile 'Recording 2026-03-14 09.00.05.wav'\n",
        "list.mp3": b"#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\nhttp://127.0.0.1:9/a.ts\n",
        "sdp.m4a": b"v=0\no=- 0 0 IN IP4 127.0.0.1\nc=IN IP4 127.0.0.1\nm=audio 9 RTP/AVP 0\n",
        "page.jpg": EPS,  # Pillow starts Ghostscript for it
        "drawing.webp": b"<svg xmlns='http://www.w3.org/2000/svg' width='99999' height='99999'/>",
        "empty.m4a": b"",
        "words.m4a": b"These are words and no sound at all.\n" * 30,
        "cut.wav": whole[:30],
        "head only.mp4": struct.pack(">I", 24) + b"ftypisom" + bytes(12),
        "silent film.mp4": _silent_film(),
        "noise.ogg": b"OggS" + chance.randbytes(5000),
        "half.jpg": _picture(9, "JPEG", size=(900, 700))[:900],
        "wide.png": _png(60_000, 60_000, 2, b""),
        "too much.png": _png(10_000, 11_900, 6, bytes(1 + 4 * 10_000) * 600),
        "round and round.tif": _looping_tiff(),
    }


def _special(folder: Path) -> list[str]:
    """Make what is no file; give the names of what could be made here."""
    made = []
    acts: dict[str, Callable[[Path], object]] = {
        "pipe.wav": lambda path: os.mkfifo(path),
        "zero.wav": lambda path: path.symlink_to("/dev/zero"),
    }
    for name, act in acts.items():
        with suppress(OSError, AttributeError):
            act(folder / name)
            made.append(name)
    return made


def _below(folder: Path, deep: int, name: str, body: bytes) -> None:
    """Write a file so many folders below; step by step, for the whole path is too long to name."""
    back = Path.cwd()
    try:
        os.chdir(folder)
        for _ in range(deep):
            Path("d").mkdir(exist_ok=True)
            os.chdir("d")
        Path(name).write_bytes(body)
    finally:
        os.chdir(back)


def make(folder: Path, seed: int = 12, deep: int = DEEP) -> tuple[list[str], list[str]]:
    """Fill a folder; give the names of the poison files and of the good ones.

    With `deep` one lies so many folders down; whoever makes such a folder must `clear` it.
    """
    chance = random.Random(seed)
    folder.mkdir(parents=True, exist_ok=True)
    poison = _files(chance)
    for name, body in poison.items():
        (folder / name).write_bytes(body)
    bad = [*poison, *_special(folder)]
    good = []
    for i in range(MEMOS):
        name = f"Recording 2026-03-14 09.{i:02}.05.wav"
        (folder / name).write_bytes(_wav(200 + 7 * i))
        good.append(name)
    for i in range(PHOTOS):
        form = ("JPEG", "PNG", "WEBP", "TIFF")[i % 4]
        name = f"IMG_{i:04}.{form.lower()[:4].replace('jpeg', 'jpg').replace('tiff', 'tif')}"
        (folder / name).write_bytes(_picture(10 + 9 * i, form, f"2026:03:14 09:{i:02}:30"))
        good.append(name)
    _odd(folder, good, deep)
    return bad, good


def _odd(folder: Path, good: list[str], below: int) -> None:
    """Give some of the good files names, times and places that are allowed and rare."""
    last = good.pop()
    raw = os.fsencode(folder / last).replace(b"IMG_", b"IMG\xe9")
    with suppress(OSError):  # some systems have names in UTF-8 only
        (folder / last).rename(Path(os.fsdecode(raw)))
        last = Path(os.fsdecode(raw)).name
    good.append(last)
    for name, at in zip(good, (-62_200_000_000, 260_000_000_000), strict=False):
        with suppress(OSError, OverflowError):  # before year 1, after 9999
            os.utime(folder / name, (at, at))
    if not below:
        return
    with suppress(OSError):
        _below(folder, below, good[1], (folder / good[1]).read_bytes())
        (folder / good[1]).unlink()
    with suppress(OSError):  # past what one path may hold
        _below(folder / "d", 2200, "too deep to name.wav", b"never read")


def clear(folder: Path) -> None:
    """Take away the deep folders: Python's own `rmtree` calls itself for each, and gives up."""
    subprocess.run(["rm", "-rf", str(folder / "d")], check=False)


if __name__ == "__main__":
    make(Path(sys.argv[1]), int((sys.argv[2:] or ["12"])[0]))
