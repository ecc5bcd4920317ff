"""Pictures: opened with care, upright, dated. EXIF is checked against CIPA DC-008 and exiftool."""

from __future__ import annotations

import io
import json
import shutil
import struct
import subprocess
import time
import warnings
import zlib
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageOps

from capture.errors import InputError
from capture.photo import crop, exif_times, look, thumbnail

EXIF_IFD, ORIENTATION = 0x8769, 0x0112
ORIGINAL, OFFSET, SUBSEC = 0x9003, 0x9011, 0x9291  # CIPA DC-008


def picture(width: int = 160, height: int = 120) -> Image.Image:
    """Four different corners, so that every turn shows."""
    pixels = np.full((height, width, 3), 128, np.uint8)
    pixels[: height // 2, : width // 2] = (250, 20, 20)
    pixels[: height // 2, width // 2 :] = (20, 250, 20)
    pixels[height // 2 :, : width // 2] = (20, 20, 250)
    return Image.fromarray(pixels)


def exif(orientation: int = 1, **tags: str) -> Image.Exif:
    made = Image.Exif()
    made[ORIENTATION] = orientation
    numbers = {"original": ORIGINAL, "offset": OFFSET, "subsec": SUBSEC}
    made.get_ifd(EXIF_IFD).update({numbers[name]: value for name, value in tags.items()})
    return made


def saved(folder: Path, name: str, made: Image.Exif | None = None) -> Path:
    path = folder / name
    extra = {"exif": made.tobytes()} if made is not None else {}
    if path.suffix == ".heic":
        import pillow_heif

        pillow_heif.register_heif_opener()
        picture().save(path, quality=90, **extra)
    else:
        picture().save(path, **extra)
    return path


GOLDEN = {"original": "2026:03:14 09:26:53", "subsec": "589", "offset": "-07:00"}


@pytest.mark.parametrize("name", ["p.jpg", "p.png", "p.webp", "p.tiff", "p.heic"])
def test_the_shutter_time_has_its_offset_and_its_fraction(tmp_path: Path, name: str) -> None:
    # the golden photo: exiftool 12.57, ExifRead 3.5.1 and Pillow 13.0.0 agreed on it
    path = saved(tmp_path, name, exif(**GOLDEN))
    at = exif_times(path)
    assert at is not None
    assert at.isoformat(timespec="milliseconds") == "2026-03-14T09:26:53.589-07:00"
    assert at.astimezone(UTC) == datetime(2026, 3, 14, 16, 26, 53, 589000, tzinfo=UTC)


def test_exiftool_reads_the_same_times(tmp_path: Path) -> None:
    if shutil.which("exiftool") is None:
        warnings.warn("exiftool is not installed: times were not checked against it", stacklevel=1)
        pytest.skip("exiftool is not installed (Debian: libimage-exiftool-perl)")
    cases = [("-07:00", "589"), ("+05:45", "04"), ("+00:00", "000"), ("+13:00", "5")]
    for number, (offset, subsec) in enumerate(cases):
        path = saved(tmp_path, f"{number}.jpg", None)
        # exiftool writes, we read; then it reads what we read
        wrote = ["-DateTimeOriginal=2025:11:02 23:59:58", f"-OffsetTimeOriginal={offset}",
                 f"-SubSecTimeOriginal={subsec}", "-overwrite_original", str(path)]  # fmt: skip
        subprocess.run(["exiftool", "-q", *wrote], check=True)
        told = subprocess.run(
            ["exiftool", "-json", "-SubSecDateTimeOriginal", str(path)],
            check=True, capture_output=True,
        )  # fmt: skip
        text = json.loads(told.stdout)[0]["SubSecDateTimeOriginal"]
        at = exif_times(path)
        assert at is not None
        wanted = datetime.strptime(text, "%Y:%m:%d %H:%M:%S.%f%z")
        assert at == wanted
        assert at.utcoffset() == wanted.utcoffset()


def test_without_an_offset_the_time_is_of_no_known_zone(tmp_path: Path) -> None:
    at = exif_times(saved(tmp_path, "p.jpg", exif(original="2026:03:14 09:26:53")))
    assert at == datetime.fromisoformat("2026-03-14T09:26:53")
    assert at.tzinfo is None


def test_the_time_of_the_last_change_is_not_the_shutter(tmp_path: Path) -> None:
    made = exif()
    made[0x0132] = "2026:05:05 05:05:05"
    assert exif_times(saved(tmp_path, "p.jpg", made)) is None


@pytest.mark.parametrize(
    ("stamp", "offset"),
    [("0000:00:00 00:00:00", "+00:00"), ("    :  :     :  :  ", ""), ("2026:13:40 25:61:61", "")],
)
def test_a_nonsense_time_is_no_time(tmp_path: Path, stamp: str, offset: str) -> None:
    assert exif_times(saved(tmp_path, "p.jpg", exif(original=stamp, offset=offset))) is None


@pytest.mark.parametrize("offset", ["+99:00", "07:00", "+7", "+05:75", "   :  "])
def test_a_nonsense_offset_is_left_out(tmp_path: Path, offset: str) -> None:
    at = exif_times(saved(tmp_path, "p.jpg", exif(original=GOLDEN["original"], offset=offset)))
    assert at == datetime.fromisoformat("2026-03-14T09:26:53")
    assert at.tzinfo is None


@pytest.mark.parametrize("orientation", range(1, 9))
def test_each_orientation_is_undone_as_pillow_undoes_it(tmp_path: Path, orientation: int) -> None:
    path = saved(tmp_path, "p.png", exif(orientation))
    photo = look(path)
    with Image.open(path) as image:
        wanted = ImageOps.exif_transpose(image).convert("RGB")
    assert photo.orientation == orientation
    assert photo.size == wanted.size
    assert np.array_equal(np.asarray(photo.image), np.asarray(wanted))


@pytest.mark.parametrize("orientation", [1, 6])
def test_a_large_picture_is_made_smaller_and_says_by_how_much(
    tmp_path: Path, orientation: int
) -> None:
    path = tmp_path / "big.jpg"
    picture(4000, 3000).save(path, exif=exif(orientation).tobytes())
    photo = look(path)
    assert photo.size == ((4000, 3000) if orientation == 1 else (3000, 4000))
    assert max(photo.image.size) <= 2400
    assert photo.image.size[0] * photo.scale == pytest.approx(photo.size[0], abs=2)


def test_nothing_that_leaves_carries_exif(tmp_path: Path) -> None:
    made = exif(6, **GOLDEN)
    made.get_ifd(0x8825).update({1: "N", 2: (45.0, 30.0, 0.0)})  # GPS
    path = saved(tmp_path, "p.jpg", made)
    for data in (thumbnail(path, 64), crop(path, ((10, 10), (90, 10), (90, 60), (10, 60)))):
        with Image.open(io.BytesIO(data)) as image:
            assert dict(image.getexif()) == {}
            assert "exif" not in image.info
        assert b"Exif" not in data


def test_a_crop_shows_what_the_corners_hold(tmp_path: Path) -> None:
    path = saved(tmp_path, "p.jpg", exif(3))  # upside down: red is at the lower right now
    data = crop(path, ((100, 80), (150, 80), (150, 110), (100, 110)), margin=0.0)
    with Image.open(io.BytesIO(data)) as image:
        red, green, _blue = np.asarray(image).reshape(-1, 3).mean(0)
    assert red > 200 > 60 > green


# --- what cannot be taken: one clear line each ----------------------------------------------------


def chunk(kind: bytes, data: bytes) -> bytes:
    body = kind + data
    return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))


def bomb(path: Path, side: int) -> Path:
    """A PNG of `side` × `side` black pixels in a few kilobytes."""
    squeeze = zlib.compressobj(9)
    rows = b"".join(squeeze.compress(bytes(side * 3 + 1)) for _ in range(64)) + squeeze.flush()
    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    )
    return path


def refused(path: Path) -> str:
    begin = time.monotonic()
    with pytest.raises(InputError) as caught:
        look(path)
    assert time.monotonic() - begin < 5
    line = str(caught.value)
    assert path.name in line
    assert "\n" not in line
    return line


@pytest.mark.parametrize("side", [11_000, 14_200, 40_000])
def test_a_decompression_bomb_is_refused_unopened(tmp_path: Path, side: int) -> None:
    assert "megapixels" in refused(bomb(tmp_path / "bomb.png", side))


def test_half_a_jpeg_is_refused(tmp_path: Path) -> None:
    whole = io.BytesIO()
    noise = np.random.default_rng(1).integers(0, 255, (600, 800, 3), np.uint8)
    Image.fromarray(noise).save(whole, "JPEG")
    path = tmp_path / "half.jpg"
    path.write_bytes(whole.getvalue()[: len(whole.getvalue()) // 2])
    assert "cut short" in refused(path)


def test_a_heic_with_a_broken_item_is_refused(tmp_path: Path) -> None:
    path = saved(tmp_path, "p.heic")
    data = bytearray(path.read_bytes())
    data[-len(data) // 3 :] = bytes(len(data) // 3)
    path.write_bytes(bytes(data[: -len(data) // 6]))
    refused(path)


@pytest.mark.parametrize("suffix", [".webp", ".png"])
def test_an_animation_is_refused(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"moving{suffix}"
    frames = [picture(), picture().transpose(Image.Transpose.ROTATE_180)]
    frames[0].save(path, save_all=True, append_images=frames[1:], duration=100)
    assert "animation" in refused(path)


@pytest.mark.parametrize("data", [b"", b"no picture at all", b"\xff\xd8\xff\xe0", b"GIF89a"])
def test_what_is_no_picture_is_refused(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "x.jpg"
    path.write_bytes(data)
    refused(path)


def test_a_single_pixel_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "dot.png"
    Image.new("RGB", (1, 1)).save(path)
    assert "1 × 1" in refused(path)


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    assert "no such file" in refused(tmp_path / "gone.jpg")


@pytest.mark.parametrize("mode", ["CMYK", "L", "P", "RGBA", "1", "I;16"])
def test_other_colour_modes_are_read_as_rgb(tmp_path: Path, mode: str) -> None:
    path = tmp_path / ("p.jpg" if mode == "CMYK" else "p.png")
    if mode == "I;16":
        grey = np.asarray(picture().convert("L")).astype(np.uint16) * 256
        Image.fromarray(grey).save(path)
    else:
        picture().convert(mode).save(path)
    photo = look(path)
    assert photo.image.mode == "RGB"
    grey = "L" if mode == "I;16" else mode
    wanted = np.asarray(picture().convert(grey).convert("RGB"))
    assert np.asarray(photo.image).mean() == pytest.approx(wanted.mean(), abs=4)


def test_exif_that_points_at_itself_is_read_in_bounded_time(tmp_path: Path) -> None:
    # an image file directory whose next directory, and whose EXIF directory, is itself
    entries = struct.pack("<HHHII", 1, EXIF_IFD, 4, 1, 8) + struct.pack("<I", 8)
    tiff = b"II*\x00" + struct.pack("<I", 8) + entries
    path = tmp_path / "loop.jpg"
    picture().save(path, exif=b"Exif\x00\x00" + tiff)
    begin = time.monotonic()
    assert exif_times(path) is None
    assert look(path).size == (160, 120)
    assert time.monotonic() - begin < 3


@pytest.mark.parametrize("seed", range(40))
def test_shuffled_exif_never_breaks_the_reading(tmp_path: Path, seed: int) -> None:
    rng = np.random.default_rng(seed)
    data = bytearray(exif(6, **GOLDEN).tobytes())
    for place in rng.integers(6, len(data), 12):
        data[place] = rng.integers(0, 256)
    path = tmp_path / "p.jpg"
    picture().save(path, exif=bytes(data))
    at = exif_times(path)
    assert at is None or abs(at.utcoffset() or timedelta(0)) <= timedelta(hours=15)
    assert look(path).image.mode == "RGB"
