from __future__ import annotations

import errno
import re
from datetime import date
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import pint
import pytest

from capture.errors import InputError
from desk import noted, profile
from desk.settings import load
from record.store import Store

UTC = ZoneInfo("UTC")
FILE = Path("aircraft.toml")


def read(text: str) -> profile.Profile:
    return profile.read_profile(text, FILE, UTC)


def test_begin_makes_a_profile_that_reads_back_with_its_registration_and_zone(tmp_path: Path):
    made = profile.begin(tmp_path / "home", 'N04"17Q', ZoneInfo("Europe/Berlin"))
    got = load(tmp_path / "home", {}).profile
    assert (made.name, got.registration, got.zone.key) == (
        "aircraft.toml",
        'N04"17Q',
        "Europe/Berlin",
    )
    assert got.last == profile.Last()


def test_every_commented_line_of_the_new_profile_is_one_that_can_be_used(tmp_path: Path):
    text = profile.begin(tmp_path, "N0417Q", UTC).read_text("utf-8")
    got = read(re.sub(r"^# (?=[a-z_]+ = |\[\[)", "", text, flags=re.MULTILINE))
    assert got.sump_capacity == Decimal(8)
    assert got.filter_torque == (Decimal(16), Decimal(18))
    assert got.last == profile.Last(Decimal("2298.1"), Decimal("3120.4"), date(2025, 11, 2))


def test_every_key_of_the_new_profile_has_a_comment_above_it(tmp_path: Path):
    lines = profile.begin(tmp_path, "N0417Q", UTC).read_text("utf-8").splitlines()
    keys = [i for i, line in enumerate(lines) if re.match(r"(# )?[a-z_]+ = ", line)]
    for i in keys:
        above = lines[i - 1]
        assert above.startswith("#") or above in ("[last]", "[heard]", "[engine]", "[paper]"), (
            lines[i]
        )


def test_begin_leaves_a_profile_that_is_there_as_it_is(tmp_path: Path):
    profile.begin(tmp_path, "N0417Q", UTC)
    with pytest.raises(InputError, match="there already"):
        profile.begin(tmp_path, "N0000X", UTC)
    assert "N0417Q" in (tmp_path / "aircraft.toml").read_text("utf-8")


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("sump = 8", "sump: no such key"),
        ("sump_capacity = '8'", "sump_capacity"),
        ("sump_capacity = -1", "sump_capacity"),
        ("sump_capacity = true", "sump_capacity"),
        ("filter_torque = [18, 16]", "filter_torque"),
        ("filter_torque = 17", "filter_torque"),
        ("zone = 'Mars/Olympus'", "zone"),
        ("interval_months = 4.5", "interval_months"),
        ("words = 'pigtail'", "words"),
        ("additive_ratio = 'a splash'", "additive_ratio"),
        ("last = 3", "last"),
        ("[last]\ntach = 3", "last.tach: no such key; is it last.tach_time?"),
        ("[last]\ndate = '14.3.2026'", "last.date"),
        ("registration = ", "not valid TOML"),
    ],
)
def test_a_wrong_key_or_value_is_one_line_that_names_file_and_key(text: str, named: str):
    with pytest.raises(InputError) as raised:
        read(text)
    said = str(raised.value)
    assert said.startswith("aircraft.toml: ")
    assert named in said
    assert "\n" not in said


def test_an_empty_profile_says_that_nothing_is_known():
    assert read("").known() == profile.Profile(zone=UTC).known()


def test_the_additives_ratio_is_that_of_an_independent_unit_library():
    """One pint to ten quarts is 1.6 fl oz to the quart (US measure); pint the library agrees."""
    units = pint.UnitRegistry()
    expected = (1 * units.US_pint).to("US_fluid_ounce").magnitude / 10
    got = read('additive_ratio = "1 pt to 10 qt"').additive_per_qt
    assert got is not None
    assert float(got) == pytest.approx(expected)


def test_figures_are_exact_from_the_file_on():
    assert read("[last]\ntach_time = 2298.1").known().last_tach == Decimal("2298.1")


def test_reading_settings_makes_nothing(tmp_path: Path):
    got = load(tmp_path / "not there", {})
    assert not got.has_profile
    assert list(tmp_path.iterdir()) == []


def test_a_profile_that_a_failing_disk_gives_once_is_noted_as_it_was_read(tmp_path, monkeypatch):
    profile.begin(tmp_path, "N0417Q", UTC)
    read, calls = Path.read_bytes, []

    def once(path: Path) -> bytes:
        if path.name == "aircraft.toml":
            calls.append(path)
            if len(calls) > 1:
                raise OSError(errno.EIO, "Input/output error")
        return read(path)

    store = Store.open(tmp_path)
    with monkeypatch.context() as patch:
        patch.setattr(Path, "read_bytes", once)
        noted.note_profiles(store, load(tmp_path, {}))
    assert noted.changed(store, tmp_path) == {}
    store.close()


def test_the_home_is_the_option_then_the_environment(tmp_path: Path):
    env = {"COWLNOTE_HOME": str(tmp_path / "a")}
    assert load(None, env).home == tmp_path / "a"
    assert load(tmp_path / "b", env).home == tmp_path / "b"
