"""Candidates: words that may state a value, and how they read. Notes are invented."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from extract.exact.candidates import candidates
from extract.exact.fitted import fitted, values_for
from extract.mend.doc import to_doc
from extract.values.catalogue import load

# said, field, the value that must come first
FIRST = [
    ("tach reads eighteen forty-two six", "tach_time", "1842.6"),
    ("nine eighty-eight four", "tach_time", "988.4"),
    ("tach twelve oh six three", "tach_time", "1206.3"),
    ("tach two three four five point six", "tach_time", "2345.6"),
    ("two thousand and seven hours and three tenths", "tach_time", "2007.3"),
    ("four thousand too point six", "tach_time", "4002.6"),
    ("five comma six litres", "oil_added", "5.917453973"),
    ("put in six and three quarters", "oil_added", "6.75"),
    ("put in 5 3/4", "oil_added", "5.75"),
    ("four an' t'ree-quarter", "oil_added", "4.75"),
    ("gallon and a half", "oil_added", "6"),
    ("five litres and six decilitres", "oil_added", "5.917453973"),
    ("halfway between the seven and the eight", "oil_level", "7.5"),
    ("tires in bar, mind: two point four", "tire_pressure", "34.80905719"),
    ("fifty ate", "oil_pressure", "58"),
    ("thirty-two thou", "lockwire_diameter", "0.032"),
    ("oh three two", "lockwire_diameter", "0.032"),
    ("zero comma eight of a millimetre", "lockwire_diameter", "0.03149606299"),
    ("three turns per centimetre", "lockwire_twist", "7.62"),
    ("twelve fifty-five", "battery_voltage", "12.55"),
    ("seventy-two by eighty", "cylinder_compression", "72"),
    ("two point three kilogram-metres", "filter_torque", "16.635932"),
    ("bee dash forty-four hundred", "filter_part_number", "B-4400"),
    ("P, N, dash, four, double seven, dash, D as in dog", "filter_part_number", "PN-477-D"),
    # as models write a breath behind *double*, and the letter A before a letter that takes *an*
    ("a B dash double. Seven one four", "filter_part_number", "B-7714"),
    ("has a R dash double seven one four", "filter_part_number", "AR-7714"),
    ("H dash double, 714 on the side", "filter_part_number", "H-7714"),
    ("HF-2200/3", "filter_part_number", "HF-2200/3"),
    ("twenty double u fifty", "oil_grade", "20W-50"),
    ("the twenty fifty", "oil_grade", "20W-50"),
    ("forty, straight", "oil_grade", "SAE 40"),
    ("oh nine Jan twenty twenty-six", "service_date", "2026-01-09"),
    # as models write a year, with commas; a unit behind it is of another number
    ("third of May, twenty, twenty-six", "service_date", "2026-05-03"),
    ("October the third, twenty, twenty, six, all done", "service_date", "2026-10-03"),
    ("October the 3rd, 2020, 6 and it's done", "service_date", "2026-10-03"),
    ("third of May twenty twenty, six quarts", "service_date", "2020-05-03"),
    ("one six February two zero two six", "service_date", "2026-02-16"),
    ("14.11.2025", "service_date", "2025-11-14"),
    ("9-Mar-26", "service_date", "2026-03-09"),
    ("dated oh three oh nine twenty-six", "service_date", "2026-03-09"),
    ("6½ qt", "oil_added", "6.5"),
    ("1 234,5 h", "tach_time", "1234.5"),
    ("SAE 15W 40", "oil_grade", "15W-40"),
    ("seven quarts and nine ounces of additive", "oil_added", "7"),
    ("set to point oh one six", "plug_gap", "0.016"),
    ("the last day of February, twenty twenty-six", "service_date", "2026-02-28"),
]


def values(catalogue, said, name):
    found = candidates(to_doc(said), catalogue)
    return [values_for(c, catalogue.fields[name]) for c in found]


@pytest.mark.parametrize(("said", "name", "first"), FIRST)
def test_the_likeliest_value(catalogue, said, name, first):
    (best, *_), *_ = (v for v in values(catalogue, said, name) if v)
    if isinstance(best, Decimal):
        assert float(best) == pytest.approx(float(first), rel=1e-6)
    else:
        assert str(best) == first


@pytest.mark.parametrize(
    ("said", "name", "among"),
    [
        ("has a r-double, seven one four", "filter_part_number", "AR-7714"),
        ("an M dash W seven one", "filter_part_number", "M-771"),
        ("tach twelve oh six, and three tenths", "tach_time", "1206.3"),
        ("two five double four and four", "tach_time", "2544.4"),
        ("tach two oh four one, and the white wheel's on seven", "tach_time", "2041.7"),
        ("one six and three quarters", "oil_added", "6.75"),
        ("one six and three quarters", "oil_added", "16.75"),
        ("two three ounces", "sample_volume", "3"),
        ("two seventy-five", "cylinder_compression", "75"),
        ("thirty to", "plug_torque", "30"),
        ("thirty to", "plug_torque", "32"),
        ("one eight two one point two, no, point three", "tach_time", "1821.3"),
    ],
)
def test_another_way_to_read_it_is_there(catalogue, said, name, among):
    wanted = Decimal(among) if catalogue.fields[name].kind == "number" else among
    assert wanted in {v for vs in values(catalogue, said, name) for v in vs}


def test_a_list_without_a_pause_is_cut_into_its_values(catalogue):
    said = "one seventy-six two seventy-five three sixty-one"
    found = values(catalogue, said, "cylinder_compression")
    assert [vs[0] for vs in found] == [76, 75, 61]


def test_half_a_unit_behind_an_and_is_a_thing_of_its_own(catalogue):
    oil, additive = candidates(to_doc("seven quarts of oil and half a pint of additive"), catalogue)
    assert values_for(oil, catalogue.fields["oil_added"]) == (7,)
    assert values_for(additive, catalogue.fields["additive_added"]) == (8,)


def test_a_number_begun_again_is_no_part_of_the_one_before(catalogue):
    said = "tach one two, one two nine, one two nine seven point oh"
    assert values(catalogue, said, "tach_time")[-1] == (Decimal("1297.0"),)


def test_a_unit_named_right_behind_goes_before_one_named_elsewhere(catalogue):
    said = "The other one had three litres. Mine's eight, quarts."
    assert values(catalogue, said, "oil_level")[-1][0] == 8


@pytest.mark.parametrize("said", ["she moves free", "we stopped for tea", "that's the new one"])
def test_words_that_only_sound_like_figures_are_none(catalogue, said):
    assert candidates(to_doc(said), catalogue) == ()


def test_a_slip_leaves_the_plain_number_beside_it(catalogue):
    plain, slipped = candidates(to_doc("five pint two leaders"), catalogue)
    assert (plain.readings[0].value, plain.readings[0].unit.name) == (5, "pt")
    assert (slipped.readings[0].value, slipped.readings[0].unit.name) == (Decimal("5.2"), "L")


def test_a_ditto_repeats_the_number_before_it(catalogue):
    left, right = candidates(to_doc("Left thirty-three psi, right ditto."), catalogue)
    assert right.readings[0].value == left.readings[0].value == 33
    assert right.readings[0].how == "as the one before"


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("One, seventy-six. Two, sixty-two. Three, same as one.", 76),
        ("Left thirty-two, nose forty. Right as left.", 32),
        ("Three and four both seventy-three.", 73),
        ("I torque thirty-five on one, and two.", 35),
    ],
)
def test_a_value_that_two_places_share_is_read_at_the_second_too(catalogue, said, value):
    found = candidates(to_doc(said), catalogue)
    shared = [r for c in found for r in c.readings if r.how.startswith("as the one")]
    assert shared
    assert shared[0].value == value


def test_a_place_before_its_value_is_kept(catalogue):
    found = candidates(to_doc("one seventy-six two seventy-five"), catalogue)
    assert [(c.readings[0].place, c.readings[0].value) for c in found] == [(1, 76), (2, 75)]


def test_a_unit_said_elsewhere_is_named_as_supposed(catalogue):
    (found,) = candidates(to_doc("Stick six and a half. Litres, that is."), catalogue)
    first, second = fitted(found, catalogue.fields["oil_level"])
    assert first.supposed == "L said elsewhere"
    assert (second.value, second.supposed) == (Decimal("6.5"), "")


def test_a_date_without_its_year_takes_the_year_of_the_day(catalogue):
    (found,) = candidates(to_doc("today is the fifth of May"), catalogue)
    field = catalogue.fields["service_date"]
    assert values_for(found, field) == ()
    assert values_for(found, field, 2026) == (date(2026, 5, 5),)


def test_figures_of_a_date_or_a_part_number_are_no_numbers(catalogue):
    kinds = [c.kinds for c in candidates(to_doc("2/19/26, filter AB-4417, 5"), catalogue)]
    assert kinds == [{"date"}, {"code"}, {"number"}]


@pytest.mark.parametrize(
    "text",
    ["five, twenty-eight, twenty, point six", "3,5 seven tenths, thou 2026 slash forty"],
)
def test_figures_that_are_neither_a_day_nor_one_number_are_read_without_a_fault(text: str):
    catalogue = load()
    for candidate in candidates(to_doc(text), catalogue):
        for field in catalogue.fields.values():
            values_for(candidate, field, 2026)


@pytest.mark.parametrize(
    ("said", "value", "doubted"),
    [
        # as our own ear heard what espeak-ng said of CH48110-1, XQ7-22, FT900-3 and K21D
        ("Filter part number. Charly hotel four eight one one zero dash one.", "CH48110-1", False),
        ("Filter part number x raised with x seven dash two two.", "X7-22", True),
        ("Filter part number. Fox truck tango nine zero zero dash three.", "T900-3", True),
        ("Filter part number K oh two one delta.", "K21D", True),
        ("Filter part number is alpha bravo seven one two limb", "AB712", True),
        # nothing beside these is like a letter
        ("Filter P N is alpha bravo dash three one eight.", "AB-318", False),
        ("new filter is a dash two two seven A", "-227A", False),
        ("I used the AB-318 filter", "AB-318", False),
        ("spun on a new unit, CH48110-1, hand tight", "CH48110-1", False),
    ],
)
def test_a_code_that_may_have_lost_a_letter_is_doubted(catalogue, said, value, doubted):
    heard = candidates(to_doc(said), catalogue)
    (code,) = [c for c in heard if c.readings[0].kind == "code"]
    assert code.readings[0].value == value
    assert bool(code.readings[0].doubt) == doubted
