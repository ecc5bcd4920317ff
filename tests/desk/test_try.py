"""`try`: one line for each input, in order, and nothing recorded."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from extract.values.draft import KEYS

SAID = "torqued the filter to seventeen foot pounds"


def lines(ran) -> list[list[dict]]:
    return [json.loads(line) for line in ran.out.splitlines()]


def test_a_sentence_becomes_an_array_of_drafts_with_the_catalogues_keys(cowlnote):
    (drafts,) = lines(cowlnote("try", SAID, "--json"))
    assert [(d["name"], d["value"], d["unit"]) for d in drafts] == [("filter_torque", 17, "ft-lb")]
    assert tuple(drafts[0]) == KEYS
    assert drafts[0]["media"] in ("", None)


def test_one_line_for_each_input_in_order(cowlnote):
    got = lines(cowlnote("try", SAID, "what a nice day", "cowl is back on", "--json"))
    assert [[d["name"] for d in line] for line in got] == [
        ["filter_torque"],
        [],
        ["cowling_installed"],
    ]


def test_standard_input_is_one_sentence_a_line_and_an_empty_line_counts(cowlnote):
    got = lines(cowlnote("try", "-", "--json", input=f"{SAID}\n\ncowl is back on\n"))
    assert [len(line) for line in got] == [1, 0, 1]


def test_standard_input_is_never_taken_for_a_path(cowlnote, sound, tmp_path):
    memo = sound(tmp_path / "memo.wav")
    ran = cowlnote("try", "-", "--json", input=f"{memo}\n")
    assert (ran.code, ran.out) == (0, "[]\n")


def test_a_memo_and_a_photo_carry_their_names_and_their_time(cowlnote, folder):
    memo = folder / "Recording 2026-03-14 09.20.00.wav"
    heard, seen = lines(cowlnote("try", memo, folder / "IMG_0001.jpg", "--json"))
    assert [(d["name"], d["value"], d["media"]) for d in heard] == [
        ("filter_torque", 17, memo.name)
    ]
    assert heard[0]["said_at"].startswith("2026-03-14T09:20:0")
    assert [(d["name"], d["value"], d["media"]) for d in seen] == [
        ("tach_time", 2345.6, "IMG_0001.jpg")
    ]
    assert (seen[0]["start"], seen[0]["said_at"]) == (None, "2026-03-14T09:12:30-05:00")


@pytest.mark.parametrize("long", [f"{'well ' * 90}{SAID}", "", " ", "\0", "a\nb", "no leaks."])
def test_any_sentence_is_a_sentence_however_long_or_odd(cowlnote, long):
    ran = cowlnote("try", long, "--json")
    assert (ran.code, ran.err) == (0, "")
    assert len(lines(ran)) == 1


def test_nothing_is_recorded_and_nothing_is_made(cowlnote, folder, tmp_path, home):
    nowhere = tmp_path / "nowhere"
    memo = next(folder.glob("*.wav"))
    assert cowlnote("try", SAID, memo, at=nowhere).code == 0
    assert not nowhere.exists()
    cowlnote("try", SAID, memo)
    assert [p.name for p in home.iterdir()] == ["aircraft.toml"]


@pytest.mark.slow
def test_the_real_engines_too_make_nothing_in_the_home(cowlnote, home):
    media = Path(__file__).parent.parent.parent / "demo_media"
    ran = cowlnote("try", media / "hangar-06.m4a", media / "IMG_0103.jpg", "--json")
    assert ran.code == 0
    assert [p.name for p in home.iterdir()] == ["aircraft.toml"]


def test_the_profile_of_the_home_is_used(cowlnote, home, tmp_path):
    said = "tach reads one two zero zero point one"
    (with_profile,) = lines(cowlnote("try", said, "--json"))
    (without,) = lines(cowlnote("try", said, "--json", at=tmp_path / "none"))
    assert with_profile[0]["doubts"] != without[0]["doubts"]


def test_an_input_that_fails_leaves_an_empty_line_and_the_rest_goes_on(cowlnote, tmp_path):
    ran = cowlnote("try", SAID, tmp_path / "nowhere.m4a", "cowl is back on", "--json")
    assert ran.code == 8
    assert [len(line) for line in lines(ran)] == [1, 0, 1]
    assert ran.err == f"cowlnote: {tmp_path}/nowhere.m4a: is not there; look at how it is spelt\n"


@pytest.mark.parametrize("name", ["nowhere.m4a", "empty.m4a", "text.m4a", "empty.jpg", "."])
def test_a_single_input_that_fails_is_an_input_error(cowlnote, tmp_path, name):
    if name.startswith("empty"):
        (tmp_path / name).touch()
    if name.startswith("text"):
        (tmp_path / name).write_text("no sound at all " * 40, "utf-8")
    ran = cowlnote("try", tmp_path / name, "--json")
    assert (ran.code, ran.out) == (3, "[]\n")
    assert ran.err.count("\n") == 1
    assert (name if name != "." else str(tmp_path)) in ran.err


def test_a_missing_model_is_one_line_and_its_code(cowlnote, engines, failing_ear, sound, tmp_path):
    engines.ear = failing_ear("no model")
    ran = cowlnote("try", sound(tmp_path / "memo.wav"), "--json")
    assert (ran.code, ran.out) == (4, "[]\n")
    assert ran.err.count("\n") == 1


def test_people_see_the_value_the_words_and_the_doubt(cowlnote):
    out = cowlnote("try", "tach reads one two zero zero point one", "nothing here").words
    assert "tach time 1200.1 h" in out
    assert "2298.1" in out
    assert "nothing here no draft" in out


def test_a_sentence_loads_neither_the_record_nor_an_engine():
    """What keeps the cold start under a second (benchmarks/intake.py measures it)."""
    code = (
        "import sys\nfrom desk.cli import app\n"
        f"try:\n    app(['--home', '/nonexistent', 'try', {SAID!r}, '--json'])\n"
        "except SystemExit:\n    pass\n"
        "heavy = {'sqlmodel', 'sqlalchemy', 'av', 'PIL', 'faster_whisper', 'ctranslate2'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert ran.stderr.strip() == "[]"
    assert json.loads(ran.stdout)[0]["name"] == "filter_torque"


def test_why_tells_what_each_reader_took_the_words_for(cowlnote):
    out = cowlnote("try", "--why", "torqued the filter to seventeen foot pounds").out
    assert "trained reader: filter torque" in out
    assert "weighed together: 0.9" in out
