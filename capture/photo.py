"""Pictures as phones make them: opened with care, turned upright, dated; cut and shrunk.

Nothing that leaves here carries EXIF, so no position leaves with it. Pictures are opened in a
process apart (`capture.apart`), in the functions whose names end in `_here`.
"""

from __future__ import annotations

import io
import re
import struct
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any

from capture import apart, regular
from capture.errors import InputError

if TYPE_CHECKING:
    from PIL.Image import Image

Quad = tuple[tuple[float, float], ...]

MOST_MEGAPIXELS = 120
FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "HEIF")
"""Pillow's names of the formats that are opened; for others it would start other programs.
MPO, two views in one file, is opened as JPEG."""
LEAST_SIDE_PX = 48
READ_PX = 2400  # a counter 1 % of the frame is then still some 300 px wide
_MOST_EXIF_BYTES = 2_000_000
_BROKEN = (OSError, ValueError, SyntaxError, EOFError, struct.error, MemoryError, TypeError,
           KeyError, IndexError, RuntimeError, OverflowError, AttributeError)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Photo:
    """A picture made ready for reading.

    `image` is upright RGB and may be smaller than the picture; `size` is (width, height) in pixels
    of the whole upright picture and `scale` how many of its pixels one pixel of `image` stands for.
    `orientation` is the EXIF value (1 to 8) that was undone. `taken` is when the shutter went:
    aware where the file carries an offset, naive where it does not, None where it says nothing.
    """

    name: str
    image: Image
    size: tuple[int, int]
    scale: float
    orientation: int
    taken: datetime | None


def look(path: Path, *, longest: int = READ_PX) -> Photo:
    """Open a picture, upright and at most about `longest` pixels on its longer side.

    Raises InputError with one line for a file that is no whole, still picture of sane size.
    """
    from PIL import Image

    pixels = bytearray()
    told = apart.run("look", str(path), longest, take=pixels.extend)
    image = Image.frombytes("RGB", tuple(told["small"]), bytes(pixels))
    width, height = told["size"]
    taken, scale = told["taken"], max(width, height) / max(image.size)
    at = datetime.fromisoformat(taken) if taken else None
    return Photo(path.name, image, (width, height), scale, told["orientation"], at)


def look_here(out: apart.Out, name: str, longest: int) -> dict[str, Any]:
    """Send the pixels of a picture made small; give its sizes, how it was turned, when taken."""
    path = Path(name)
    with _opened(path) as image:
        orientation = _orientation(image)
        size = _upright_size(image, orientation)
        taken = _taken(_exif_bytes(image, path))
        upright = _upright(image, longest)
    out(upright.tobytes())
    return {
        "size": size,
        "small": upright.size,
        "orientation": orientation,
        "taken": taken.isoformat() if taken else "",
    }


def exif_times(path: Path) -> datetime | None:
    """Give when the picture was taken, by its own EXIF; aware only where it carries an offset.

    CIPA DC-008: DateTimeOriginal with SubSecTimeOriginal and OffsetTimeOriginal, else the same
    three of DateTimeDigitized. DateTime alone is the last change and does not count. Nonsense
    counts as absent. Raises InputError where the file is no picture.
    """
    taken = apart.run("taken", str(path))["taken"]
    return datetime.fromisoformat(taken) if taken else None


def time_here(out: apart.Out, name: str) -> dict[str, Any]:
    """Give what `exif_times` tells, as text."""
    path = Path(name)
    with _opened(path) as image:
        taken = _taken(_exif_bytes(image, path))
    return {"taken": taken.isoformat() if taken else ""}


def thumbnail(path: Path, px: int = 320) -> bytes:
    """Give a small upright JPEG, at most `px` on its longer side, without EXIF."""
    made = bytearray()
    apart.run("thumbnail", str(path), px, take=made.extend)
    return bytes(made)


def thumbnail_here(out: apart.Out, name: str, px: int) -> dict[str, Any]:
    """Send what `thumbnail` gives."""
    with _opened(Path(name)) as image:
        out(_jpeg(_upright(image, px)))
    return {}


def crop(path: Path, quad: Quad, *, margin: float = 0.35, longest: int = 900) -> bytes:
    """Give a JPEG of what lies around four corners (pixels of the upright picture), without EXIF.

    `margin` is how much of the crop's height is left around it.
    """
    made = bytearray()
    apart.run(
        "crop", str(path), [list(corner) for corner in quad], margin, longest, take=made.extend
    )
    return bytes(made)


def crop_here(
    out: apart.Out, name: str, quad: list[list[float]], margin: float, longest: int
) -> dict[str, Any]:
    """Send what `crop` gives."""
    path = Path(name)
    xs, ys = [x for x, _ in quad], [y for _, y in quad]
    with _opened(path) as image:
        size = _upright_size(image, _orientation(image))
        wide = max(max(xs) - min(xs), max(ys) - min(ys), 1.0)
        upright = _upright(image, int(max(size) * min(1.0, longest / wide)))
    scale = max(size) / max(upright.size)
    edge = margin * (max(ys) - min(ys))
    box = (max(0, int((min(xs) - edge) / scale)), max(0, int((min(ys) - edge) / scale)),
           min(upright.width, int((max(xs) + edge) / scale) + 1),
           min(upright.height, int((max(ys) + edge) / scale) + 1))  # fmt: skip
    if box[2] <= box[0] or box[3] <= box[1]:
        raise InputError("the corners lie outside the picture", path.name)
    out(_jpeg(upright.crop(box)))
    return {}


@contextmanager
def _opened(path: Path) -> Iterator[Image]:
    import pillow_heif
    from PIL import Image, UnidentifiedImageError

    pillow_heif.register_heif_opener()
    try:
        with regular.opened(path) as file, warnings.catch_warnings():
            warnings.simplefilter("ignore")
            if not file.read(1):
                raise InputError("the picture is empty", path.name, "copy it again")
            file.seek(0)
            with Image.open(file, formats=FORMATS) as image:
                _check(image, path)
                yield image
    except Image.DecompressionBombError:
        raise InputError(*_too_large(path)) from None
    except UnidentifiedImageError:
        raise InputError(
            "this is not a picture that can be opened",
            path.name,
            "use JPEG, HEIC, PNG, WebP or TIFF",
        ) from None
    except FileNotFoundError:
        raise InputError("there is no such file", path.name) from None
    except MemoryError:  # no fault of the picture: `capture.apart` says so
        raise
    except _BROKEN:
        raise InputError(
            "the picture is broken or cut short", path.name, "copy it again from the phone"
        ) from None


def _too_large(path: Path) -> tuple[str, str, str]:
    what = f"the picture has more than {MOST_MEGAPIXELS} megapixels"
    return what, path.name, "take it again at the camera's usual size"


def _check(image: Image, path: Path) -> None:
    width, height = image.size
    if width * height > MOST_MEGAPIXELS * 1_000_000:
        raise InputError(*_too_large(path))
    if min(width, height) < LEAST_SIDE_PX:
        raise InputError(f"the picture is only {width} × {height} pixels", path.name)
    # phones put a depth map or a second view beside the photo in HEIC and MPO; the first is it
    if getattr(image, "n_frames", 1) > 1 and image.format not in ("HEIF", "MPO"):
        what = "several pages" if image.format == "TIFF" else "an animation"
        raise InputError(f"the file holds {what}, not one photo", path.name, "save one picture")


def _orientation(image: Image) -> int:
    if image.format == "HEIF":  # its opener has already turned it
        return int(image.info.get("original_orientation") or 1)
    try:
        value = image.getexif().get(0x0112, 1)
    except _BROKEN:
        return 1
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _upright_size(image: Image, orientation: int) -> tuple[int, int]:
    width, height = image.size
    turned = orientation >= 5 and image.format != "HEIF"
    return (height, width) if turned else (width, height)


def _upright(image: Image, longest: int) -> Image:
    from PIL import Image as Images

    turn = 1 if image.format == "HEIF" else _orientation(image)
    image.draft("RGB", (longest, longest))  # a JPEG is decoded at a fraction of its size
    image.load()
    if image.mode.startswith("I;16"):  # sixteen bits would be clipped to white
        image = image.point(lambda value: value / 256).convert("L")
    if image.mode != "RGB":
        image = image.convert("RGB")
    if max(image.size) > longest:
        part = longest / max(image.size)
        size = (max(1, round(image.width * part)), max(1, round(image.height * part)))
        image = image.resize(size, Images.Resampling.BILINEAR, reducing_gap=2.0)
    moves = Images.Transpose
    move = {2: moves.FLIP_LEFT_RIGHT, 3: moves.ROTATE_180, 4: moves.FLIP_TOP_BOTTOM,
            5: moves.TRANSPOSE, 6: moves.ROTATE_270, 7: moves.TRANSVERSE,
            8: moves.ROTATE_90}.get(turn)  # fmt: skip
    return image.copy() if move is None else image.transpose(move)


def _jpeg(image: Image) -> bytes:
    out = io.BytesIO()
    image.info.clear()
    image.save(out, "JPEG", quality=88)
    return out.getvalue()


def _exif_bytes(image: Image, path: Path) -> bytes:
    if image.format == "TIFF":
        with regular.opened(path) as file:
            return file.read(_MOST_EXIF_BYTES)
    raw = image.info.get("exif") or b""
    if not isinstance(raw, bytes):
        return b""
    return raw.removeprefix(b"Exif\x00\x00")[:_MOST_EXIF_BYTES]


def _taken(exif: bytes) -> datetime | None:
    import exifread
    from exifread.core.exceptions import ExifError

    if not exif:
        return None
    try:
        # without details it leaves maker notes and thumbnails alone, where the loops are
        tags = exifread.process_file(io.BytesIO(exif), details=False)
    except (*_BROKEN, ExifError, RecursionError, AssertionError):
        return None
    for which in ("Original", "Digitized"):
        when = _moment(
            tags.get(f"EXIF DateTime{which}"),
            tags.get(f"EXIF SubSecTime{which}"),
            tags.get(f"EXIF OffsetTime{which}"),
        )
        if when:
            return when
    return None


def _moment(stamp: Any, fraction: Any, offset: Any) -> datetime | None:
    try:
        at = datetime.strptime(str(stamp).strip(" \0"), "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007
    except ValueError:
        return None
    if at.year < 1980:
        return None
    digits = re.fullmatch(r"\s*(\d{1,9})[\s\0]*", str(fraction or ""))
    if digits:
        at += timedelta(microseconds=int(digits[1].ljust(6, "0")[:6]))
    zone = re.fullmatch(r"\s*([+-])(\d\d):([0-5]\d)[\s\0]*", str(offset or ""))
    if zone and int(zone[2]) <= 14:
        shift = timedelta(hours=int(zone[2]), minutes=int(zone[3]))
        return at.replace(tzinfo=timezone(-shift if zone[1] == "-" else shift))
    return at
