"""Position is taken out and nothing else; checked by readers that others wrote."""

from __future__ import annotations

import io
import json
import shutil
import subprocess

import exifread
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from capture.position import without_position

GPS = {1: "N", 2: (47.0, 22.0, 11.5), 3: "E", 4: (8.0, 32.0, 30.25), 29: "2026:03:14"}
TAKEN = "2026:03:14 09:26:53"
XMP = (
    b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="r"><rdf:Description '
    b'exif:GPSLatitude="47,22.19N" exif:Other="kept"><exif:GPSLongitude>8,32.5E</exif:GPSLongitude>'
    b"</rdf:Description></rdf:RDF></x:xmpmeta>"
)


def picture(ending: str) -> bytes:
    """Make a small picture with a time and a position in its EXIF (CIPA DC-008)."""
    image = Image.effect_noise((64, 48), 60).convert("RGB")
    exif = Image.Exif()
    exif[0x010F] = "Invented"
    exif.get_ifd(0x8769)[0x9003] = TAKEN
    exif.get_ifd(0x8825).update(GPS)
    out = io.BytesIO()
    if ending == "heif":
        import pillow_heif

        pillow_heif.register_heif_opener()
    more = {"xmp": XMP} if ending == "jpeg" else {}
    image.save(out, ending, exif=exif.tobytes(), **more)
    return out.getvalue()


@pytest.mark.parametrize("ending", ["jpeg", "png", "webp", "heif"])
def test_position_is_gone_and_time_and_pixels_are_as_they_were(ending):
    before = picture(ending)
    after = without_position(before)
    assert len(after) == len(before)
    old, new = Image.open(io.BytesIO(before)), Image.open(io.BytesIO(after))
    assert old.getexif().get_ifd(0x8825)
    assert not new.getexif().get_ifd(0x8825)
    assert new.getexif().get_ifd(0x8769)[0x9003] == TAKEN
    assert new.getexif()[0x010F] == "Invented"
    assert new.tobytes() == old.tobytes()


@pytest.mark.parametrize("ending", ["jpeg", "png"])
def test_exifread_finds_no_position(ending):
    before, after = (
        exifread.process_file(io.BytesIO(data))
        for data in (picture(ending), without_position(picture(ending)))
    )
    assert any(tag.startswith("GPS") for tag in before)
    assert not any(tag.startswith("GPS") for tag in after)
    assert str(after["EXIF DateTimeOriginal"]) == TAKEN


@pytest.mark.skipif(shutil.which("exiftool") is None, reason="exiftool is not installed")
@pytest.mark.parametrize("ending", ["jpeg", "png", "webp", "heif"])
def test_exiftool_finds_no_position(ending, tmp_path):
    def tags(data: bytes) -> dict[str, str]:
        path = tmp_path / f"x.{ending}"
        path.write_bytes(data)
        run = ["exiftool", "-json", "-n", "-a", "-G1", str(path)]
        return json.loads(subprocess.run(run, capture_output=True, check=True).stdout)[0]

    before, after = tags(picture(ending)), tags(without_position(picture(ending)))
    assert any("GPSLatitude" in tag for tag in before)
    assert not [t for t, v in after.items() if "GPS" in t and str(v).strip()]
    assert after["ExifIFD:DateTimeOriginal"] == TAKEN
    assert "Error" not in str(after.keys())


def test_position_in_an_xmp_packet_is_gone_and_the_rest_of_it_stays():
    after = without_position(picture("jpeg"))
    assert b"47,22" not in after
    assert b"8,32.5E" not in after
    assert b'exif:Other="kept"' in after


def test_position_text_of_a_phone_recording_is_gone():
    """ISO 6709 text as QuickTime and MP4 files carry it (`©xyz`)."""
    head = b"\x00\x00\x00\x18ftypM4A \x00\x00\x00\x00M4A isom"
    tail = b"\x00\x00\x00\x1e\xa9xyz\x00\x12\x15\xc7+47.3698+008.5391/"
    after = without_position(head + tail)
    assert b"47.36" not in after
    assert after.startswith(head)
    assert len(after) == len(head + tail)


def test_a_file_without_position_is_the_very_same():
    image = Image.new("RGB", (16, 16))
    out = io.BytesIO()
    image.save(out, "jpeg")
    assert without_position(out.getvalue()) is not None
    assert without_position(out.getvalue()) == out.getvalue()


@given(st.binary(max_size=400), st.sampled_from([b"II*\x00", b"MM\x00*", b"\x89PNG\r\n\x1a\n"]))
def test_nonsense_keeps_its_length_and_never_fails(junk, head):
    assert len(without_position(head + junk)) == len(head + junk)
