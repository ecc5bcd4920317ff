"""Sound and pictures as phones make them. Formats written by PyAV and Pillow, independent of us."""

from __future__ import annotations

import io
import wave

import av
import numpy as np
import pillow_heif
import pytest
from PIL import Image

from capture.observed import Instant, PhotoText, Reading
from desk.web import derived
from record import media, queue
from tests.desk.page.conftest import BEGAN, draft


def recording(path, codec, rate, container):
    """Write two seconds of a tone in a recorder's format; skip where PyAV cannot."""
    try:
        av.codec.Codec(codec, "w")
    except Exception:  # noqa: BLE001  (PyAV's own class of error differs between versions)
        pytest.skip(f"PyAV has no {codec} to write")
    t = np.arange(rate * 2) / rate
    samples = (np.sin(2 * np.pi * 330 * t) * 9000).astype("<i2")
    with av.open(str(path), "w", format=container) as out:
        stream = out.add_stream(codec, rate=rate, layout="mono")
        for start in range(0, samples.size, 160):
            frame = av.AudioFrame.from_ndarray(samples[None, start : start + 160], "s16", "mono")
            frame.sample_rate = rate
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


@pytest.fixture
def kept(filled):
    """Keep a file in the job: `kept(path)` gives its row."""

    def keep(path):
        with filled.desk.store.session() as session:
            row = media.note(session, filled.desk.vault.keep(path), Instant(BEGAN, "file"))
            media.join(session, row.id, filled.job)
        return row

    return keep


@pytest.mark.parametrize(
    ("name", "codec", "rate", "container"),
    [
        ("memo.amr", "libopencore_amrnb", 8000, "amr"),
        ("memo.3gp", "aac", 16000, "3gp"),
        ("memo.aac", "aac", 16000, "adts"),
    ],
)
def test_what_a_browser_cannot_play_is_turned_into_wav(
    client, kept, tmp_path, name, codec, rate, container
):
    row = kept(recording(tmp_path / name, codec, rate, container))
    answer = client.get(f"/media/{row.id}/sound")
    assert answer.headers["content-type"] == "audio/wav"
    with wave.open(io.BytesIO(answer.content)) as sound:
        assert sound.getnframes() / sound.getframerate() == pytest.approx(2.0, abs=0.2)


def test_any_memo_can_be_had_as_wav(client):
    answer = client.get("/media/1/sound?wav", headers={"range": "bytes=0-3"})
    assert (answer.status_code, answer.content) == (206, b"RIFF")


def test_a_heic_photo_is_shown_as_jpeg(client, kept, tmp_path):
    pillow_heif.from_pillow(Image.new("RGB", (640, 480), (40, 160, 60))).save(tmp_path / "a.heic")
    row = kept(tmp_path / "a.heic")
    answer = client.get(f"/media/{row.id}/photo?px=320")
    shown = Image.open(io.BytesIO(answer.content))
    assert (shown.format, max(shown.size)) == ("JPEG", 320)


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_the_crop_of_a_photo_that_lies_on_its_side_is_what_was_read(
    client, filled, kept, tmp_path, orientation
):
    """The corners are pixels of the upright picture (CIPA DC-008 gives the orientations)."""
    upright = Image.new("RGB", (400, 600), (20, 20, 20))
    upright.paste((230, 30, 30), (40, 60, 140, 100))  # what was read
    turned = {1: 0, 3: 180, 6: 90, 8: 270}[orientation]
    stored = upright.rotate(turned, expand=True)
    exif = Image.Exif()
    exif[0x0112] = orientation
    stored.save(tmp_path / "turned.jpg", exif=exif, quality=95)
    row = kept(tmp_path / "turned.jpg")
    quad = ((40.0, 60.0), (140.0, 60.0), (140.0, 100.0), (40.0, 100.0))
    with filled.desk.store.session() as session:
        seen = PhotoText(row.name, (400, 600), "tach", (Reading("drum", "1", quad, 0.9),), "made")
        media.keep_photo_text(session, row.id, seen)
        read = draft("hour_meter_time", "1802.3", row.name, 0, unit="h", quad=quad)
        (number,) = queue.put(session, filled.job, [read])
    cut = Image.open(io.BytesIO(client.get(f"/draft/{number}/crop").content)).convert("RGB")
    r, g, _ = cut.getpixel((cut.width // 2, cut.height // 2))
    assert r > 180
    assert g < 80
    # a margin is left around it, and no more
    assert cut.width < 200
    assert cut.height < 120


def test_an_original_that_is_gone_is_said_to_be_gone(client, filled):
    with filled.desk.store.session() as session:
        found = media.get(session, 1)
    filled.desk.vault.path(found.sha256).unlink()
    answer = client.get("/media/1/sound")
    assert answer.status_code == 503
    assert "is not in the vault" in answer.text


def test_swapped_files_of_the_cache_are_made_anew_and_the_log_says_so(
    client, filled, kept, tmp_path, caplog, monkeypatch
):
    monkeypatch.setattr(derived.LOG, "propagate", True)  # serving turns it off, for the terminal
    Image.new("RGB", (320, 240), (10, 20, 200)).save(tmp_path / "blue.jpg")
    ways = ["/media/3/photo?px=320", f"/media/{kept(tmp_path / 'blue.jpg').id}/photo?px=320"]
    ways += ["/media/1/sound?wav", "/media/2/sound?wav", "/media/1/peaks", "/media/2/peaks"]
    first = [client.get(way).content for way in ways]
    assert len(set(first[:4])) == 4
    cache = filled.desk.settings.home / "cache"
    for ending in (".jpg", ".wav", ".json"):
        one, two = sorted(cache.glob(f"*{ending}"))
        a, b = one.read_bytes(), two.read_bytes()
        one.write_bytes(b)
        two.write_bytes(a)
    assert [client.get(way).content for way in ways] == first
    # the two tones have one waveform, so their peaks are the same file twice
    assert caplog.text.count("is not what was made of it; made anew from the original") >= 4
    caplog.clear()
    assert [client.get(way).content for way in ways] == first
    assert caplog.text.count("made anew") == 0


def test_a_file_of_the_cache_from_an_earlier_run_is_not_believed(client, filled):
    right = client.get("/media/3/photo?px=320").content
    filled.desk.derived._made.clear()  # as when the desk is opened again
    (found,) = (filled.desk.settings.home / "cache").glob("*.jpg")
    found.write_bytes(b"another picture")
    assert client.get("/media/3/photo?px=320").content == right


def test_a_broken_photo_leaves_nothing_in_the_cache_however_often_it_is_looked_at(
    client, filled, tmp_path
):
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(b"\xff\xd8\xff\xe0" + bytes(900))
    with filled.desk.store.session() as session:
        row = media.note(session, filled.desk.vault.keep(broken), None)
        media.join(session, row.id, filled.job)
    cache = filled.desk.settings.home / "cache"
    for _ in range(3):
        assert client.get(f"/media/{row.id}/photo").status_code == 400
    assert not cache.exists() or list(cache.iterdir()) == []
