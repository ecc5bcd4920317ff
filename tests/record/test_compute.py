"""Sums against published worked examples; each names its source."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.errors import InputError
from record.compute import NO_END, add_months, additive_for, consumption, hours_between, next_due
from record.rules import items, rules

D = Decimal


def test_oil_change_is_due_after_fifty_hours_or_four_months():
    """Example of common practice as trade articles restate it (50 h with a filter, 4 months)."""
    due = next_due(D("2345.6"), date(2026, 3, 14), now_tach=D("2360.0"), today=date(2026, 4, 1))
    assert (due.tach, due.day) == (D("2395.6"), date(2026, 7, 14))
    assert (due.hours_left, due.days_left, due.past) == (D("35.6"), 104, False)


def test_due_says_which_comes_first_and_how_far_past():
    late = next_due(D("2345.6"), date(2026, 3, 14), now_tach=D("2399.1"), today=date(2026, 6, 1))
    assert (late.first, late.hours_left, late.past) == ("tach", D("-3.5"), True)
    late = next_due(D("2345.6"), date(2026, 3, 14), now_tach=D("2350.0"), today=date(2026, 8, 1))
    assert (late.first, late.days_left, late.past) == ("calendar", -18, True)
    ahead = next_due(
        D("2345.6"),
        date(2026, 3, 14),
        now_tach=D("2385.6"),
        today=date(2026, 5, 1),
        hours_a_day=D("0.5"),
    )
    assert (ahead.first, ahead.by_use) == ("tach", date(2026, 5, 21))


def test_due_without_a_reading_stays_unknown_and_never_guesses():
    due = next_due(None, None, now_tach=None, today=date(2026, 5, 1))
    assert (due.tach, due.day, due.first, due.past) == (None, None, "unknown", False)


def test_a_month_ends_on_its_last_day():
    assert add_months(date(2025, 10, 31), 4) == date(2026, 2, 28)
    assert add_months(date(2023, 10, 31), 4) == date(2024, 2, 29)
    assert add_months(date(2026, 9, 14), 4) == date(2027, 1, 14)


@pytest.mark.parametrize(("oil", "ounces"), [("6", "9.6"), ("8", "12.8"), ("12", "19.2")])
def test_one_pint_to_ten_quarts(oil, ounces):
    """Arithmetic from NIST Handbook 44, Appendix C (32 fl oz a quart, 16 a pint).

    The ratio itself is common practice from memory; only the arithmetic is checked.
    """
    assert additive_for(D(oil)) == D(ounces)


def test_additive_takes_the_ratio_of_the_profile():
    assert additive_for(D(6), D(2)) == 12


def test_consumption_has_an_interval_from_the_dipstick_and_the_meter():
    """Worked by hand: 1.5 qt over 40 h, each dipstick reading good to an eighth of a quart."""
    burnt = consumption(D("7.5"), D("7"), D("2300.0"), D("2340.0"), added=[D(1)])
    assert burnt.burnt.value == D("1.5")
    assert (burnt.burnt.low, burnt.burnt.high) == (D("1.25"), D("1.75"))
    assert burnt.per_hour.value == D("1.5") / 40
    assert burnt.per_hour.low == D("1.25") / D("40.1")
    assert burnt.per_hour.high == D("1.75") / D("39.9")
    assert burnt.per_quart.low == D("39.9") / D("1.75")
    assert burnt.per_quart.high == D("40.1") / D("1.25")
    assert burnt.note == ""
    assert burnt.per_hour.show("qt/h", 3) == "0.038 qt/h (0.031 to 0.044)"


def test_about_a_quart_an_hour_asks_for_a_mechanic_and_one_in_ten_hours_does_not():
    """Workshop advice restated in a trade page: about 1 qt/h or more, ask."""
    assert "mechanic" in consumption(D(8), D(3), D(100), D(104)).note
    assert consumption(D(8), D(7), D(100), D(110)).note == ""


def test_a_difference_within_the_dipstick_is_said_to_be_that():
    burnt = consumption(D("6.5"), D("6.25"), D(100), D(150))
    assert "within what a dipstick" in burnt.note
    assert burnt.per_hour.low == 0
    assert burnt.per_quart.high == NO_END
    assert burnt.per_quart.show("h/qt", 0) == "200 h/qt (100 to no upper end)"


def test_more_oil_than_before_asks_whether_a_top_up_was_missed():
    assert "top-up" in consumption(D("6"), D("7"), D(100), D(150)).note


def test_a_meter_that_went_backwards_is_one_clear_line():
    with pytest.raises(InputError, match=r"reads 99\.9 now and read 100"):
        hours_between(D(100), D("99.9"))


def test_too_few_hours_give_no_consumption():
    with pytest.raises(InputError, match="tenth"):
        consumption(D(8), D(7), D(100), D("100.1"))


tenths = st.decimals(0, 9999, places=1)
quarters = st.integers(0, 80).map(lambda n: D(n) / 4)


@given(
    quarters, quarters, tenths, st.decimals("0.2", 500, places=1), st.lists(quarters, max_size=4)
)
def test_the_interval_always_holds_the_value_and_every_true_rate(after, before, then, span, added):
    burnt = consumption(after, before, then, then + span, added)
    for part in (burnt.burnt, burnt.per_hour):
        assert part.low <= max(D(0), part.value) <= part.high
    if burnt.burnt.value > 0:
        assert burnt.per_quart.low <= burnt.per_quart.value <= burnt.per_quart.high


def test_every_rule_names_its_source_and_how_far_it_was_seen():
    for name, rule in rules().items():
        for line in rule if isinstance(rule, list) else [rule]:
            if isinstance(line, dict) and name != "metal":
                assert line["source"], name
                assert line["status"] in {"seen", "memory", "practice"}, name


def test_the_preventive_list_has_no_line_32_and_serves_only_catalogue_fields():
    """14 CFR 43 Appendix A(c): items 1 to 31; item 32 was removed by 77 FR 71089."""
    from extract.values.catalogue import load

    catalogue = load()
    assert all(1 <= number <= 31 for number in items())
    for item in items().values():
        assert set(item.fields) <= set(catalogue.fields)
    for job in catalogue.jobs.values():
        assert set(job.app_a_items) <= set(items())
    assert catalogue.jobs["oil-and-filter"].app_a_items == (6, 23)
