"""Whole photos through the real readers, on counters drawn otherwise than the recipe draws."""

from __future__ import annotations

import math
import random
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageDraw, ImageFont

from capture import models
from capture.errors import InputError, ModelMissingError
from capture.observed import Reading
from capture.photo_text import Eye, hour_counters, mark_written, scale_numerals, subject_of

MODELS = Path(__file__).parents[2] / "models"


def text(words: str, x: float = 0, y: float = 0, tall: float = 14) -> Reading:
    wide = tall * 0.6 * len(words)
    quad = ((x, y), (x + wide, y), (x + wide, y + tall), (x, y + tall))
    return Reading("text", words, quad, 0.99)


def counter(figures: str = "2345.6", kind: str = "drum", *doubts: str) -> Reading:
    return Reading(kind, figures, ((0, 0), (100, 0), (100, 30), (0, 30)), 0.95, (), doubts)


# --- what a photo is of, by its words alone ------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "subject"),
    [
        (("RPM", "X 100", "HOURS"), "tach"),
        (("TACH HRS",), "tach"),
        (("5", "15", "25", "35"), "tach"),
        (("500", "1000", "1500"), "tach"),
        (("HOURS", "10-80 VDC"), "hobbs"),
        (("QUARTZ",), "hobbs"),
        (("VOLTS",), "other"),
        (("ALT", "29"), "other"),
        (("1", "2", "3", "4", "6", "7"), "other"),
        ((), "counter"),
        (("35",), "counter"),
        (("20", "40", "60", "80", "100", "km/h"), "counter"),
    ],
)
def test_a_counter_is_named_by_the_words_round_it(words: tuple[str, ...], subject: str) -> None:
    lines = [text(word, 20, 40 + 15 * n) for n, word in enumerate(words)]
    assert subject_of(lines, (counter(),)) == subject


def test_words_on_another_instrument_do_not_name_a_counter() -> None:
    assert subject_of([text("HOURS", 20, 40), text("RPM", 900, 0)], (counter(),)) == "hobbs"


def test_print_without_a_counter_is_a_label_or_nothing() -> None:
    label = [text("OIL FILTER"), text("P/N: QX-72518"), text("TORQUE 17 FT LBS")]
    assert subject_of(label, ()) == "label"
    assert subject_of([text("FUEL 24.5 GAL"), text("NO SMOKING")], ()) == "other"


def test_a_clock_a_frequency_and_a_pressure_count_no_hours() -> None:
    assert hour_counters([text("10:42", 20, 8)], (counter("104.2", "lcd"),)) == ()
    assert hour_counters([], (counter("122.80", "lcd"),)) == ()
    plain = "no drum of another colour was seen"
    assert hour_counters([], (counter("299.2", "drum", plain),)) == ()
    assert len(hour_counters([], (counter("299.2"),))) == 1
    assert len(hour_counters([text("HOURS")], (counter("299.2", "drum", plain),))) == 1


def test_a_gauges_numerals_are_no_tachometers_scale() -> None:
    assert scale_numerals([text(v) for v in ("0", "20", "40", "60", "80", "100", "120")]) == 0
    assert scale_numerals([text(v) for v in ("5", "10", "15", "20", "30-")]) == 5


def test_only_dates_and_figures_beside_a_prompt_look_handwritten() -> None:
    lines = [text("DATE INSTALLED", 0, 100), text("27 DEC 2025", 5, 118, 20),
             text("TORQUE 16-18", 0, 20), text("646809323613", 500, 20)]  # fmt: skip
    assert [line.handwritten for line in mark_written(lines)] == [False, True, False, False]


# --- whole photos --------------------------------------------------------------------------------


def face(size: float, name: str = "DejaVuSans-Bold.ttf") -> ImageFont.FreeTypeFont:
    import matplotlib

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    return ImageFont.truetype(str(folder / name), int(size))


def dial(phases: list[float], words: tuple[str, ...] = ("RPM", "HOURS")) -> Image.Image:
    """A plain black dial with drums at these phases; the last one is red."""
    image = Image.new("RGB", (1200, 1200), (120, 122, 125))
    draw = ImageDraw.Draw(image)
    draw.ellipse((60, 60, 1140, 1140), fill=(25, 25, 28), outline=(190, 190, 190), width=18)
    for n, mark in enumerate(range(0, 40, 5)):
        a = math.radians(150 + n * 240 / 7)
        at = (600 + 420 * math.cos(a), 600 + 420 * math.sin(a))
        draw.text(at, str(mark), fill="white", font=face(52), anchor="mm")
    draw.text((600, 380), words[0], fill="white", font=face(44), anchor="mm")
    draw.text((600, 900), words[1], fill="white", font=face(30), anchor="mm")
    draw.line((600, 600, 330, 500), fill="white", width=12)
    high, wide, left = 84, 62, 600 - 62 * len(phases) // 2
    draw.rectangle((left - 12, 768, left + wide * len(phases) + 12, 872), fill=(150, 150, 150))
    for n, phase in enumerate(phases):
        red = n == len(phases) - 1
        cell = Image.new("RGB", (wide - 4, high), (190, 25, 30) if red else (10, 10, 10))
        pen = ImageDraw.Draw(cell)
        for step in (-1, 0, 1, 2):
            digit = (math.floor(phase) + step) % 10
            y = high / 2 + (step - phase % 1) * high * 0.95
            pen.text((wide / 2 - 2, y), str(digit), fill="white", font=face(70), anchor="mm")
        image.paste(cell, (left + n * wide + 2, 778))
    return image


@pytest.fixture(scope="module")
def eye() -> Eye:
    return Eye(MODELS)


def drafts(eye: Eye, image: Image.Image, folder: Path, catalogue: Any) -> Any:
    from extract.witness.photo import read_photo

    path = folder / "photo.jpg"
    image.save(path, quality=90)
    return read_photo(eye.read(path, path.name), catalogue)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("phases", "value", "rolling"),
    [
        ([0, 8, 5, 8, 3, 4], "8583.4", False),
        ([1, 9, 0, 7, 2], "1907.2", False),
        ([2, 6, 4, 8, 1.5], "2648.1", True),
        ([2, 3.5, 9.5, 9.5, 9.5], "2399.9", True),  # on its way to 2400.0
    ],
)
def test_a_dial_is_read_to_the_tenth(
    eye: Eye, tmp_path: Path, catalogue: Any, phases: list[float], value: str, rolling: bool
) -> None:
    (draft,) = drafts(eye, dial(phases), tmp_path, catalogue)
    assert (draft.name, str(draft.value)) == ("tach_time", value)
    assert bool(draft.doubts) is rolling
    if rolling:
        assert float(draft.alternatives[0].value) == pytest.approx(float(value) + 0.1)


@pytest.mark.slow
def test_the_box_round_the_counter_is_given_in_pixels_of_the_upright_picture(
    eye: Eye, tmp_path: Path, catalogue: Any
) -> None:
    image = dial([1, 9, 0, 7, 2]).resize((3000, 3000)).transpose(Image.Transpose.ROTATE_90)
    made = Image.Exif()
    made[0x0112] = 6  # upright when turned a quarter clockwise
    path = tmp_path / "turned.jpg"
    image.save(path, exif=made.tobytes())
    seen = eye.read(path, path.name)
    quad = seen.readings[0].quad
    centre = sum(x for x, _ in quad) / 4, sum(y for _, y in quad) / 4
    assert seen.readings[0].text == "1907.2"
    assert centre == pytest.approx((1500, 2050), abs=60)


@pytest.mark.slow
def test_a_dial_without_a_counter_and_one_behind_a_finger_make_no_draft(
    eye: Eye, tmp_path: Path, catalogue: Any
) -> None:
    covered = dial([1, 9, 0, 7, 2])
    ImageDraw.Draw(covered).ellipse((350, 700, 850, 1300), fill=(200, 150, 120))
    assert drafts(eye, covered, tmp_path, catalogue) == ()
    blank = Image.new("RGB", (900, 900), (90, 95, 100))
    assert drafts(eye, blank, tmp_path, catalogue) == ()


@pytest.mark.slow
def test_a_label_gives_its_part_number_alone(eye: Eye, tmp_path: Path, catalogue: Any) -> None:
    image = Image.new("RGB", (1200, 900), (150, 120, 80))
    draw = ImageDraw.Draw(image)
    draw.rectangle((150, 150, 1050, 750), fill="white")
    rows = ("OIL FILTER", "P/N: QX-4412-C", "TORQUE 16-18 FT-LB", "LOT 25-30712", "S/N 925942")
    for row, words in enumerate(rows):
        draw.text((200, 190 + row * 100), words, fill="black", font=face(54))
    (draft,) = drafts(eye, image, tmp_path, catalogue)
    assert (draft.name, draft.value) == ("filter_part_number", "QX-4412-C")


def test_a_missing_network_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("capture.models.CARRIED", ())
    path = tmp_path / "photo.jpg"
    Image.new("RGB", (300, 300)).save(path)
    with pytest.raises(ModelMissingError, match=r"finder\.onnx"):
        Eye(tmp_path).read(path, path.name)


def test_a_damaged_network_is_named(tmp_path: Path) -> None:
    (tmp_path / "photo").mkdir()
    whole = (MODELS / "photo" / "finder.onnx").read_bytes()
    (tmp_path / "photo" / "finder.onnx").write_bytes(whole[: len(whole) // 2])
    path = tmp_path / "photo.jpg"
    Image.new("RGB", (300, 300)).save(path)
    with pytest.raises(ModelMissingError, match="damaged"):
        Eye(tmp_path).read(path, path.name)


def test_every_flipped_bit_of_a_network_is_noticed_when_it_is_loaded(tmp_path: Path) -> None:
    rng = random.Random(417)
    (tmp_path / "photo").mkdir()
    for name in ("finder.onnx", "reader.onnx"):
        whole = bytearray((MODELS / "photo" / name).read_bytes())
        assert models.network(MODELS, name) == whole
        for _ in range(60):
            at, bit = rng.randrange(len(whole)), 1 << rng.randrange(8)
            whole[at] ^= bit
            (tmp_path / "photo" / name).write_bytes(whole)
            with pytest.raises(ModelMissingError, match="is not the one that the manifest names"):
                models.network(tmp_path, name)
            whole[at] ^= bit
    assert ("photo", "right") in models.verify(MODELS)
    ((_, state),) = [found for found in models.verify(tmp_path) if found[0] == "photo"]
    assert "damaged" in state


def test_a_bad_picture_is_refused_before_any_network_is_opened(tmp_path: Path) -> None:
    path = tmp_path / "photo.jpg"
    path.write_bytes(b"not a picture")
    with pytest.raises(InputError):
        Eye(tmp_path).read(path, path.name)
