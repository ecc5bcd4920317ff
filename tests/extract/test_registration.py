"""Registrations as said and as printed. Form: 14 CFR 47.15(b); alphabet: AIM 4-2-7, ICAO."""

from __future__ import annotations

import pytest

from extract.exact.registration import normal_form, printed, spoken, told

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
        ("the filter's own number is N six oh six", ()),
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


def test_the_normal_form_is_the_same_however_it_is_written():
    assert normal_form("n-0417 q") == normal_form("NO417Q") == OWN


@pytest.mark.parametrize(
    ("hearings", "own", "others"),
    [
        # as a recogniser heard a synthetic voice say the invented aircraft's own
        (["This is November zero four one seven. We're back. Put in six"], True, ()),
        # the end of another's was heard in one way only
        (
            ["tail number zero one two Charlie Delta", "tail number zero one two Charlie Melter"],
            False,
            ("N012CD",),
        ),
        # one hearing has the own one: a mark much like it is the same words misheard
        (["november zero four one seven quebec", "november zero four one one quebec"], True, ()),
        (["november zero four one one quebec", "november zero four one seven quebec"], True, ()),
        # both said by one voice in one hearing
        (["N0417Q then N0411Q"], True, ("N0411Q",)),
        # one hearing of three alone, and not the first
        (["on the end today", "november zero six five five x-ray", "on the end"], False, ()),
        (["on", "november zero six five five x-ray", "N0655X on"], False, ("N0655X",)),
    ],
)
def test_hearings_are_weighed_against_each_other(hearings, own, others):
    assert told([h.split() for h in hearings], OWN) == (own, others)
