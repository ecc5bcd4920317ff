"""What is said back is what was understood: every field, read again by the reader itself.

Whole numbers are held against num2words, which others wrote. That a voice says it and the ear hears
it is measured by benchmarks/said_back.py, which takes an hour.
"""

from __future__ import annotations

import random
from datetime import date, timedelta
from decimal import Decimal

import pytest
from num2words import num2words

from desk.readback import spoken, wording
from extract.read import read_sentence
from extract.values.draft import Alternative, Draft

# Fields that speech never makes a draft of: they are typed, or are whole sentences of their own.
TYPED = ("stated.toml", "remarks.toml")
UNHEARD = ("tach_removed", "tach_fitted", "hour_meter_removed", "hour_meter_fitted", "reference")
# Things of which speech says that they were replaced or inspected; the value knows only "done".
OTHER_VERBS = ("oil filter", "ELT battery", "hundred hours", "magnetos", "hoses", "torque wrench")
CODES = ("-227A", "CH48110-1", "48108-1", "AB1234", "-5B", "CH48109", "XQ7-22", "FT900-3", "K21D")
GRADES = ("SAE 30", "SAE 40", "SAE 50", "SAE 60", "20W-50", "15W-50", "25W-60")


def draft(field, value, place=None, **other):
    return Draft(field.name, value, field.unit, place, "m", 0.0, 1.0, None, "", 0.97, **other)


def values(field, rng):
    """Values of a field as it has them, spread over its range."""
    if field.kind == "truth":
        return [True, False]
    if field.kind == "choice":
        return list(field.choices)
    if field.kind == "date":
        return [date(2024, 1, 1) + timedelta(days=rng.randint(0, 1200)) for _ in range(20)]
    if field.kind == "number":
        low, high = (float(end) for end in (field.low or 0, field.high or 40000))
        step = {"in": "0.001", "rpm": "50", "psi": "1", "°F": "1"}.get(field.unit, "0.1")
        if wording.wording(field.name).get("how") == "quarts":
            steps = [Decimal("0.25"), Decimal("0.1")]
        else:
            steps = [Decimal(step), Decimal(step) * 5]
        made = []
        for number in range(28):
            exact = steps[number % 2]
            count = rng.randint(int(low / float(exact)) + 1, int(high / float(exact)))
            made.append(field.kind_object.normalise(exact * count))
        return made
    return {"filter_part_number": CODES, "oil_grade": GRADES}.get(field.name, ())


def spoken_values(catalogue):
    """(draft, what is said of it) for every field that speech can make a draft of."""
    rng = random.Random(7)
    for field in catalogue.fields.values():
        if field.file in TYPED or field.name in UNHEARD:
            continue
        for value in values(field, rng):
            whole = field.kind == "truth" and field.positions
            for place in whole or ([rng.choice(field.positions)] if field.positions else [None]):
                made = draft(field, value, place)
                yield made, wording.line(made, catalogue).say


def test_every_field_of_the_catalogue_is_worded(catalogue):
    for field in catalogue.fields.values():
        told = wording.wording(field.name)
        assert told.get("short"), field.name
        if field.kind == "truth":
            assert told.get("yes"), field.name
            assert told.get("no"), field.name
        for choice in field.choices:
            assert told.get(choice) or told.get("how") == "words", (field.name, choice)
    assert set(spoken.words()["fields"]) == set(catalogue.fields)


def test_every_unit_of_the_catalogue_has_its_word(catalogue):
    units = {field.unit for field in catalogue.fields.values() if field.unit}
    assert units <= set(spoken.words()["units"])


@pytest.mark.slow
def test_what_is_said_is_read_as_the_same_value(catalogue):
    wrong, count = [], 0
    for made, say in spoken_values(catalogue):
        if made.name == "recurring_done" and (made.value is False or made.position in OTHER_VERBS):
            continue  # that it was not done is no draft: extract/claims/recurring.py
        count += 1
        same = catalogue.fields[made.name].kind_object.same
        found = read_sentence(say, catalogue)
        slots = [(d.name, d.position) for d in found]
        if slots != [made.slot] or not same(found[0].value, made.value):
            wrong.append((made.slot, str(made.value), say, [(d.slot, str(d.value)) for d in found]))
    assert count >= 500
    assert wrong == []


def test_nothing_that_is_sure_is_a_question_and_nobody_is_made_to_say_niner(catalogue):
    for made, say in spoken_values(catalogue):
        assert "?" not in say, say
        assert "niner" not in say
        assert say.endswith("."), say
        value = wording.value_said(made, made.value, catalogue.fields[made.name])
        told = wording.wording(made.name)
        if catalogue.fields[made.name].kind in ("number", "date", "text") and "unit" not in told:
            assert say.removesuffix(".").endswith(value), say


@pytest.mark.parametrize(
    ("value", "others", "doubts", "say"),
    [
        ("17", (), (), "Filter torqued to seventeen foot pounds."),
        ("17", ("70",), ("d",), "Torque: seventeen, or seventy? Say it again."),
        ("17", (), ("d",), "Torque: perhaps seventeen foot pounds. Say it again."),
    ],
)
def test_doubts_are_asked_about_without_inviting_a_yes(catalogue, value, others, doubts, say):
    field = catalogue.fields["filter_torque"]
    readings = tuple(Alternative(Decimal(v), 0.4, "another hearing") for v in others)
    made = draft(field, Decimal(value), doubts=doubts, alternatives=readings)
    line = wording.line(made, catalogue)
    assert line.say == say
    assert line.doubt == bool(doubts)
    assert not line.say.lower().startswith(("is ", "was ", "did ", "do ", "are ", "right"))


def test_what_was_corrected_away_is_not_asked_about(catalogue):
    field = catalogue.fields["filter_torque"]
    old = (Alternative(Decimal(70), 0.02, "corrected away"),)
    made = draft(field, Decimal(17), doubts=("d",), alternatives=old)
    assert "seventy" not in wording.line(made, catalogue).say


def test_a_value_is_said_in_the_unit_in_which_it_was_said(catalogue):
    field = catalogue.fields["filter_torque"]
    made = draft(field, Decimal("16.5"), said="198 in-lb")
    line = wording.line(made, catalogue)
    assert line.say == "Filter torqued to one hundred ninety-eight inch pounds."
    assert "198 in-lb" in line.text


@pytest.mark.parametrize(
    ("name", "value", "place", "say"),
    [
        ("tach_time", "2346.2", None, "Tach, two three four six decimal two."),
        ("hour_meter_time", "3178", None, "Hobbs, three one seven eight decimal zero."),
        ("oil_added", "7.25", None, "Oil added, seven and a quarter quarts."),
        ("oil_added", "0.5", None, "Oil added, half a quart."),
        ("oil_added", "6.3", None, "Oil added, six point three quarts."),
        ("oil_added", "1", None, "Oil added, one quart."),
        ("lockwire_diameter", "0.032", None, "Safety wire, thirty-two thousandths."),
        ("cylinder_compression", "74", 3, "Cylinder three, seventy-four over eighty."),
        ("tire_pressure", "36", "nose", "Nose tire, thirty-six P S I."),
    ],
)
def test_numbers_are_said_as_people_say_them(catalogue, name, value, place, say):
    made = draft(catalogue.fields[name], Decimal(value), place)
    assert wording.line(made, catalogue).say == say


def test_part_numbers_dates_and_clocks(catalogue):
    number = draft(catalogue.fields["filter_part_number"], "-227A")
    assert wording.line(number, catalogue).say == ("Filter part number, dash two two seven alpha.")
    day = draft(catalogue.fields["service_date"], date(2026, 3, 14))
    assert wording.line(day, catalogue).say == "Today is the fourteenth of March twenty twenty-six."
    clocks = [spoken.clock(10, 42), spoken.clock(9, 5), spoken.clock(14, 0)]
    assert clocks == ["ten forty-two", "nine oh five", "fourteen hundred"]


def test_whole_numbers_are_those_of_num2words():
    for number in [*range(0, 1200), 2345, 9999, 10_000, 12_345, 99_999, 100_000, 999_999]:
        theirs = num2words(number).replace(",", "").replace(" and ", " ")
        assert spoken.cardinal(number) == theirs
