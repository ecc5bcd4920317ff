"""Workshop sums against published worked examples; each names its source."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.errors import InputError
from extract.values.units import NAMES, convert
from record.shop import compression, torque, wire_note, wire_size, wire_turns, wrench_setting

D = Decimal


def close(got, exact, rel=D("1e-12")):
    return abs(got - exact) <= rel * abs(exact)


def test_torque_in_three_units():
    """NIST SP 811 Appendix B; exact from 0.45359237 kg, 9.80665 m/s2 and 0.3048 m."""
    one = torque(D(1))
    assert close(one.n_m, D("1.3558179483314004"))
    assert one.in_lb == 12
    assert close(torque(D(1), "in-lb").n_m, D("0.1129848290276167"))
    assert torque(D(198), "in-lb").ft_lb == D("16.5")


@pytest.mark.parametrize(
    ("ft", "inch", "metric"),
    [(16, 192, "21.69"), (17, 204, "23.05"), (18, 216, "24.40"), (20, 240, "27.12")],
)
def test_torque_shown_for_people(ft, inch, metric):
    assert torque(D(ft)).show() == f"{ft} ft-lb = {inch} in-lb = {metric} N·m"


# Worked examples as published, with how far the printed figure is rounded.
ADAPTERS = [
    ("300", "10", "4", "214", "0.5"),  # TM 1-1500-204-23-9 p. 143
    ("100", "12", "6", "66.7", "0.05"),  # an air training manual, 3-8
    ("40", "12", "4", "30", "0.5"),  # TM 9-2350-277-40&P p. 44
    ("70", "12", "2", "60", "0.5"),  # TM 9-254 p. 91
    ("30", "12", "3", "24", "0.5"),  # an airframe manual
    ("135", "10", "1.5", "117", "0.5"),  # a rotorcraft manual
    ("20", "14", "3", "16.5", "0.05"),  # a vehicle manual, rounded to half a unit
]


@pytest.mark.parametrize(("wanted", "length", "extension", "printed", "rounding"), ADAPTERS)
def test_wrench_setting_agrees_with_the_published_examples(
    wanted, length, extension, printed, rounding
):
    got = wrench_setting(D(wanted), D(length), D(extension))
    assert abs(got - D(printed)) <= D(rounding)


def test_adapter_pointing_back_and_square():
    """A rotorcraft manual prints 159 for 135 in-lb, 10 in and 1.5 in back."""
    assert abs(wrench_setting(D(135), D(10), D("1.5"), "back") - 159) <= D("0.5")
    assert wrench_setting(D(135), D(10), D("1.5"), "square") == 135


@pytest.mark.parametrize(
    "bad", [("30", "0", "3", "in line"), ("30", "12", "-1", "in line"), ("30", "12", "12", "back")]
)
def test_lengths_that_cannot_be_are_refused(bad):
    with pytest.raises(InputError):
        wrench_setting(*map(D, bad[:3]), bad[3])


def test_an_unknown_way_is_refused():
    with pytest.raises(InputError, match="sideways"):
        wrench_setting(D(1), D(1), D(1), "sideways")


positive = st.decimals("0.1", 500, places=1)


@given(positive, positive, positive)
def test_an_adapter_in_line_always_lowers_the_setting(wanted, length, extension):
    assert wrench_setting(wanted, length, extension) < wanted
    assert wrench_setting(wanted, length, D(0)) == wanted


@pytest.mark.parametrize(
    ("turns", "inside"), [("5", False), ("6", True), ("11", True), ("12", False)]
)
def test_turns_of_032_wire_are_inclusive(turns, inside):
    """NASM33540, second hand: 6 to 11 turns an inch for 0.032 to 0.041 in."""
    standard = wire_turns(D("0.032"), D(turns))[0]
    assert (standard.inside, "NASM33540" in standard.source) == (inside, True)


@pytest.mark.parametrize(
    ("mm", "size", "low", "high"),
    [
        ("0.5", "0.020", 8, 14),
        ("0.8", "0.032", 6, 11),
        ("1", "0.041", 6, 11),
        ("1.5", "0.060", 4, 8),
    ],
)
def test_wire_sold_in_millimetres_finds_its_table_line(mm, size, low, high):
    """By hand: 0.8 / 25.4 = 0.0315 in, half a thousandth under the 0.032 that it stands for."""
    standard = wire_turns(convert(D(mm), "mm", "in"), D(8))[0]
    assert "NASM33540" in standard.source
    assert (standard.low, standard.high) == (low, high)
    if mm in ("0.5", "0.8"):  # the others lie between two sizes of one line
        assert wire_size(convert(D(mm), "mm", "in")) == D(size)


def test_wire_of_eight_tenths_is_not_called_too_thin():
    assert wire_note(convert(D("0.8"), "mm", "in"), D("0.050"), D(3)) == ""


def test_each_source_of_turns_is_named_and_they_may_differ():
    """AC 43.13-1B gives 6 to 8 for any wire, NASM33540 8 to 14 for 0.020 in."""
    standard, circular = wire_turns(D("0.020"), D(10))
    assert (standard.low, standard.high, standard.inside) == (8, 14, True)
    assert (circular.low, circular.high, circular.inside) == (6, 8, False)


def test_a_wire_without_a_line_of_its_own_gets_no_invented_one():
    assert [t.source.split()[0] for t in wire_turns(D("0.028"), D(8))] == ["AC"]


def test_thin_wire_is_asked_about_as_the_circular_has_it():
    """AC 43.13-1B 7-123b: 0.032 in at least over 0.045 in holes; 0.020 in if close and small."""
    assert wire_note(D("0.032"), D("0.050"), D(3)) == ""
    assert wire_note(D("0.025"), D("0.050"), D(3))
    assert wire_note(D("0.020"), D("0.050"), D("1.5")) == ""
    assert wire_note(D("0.020"), D("0.050"), D("2.0"))
    assert wire_note(D("0.020"), D("0.040")) == ""


@pytest.mark.parametrize(
    ("held", "loss", "asks"),
    [
        ("74", "7.5", False),
        ("72", "10", False),
        ("61", "23.75", False),
        ("60", "25", False),
        ("59", "26.25", True),
    ],
)
def test_compression_as_a_share_of_eighty(held, loss, asks):
    """AC 43.13-1B 8-14: a loss of more than 25 % is suspect; 60/80 is exactly 25 %, so not over."""
    got = compression(D(held))
    assert (got.loss_percent, bool(got.ask)) == (D(loss), asks)
    assert got.share == D(held) / 80


def test_compression_words_ask_and_never_judge():
    assert "maker" in compression(D(59)).ask
    assert "airworthy" not in compression(D(59)).ask


@pytest.mark.parametrize("held", ["84", "-1"])
def test_compression_above_eighty_cannot_be(held):
    with pytest.raises(InputError):
        compression(D(held))


@pytest.mark.parametrize(
    ("value", "unit", "to", "exact"),
    [  # NIST Handbook 44, Appendix C
        ("1", "gal", "L", "3.785411784"),
        ("1", "qt", "L", "0.946352946"),
        ("1", "pt", "mL", "473.176473"),
        ("1", "fl oz", "mL", "29.5735295625"),
        ("1", "qt", "fl oz", "32"),
        ("1", "gal", "fl oz", "128"),
        ("6", "qt", "L", "5.678117676"),
        ("8", "qt", "L", "7.570823568"),
        ("1", "imp qt", "L", "1.1365225"),
        ("1", "imp fl oz", "mL", "28.4130625"),
        ("9.6", "fl oz", "mL", "283.9058838"),
    ],
)
def test_measures_of_liquid(value, unit, to, exact):
    assert convert(D(value), unit, to) == D(exact)


@given(st.decimals("0.01", 10000, places=2), st.sampled_from(["ft-lb", "in-lb", "N·m"]))
def test_conversion_there_and_back(value, unit):
    assert close(convert(convert(value, "ft-lb", unit), unit, "ft-lb"), value)


def test_quarts_of_torque_are_refused():
    import pint

    assert set(NAMES) > {"qt", "ft-lb"}
    with pytest.raises(pint.DimensionalityError):
        convert(D(1), "qt", "ft-lb")
