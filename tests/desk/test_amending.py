"""A profile changed from a form: its comments, what it does not say, and what will not do."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from capture.errors import InputError
from desk import amending, asking, profile
from desk.settings import load

UTC = ZoneInfo("UTC")


def made(home: Path, **answers: str):
    toml, wrong = asking.checked({key.replace("__", "."): text for key, text in answers.items()})
    assert wrong == {}
    profile.begin(home, "N0417Q", UTC, toml)
    return load(home, {})


def test_every_question_is_of_a_key_that_a_profile_may_hold(tmp_path):
    examples = {"text": "SAE 50", "number": "4", "range": "16 18", "date": "2025-11-02"}
    own = {"additive_ratio": "1 pt to 10 qt", "paper.country": "ca", "words": "a, b"}
    given = {
        one.key: own.get(one.key) or (next(iter(one.choices), "") or examples.get(one.kind, ""))
        for one in asking.every()
    }
    toml, wrong = asking.checked(given)
    assert wrong == {}
    assert set(toml) == {one.key for one in asking.every()}


def test_a_changed_line_takes_the_comments_place_and_every_other_line_stays(tmp_path):
    here = made(tmp_path / "home", sump_capacity="8")
    path = here.home / "aircraft.toml"
    before = path.read_text("utf-8").splitlines()
    done = amending.change(here, "", {"sump_capacity": "9", "engine.serial": '"L-0000-01"'})
    assert [(c.key, c.before, c.after) for c in done] == [
        ("sump_capacity", "8", "9"),
        ("engine.serial", "", '"L-0000-01"'),
    ]
    after = path.read_text("utf-8").splitlines()
    changed = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert changed == [
        ("sump_capacity = 8", "sump_capacity = 9"),
        ('# serial = "L-0000-00"', 'serial = "L-0000-01"'),
    ]
    assert load(here.home, {}).profile.sump_capacity == 9


def test_what_is_not_said_any_more_stays_as_a_comment(tmp_path):
    here = made(tmp_path / "home", oil="SAE 50")
    amending.change(here, "", {"oil": ""})
    text = (here.home / "aircraft.toml").read_text("utf-8")
    assert '# oil = "SAE 50"' in text
    assert load(here.home, {}).profile.oil is None


def test_what_would_not_read_back_is_not_written(tmp_path):
    here = made(tmp_path / "home")
    path = here.home / "aircraft.toml"
    before = path.read_bytes()
    with pytest.raises(InputError):
        amending.append(here, "", "recurring", {"what": '"ELT battery"', "hours": "soon"})
    with pytest.raises(InputError):
        amending.change(here, "", {"filter_torque": "[18, 16]"})
    assert path.read_bytes() == before


def test_answers_in_the_owners_units_reach_the_profile_in_the_records(tmp_path):
    """1 L is 1.056 688 qt (NIST Handbook 44, Appendix C); 7.5 L by hand 7.925 162."""
    here = made(tmp_path / "home", units="metric: litres, N·m, bar, °C", sump_capacity="7,5")
    assert round(here.profile.sump_capacity, 5) == Decimal("7.92516")
    shown = {
        one.key: amending.shown(one, amending.said(here.home / "aircraft.toml").get(one.key, ""))
        for one in asking.every()
    }
    assert shown["units"] == "metric: litres, N·m, bar, °C"
    assert shown["sump_capacity"] == "7.5"


def test_a_wrong_answer_is_named_by_its_key_and_the_right_ones_are_kept():
    toml, wrong = asking.checked({"sump_capacity": "eight", "oil": "SAE 50", "units": "furlongs"})
    assert set(wrong) == {"sump_capacity", "units"}
    assert toml == {"oil": '"SAE 50"'}
