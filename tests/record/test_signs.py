"""Nothing that was said, typed or named steers a screen or runs in a spreadsheet."""

from __future__ import annotations

import csv
import io
import json
import string
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from record import bag, chain, signs
from record.errors import RefusedError


@given(st.text())
def test_what_is_written_out_has_no_control_or_direction_sign(text):
    """By the categories and classes of the Unicode database that Python carries."""
    shown = signs.written_out(text)
    for sign in shown:
        assert sign in "\n\t" or unicodedata.category(sign) not in ("Cc", "Cs", "Zl", "Zp")
        assert unicodedata.bidirectional(sign) not in (
            *("LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"),
        )


@given(st.text(st.characters(exclude_categories=("Cs",))))
def test_json_with_signs_written_out_is_the_same_data(text):
    made = signs.in_json(json.dumps([text], ensure_ascii=False))
    assert json.loads(made) == [text]
    assert not signs.STEERING.search(made)


@pytest.mark.parametrize("name", ["Ines\x1b[2J", "Ines \u202edetnevnI", "Ines\u200b", "\u2066Ines"])
def test_a_name_that_steers_a_screen_is_refused_and_shown_written_out(name):
    with pytest.raises(RefusedError) as told:
        chain.person(name)
    assert not signs.STEERING.search(str(told.value))


@pytest.mark.parametrize("name", ["Ines Invented", "Inès d'Inventée-Ünal", "أحمد", "علی‌رضا"])
def test_a_name_of_any_script_is_taken(name):
    assert chain.person(name) == name


@pytest.mark.parametrize("cell", ["=1+1", "+A1", "-2+3", "@SUM(1)", "\t=1", " =1", "＝1", "-A1"])
def test_a_cell_that_a_spreadsheet_would_run_is_made_plain(cell):
    """The first signs that OWASP lists under CSV injection."""
    assert bag.plain(cell) == f"'{cell}"


@pytest.mark.parametrize(
    "cell", ["-227A", "-5.75", "17", "", "7/16 = wide", "2026-03-14", "N0417Q"]
)
def test_a_value_stays_as_it_is(cell):
    assert bag.plain(cell) == cell


@given(st.text())
def test_no_cell_begins_as_a_formula(text):
    out = io.StringIO()
    csv.writer(out).writerow([bag.plain(text), "end"])
    (made,) = csv.reader(io.StringIO(out.getvalue(), newline=""))
    bare = made[0].strip()
    assert not bare.startswith(("=", "@"))
    if bare.startswith(("+", "-")):
        float(bare.rstrip(string.ascii_letters).replace(",", "."))  # a number, so no formula
