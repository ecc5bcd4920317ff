"""Laboratory reports as typed, as CSV and as read off a printed table."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from capture.errors import InputError
from capture.observed import Reading
from record.printed import read_lines, rows_of
from record.reports import level, make, metal_of, read_csv

D = Decimal

WIDE = """Lab,Date,Tach,Hours on oil,Fe,Cu,Cr (ppm),Aluminium,Silicon,Pb
North Lab,2025-01-10,2100.4,46.2,22,9.6,3,5,7,2500
North Lab,2025-05-02,2148.0,47.6,25,<1,3,6,,2300
"""
TURNED = """Date,2025-01-10,2025-05-02
Hours on oil,46.2,47.6
Iron (Fe),22,25
Copper,9.6,10
Chromium,3,3
"""


def test_a_csv_with_a_line_a_report():
    one, two = read_csv(WIDE, source="lab.csv")
    assert (one.lab, one.taken, one.tach, one.hours) == (
        "North Lab",
        date(2025, 1, 10),
        D("2100.4"),
        D("46.2"),
    )
    assert {s: v.text for s, v in one.levels.items()} == {
        "Fe": "22",
        "Cu": "9.6",
        "Cr": "3",
        "Al": "5",
        "Si": "7",
        "Pb": "2500",
    }
    assert two.levels["Cu"].below
    assert "Si" not in two.levels


def test_a_csv_with_a_line_a_metal_is_the_same():
    one, two = read_csv(TURNED, lab="North Lab")
    assert (one.hours, one.levels["Fe"].ppm) == (D("46.2"), 22)
    assert (two.taken, two.levels["Cu"].text) == (date(2025, 5, 2), "10")


def test_digits_stay_as_the_laboratory_printed_them():
    """ASTM D6595, second hand: one decimal below 10, none above; 9.6 and 12 are both right."""
    assert (level("9.6").text, level(" 12 ppm ").text, level("< 1").text) == ("9.6", "12", "<1")


@pytest.mark.parametrize("text", ["1,200", "", "-3", "n/a", "2 2", "nan", "1e3", ">5"])
def test_a_figure_that_is_none_is_named(text):
    with pytest.raises(InputError, match="no figure"):
        level(text)


@pytest.mark.parametrize(
    ("text", "symbol"),
    [
        ("Fe", "Fe"),
        ("iron", "Fe"),
        ("Iron (Fe)", "Fe"),
        ("Fe ppm", "Fe"),
        ("aluminum", "Al"),
        ("Sn, ppm", "Sn"),
        ("Iron (Cu)", None),
        ("Aluminium (AI)", "Al"),
        ("viscosity", None),
        ("", None),
        ("fe", None),
    ],
)
def test_names_of_metals(text, symbol):
    assert metal_of(text) == symbol


def test_columns_that_are_not_followed_are_named_and_not_silently_dropped():
    (report,) = read_csv("lab,date,hours,Fe,Viscosity\nNorth Lab,2025-01-10,40,22,95\n")
    assert "not taken from the file: Viscosity" in report.doubts


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "no report"),
        ("lab,date,Fe\n", "no report"),
        ("lab,Fe\nNorth Lab,22\n", "no column for the date"),
        ("lab,date,Fe\nNorth Lab,03/04/2025,22\n", "is no date"),
        ("lab,date,Fe,Iron\nNorth Lab,2025-01-10,22,23\n", "two columns say Fe"),
        ("lab,date,Fe\nNorth Lab,2025-01-10,x\n", "no figure in ppm"),
        ("lab,date,Fe,hours\nNorth Lab,2025-01-10,22,soon\n", "no number of hours"),
        ("date,Fe\n2025-01-10,22\n", "has no name"),
        ("lab,date,Fe\nNorth Lab,2025-01-10,\n", "holds no figure"),
    ],
)
def test_a_bad_csv_is_one_clear_line(text, what):
    with pytest.raises(InputError, match=what) as caught:
        read_csv(text, source="lab.csv")
    assert "\n" not in str(caught.value)
    assert "lab.csv" in str(caught.value)


def test_typed_by_hand():
    report = make("North Lab", date(2025, 1, 10), {"Fe": "22", "copper": "9.6"}, hours=D("46.2"))
    assert set(report.levels) == {"Fe", "Cu"}
    assert report.doubts == ()
    assert report.sample().rate("Fe") == D(22) / D("46.2")


def test_missing_hours_and_wild_figures_are_doubted():
    report = make("North Lab", date(2025, 1, 10), {"Fe": "2200"})
    assert any("misread" in d for d in report.doubts)
    assert any("hours on the oil" in d for d in report.doubts)


def test_an_unknown_metal_is_refused():
    with pytest.raises(InputError, match="'Zn' is no metal"):
        make("North Lab", date(2025, 1, 10), {"Zn": "2"})


def test_lines_off_a_printed_table_are_taken_only_where_they_are_plain():
    taken, left = read_lines(
        ["NORTH LAB", "Iron 22", "Copper (Cu): 9.6 ppm", "Lead 25 31 28", "Tin < 1", "Al 5", "Al 6"]
    )
    assert taken == {"Fe": "22", "Cu": "9.6", "Sn": "<1"}
    assert left == ("NORTH LAB", "Lead 25 31 28", "Al: 5 or 6")


def cell(text, x, y, wide=60.0, high=20.0):
    quad = ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))
    return Reading("text", text, quad, 0.98)


def test_cells_of_a_photographed_table_are_put_together_by_row():
    read = [cell("22", 200, 53), cell("Iron", 10, 50), cell("Copper", 10, 90), cell("9.6", 200, 92)]
    assert rows_of(read) == ["Iron 22", "Copper 9.6"]
    assert read_lines(rows_of(read))[0] == {"Fe": "22", "Cu": "9.6"}


@pytest.mark.parametrize("mark", [";", "\t"])
def test_cells_between_semicolons_or_tabs(mark):
    assert read_csv(WIDE.replace(",", mark)) == read_csv(WIDE)


def test_a_decimal_comma_is_refused_and_not_read_as_thousands():
    with pytest.raises(InputError, match="'9,6' is no figure"):
        read_csv("lab;date;Cu\nNorth Lab;2025-01-10;9,6\n")
