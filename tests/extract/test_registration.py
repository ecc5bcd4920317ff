"""Registrations as said and as printed. Form: 14 CFR 47.15(b); alphabet: AIM 4-2-7, ICAO."""

from __future__ import annotations

import pytest

from extract.exact.registration import plain, printed, spoken

OWN = "N0417Q"


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ("november zero six five five x-ray tach reads", ("N0655X",)),
        ("this is N0655X.", ("N0655X",)),
        ("November 0655 X-ray, oil change", ("N0655X",)),
        ("november zero four one seven quebec", (OWN,)),
        ("N 0 4 1 7 Q today", (OWN,)),
        ("november oh four one seven cue, oil", (OWN,)),
        ("zero four one seven quebec", (OWN,)),
        ("this is zero six five five x-ray, put in six quarts", ("N0655X",)),
        ("tail number zero one two charlie delta", ("N012CD",)),
        ("N0417Q and november zero six five five x-ray", (OWN, "N0655X")),
        ("november zero six five five x-ray, six quarts", ("N0655X",)),
        ("at five november zero six five five x-ray", ("N0655X",)),
        ("november zero six five five x-ray be careful", ("N0655X",)),
        # what is none
        ("filter is dash two two seven alpha", ()),
        ("november fourteenth twenty twenty-six", ()),
        ("November 14, 2026", ()),
        ("November 2026", ()),
        ("november twenty twenty-six", ()),
        ("tach reads two three four five point six", ()),
        ("put in six quarts of fifteen w fifty", ()),
        ("part number A X dash four eight one one zero", ()),
        ("number three seventy four over eighty", ()),
        ("A two X", ()),
        ("", ()),
    ],
)
def test_a_registration_is_known_as_people_say_it(said, found):
    assert spoken(said.split(), OWN) == found


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("N0655X", ("N0655X",)),
        ("REG N0417Q", (OWN,)),
        ("NO417Q", (OWN,)),  # a camera takes the figure for the letter
        ("P/N N0655X", ()),
        ("AX-72180", ()),
        ("SAE 50", ()),
        ("NOV 2026", ()),
        ("N2", ()),
    ],
)
def test_a_registration_is_known_as_it_is_printed(line, found):
    assert printed(line, OWN) == found


def test_a_mark_of_another_state_is_known_by_the_shape_of_ones_own():
    own = "D-E0AB"
    assert printed("D-E0XY", own) == ("DE0XY",)
    assert printed("AX-481", own) == ()
    assert spoken(["delta", "echo", "zero", "x-ray", "yankee", "oil"], own) == ("DE0XY",)


def test_the_plain_form_is_the_same_however_it_is_written():
    assert plain("n-0417 q") == plain("NO417Q") == OWN
