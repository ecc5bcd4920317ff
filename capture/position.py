"""Take the position out of a picture or sound file, byte for byte the same everywhere else.

The bytes that say where are overwritten in their place, so no offset moves and no pixel or sample
is decoded: the EXIF GPS directory (CIPA DC-008), GPS fields of an XMP packet, and the ISO 6709 text
that phones put into MP4 and QuickTime files. What a maker hides in a note of its own is not known
here.
"""

from __future__ import annotations

import mmap
import re
import struct
import zlib
from pathlib import Path

Buffer = bytearray | mmap.mmap

_TIFF = re.compile(rb"II\*\x00|MM\x00\*")
_GPS_POINTER = 0x8825
_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}
_XMP = re.compile(
    rb"exif:GPS\w+\s*=\s*(?P<q>[\"'])(?P<attribute>.*?)(?P=q)"
    rb"|<exif:GPS\w+[^>]*>(?P<element>.*?)</exif:GPS",
    re.DOTALL,
)
_PACKET = re.compile(rb"<x:xmpmeta.*?</x:xmpmeta>", re.DOTALL)
_ISO_6709 = re.compile(
    rb"[+-]\d{2,6}(?:\.\d+)?[+-]\d{3,7}(?:\.\d+)?(?:[+-]\d+(?:\.\d+)?)?(?:CRS[^/]*)?/"
)


def blank(path: Path) -> bool:
    """Take the position out of a file where it lies; say whether there was one.

    The file is mapped, not read whole, and written by its handle: through memory a full disk would
    kill the program. Raises `OSError` where it cannot be written.
    """
    if not path.stat().st_size:
        return False
    with path.open("r+b") as file:
        with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_COPY) as data:
            changed = [(start, data[start:end]) for start, end in _blank(data)]
        for start, held in changed:
            file.seek(start)
            file.write(held)
    return bool(changed)


def without_position(data: bytes) -> bytes:
    """Give the bytes of a file without its position, as many as they were."""
    made = bytearray(data)
    _blank(made)
    return bytes(made)


def _blank(data: Buffer) -> list[tuple[int, int]]:
    """Blank what says where; give the spans of bytes that were written."""
    marks = []
    for found in _TIFF.finditer(data):
        marks += _gps(data, found.start(), "<" if found.group().startswith(b"II") else ">")
    spaces = [
        found.span("attribute" if found["attribute"] is not None else "element")
        for packet in _PACKET.finditer(data)
        for found in _XMP.finditer(data, *packet.span())
    ]
    if data[4:8] in (b"ftyp", b"moov", b"wide", b"mdat"):
        spaces += [found.span() for found in _ISO_6709.finditer(data)]
    is_png = data[:8] == b"\x89PNG\r\n\x1a\n"
    for start, end in marks:
        data[start:end] = bytes(end - start)
    for start, end in spaces:
        data[start:end] = b" " * (end - start)
    sums = _mend_png(data) if is_png and (marks or spaces) else []
    return [*marks, *spaces, *sums]


def _directory(
    data: Buffer, tiff: int, at: int, order: str
) -> list[tuple[int, int, int, int, int]]:
    """Give the entries of a directory: place, tag, type, count, value; none if it is not one."""
    start = tiff + at
    if at < 8 or start + 2 > len(data):
        return []
    (count,) = struct.unpack_from(f"{order}H", data, start)
    if not 0 < count < 512 or start + 2 + 12 * count > len(data):
        return []
    places = [start + 2 + 12 * i for i in range(count)]
    found = [(p, *struct.unpack_from(f"{order}HHII", data, p)) for p in places]
    return found if all(kind in _SIZES for _, _, kind, _, _ in found) else []


def _gps(data: Buffer, tiff: int, order: str) -> list[tuple[int, int]]:
    """Give the spans of a GPS directory: its values, its entries, its count; none without one."""
    if tiff + 8 > len(data):
        return []
    (first,) = struct.unpack_from(f"{order}I", data, tiff + 4)
    spans = []
    for _, tag, kind, count, value in _directory(data, tiff, first, order):
        if tag != _GPS_POINTER or kind not in (4, 13) or count != 1:
            continue
        for place, _, kind_, count_, value_ in _directory(data, tiff, value, order):
            size = _SIZES[kind_] * count_
            if size > 4 and tiff + value_ + size <= len(data):
                spans.append((tiff + value_, tiff + value_ + size))
            spans.append((place, place + 12))
        if spans:
            spans.append((tiff + value, tiff + value + 2))
    return spans


def _mend_png(made: Buffer) -> list[tuple[int, int]]:
    """Make the sums of a PNG's chunks right; give their spans."""
    spans = []
    at = 8
    while at + 12 <= len(made):
        (length,) = struct.unpack_from(">I", made, at)
        end = at + 8 + length
        if end + 4 > len(made):
            break
        struct.pack_into(">I", made, end, zlib.crc32(made[at + 4 : end]))
        spans.append((end, end + 4))
        at = end + 4
    return spans
