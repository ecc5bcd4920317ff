"""Sums against published worked examples; each names its source."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from capture.errors import InputError
from record.compute import (
    NO_END,
    Interval,
    add_months,
    additive_for,
    changed,
    consumption,
    hours_between,
)
from record.rules import items, rules

D = Decimal


@given(st.dates(date(1970, 1, 1), date(2190, 1, 1)), st.integers(1, 96))
def test_a_month_ends_on_its_last_day_as_dateutil_has_it(day, months):
    """Outside source: dateutil's relativedelta, for month ends and leap years."""
    assert add_months(day, months) == day + relativedelta(months=months)


@pytest.mark.parametrize(
    ("day", "months", "due"),
    [
        (date(2025, 10, 31), 4, date(2026, 2, 28)),
        (date(2023, 10, 31), 4, date(2024, 2, 29)),  # 2024 is a leap year
        (date(2099, 10, 31), 4, date(2100, 2, 28)),  # 2100 is none
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2026, 9, 14), 4, date(2027, 1, 14)),
    ],
)
def test_month_ends_and_leap_years_by_hand(day, months, due):
    assert add_months(day, months) == due == day + relativedelta(months=months)


@pytest.mark.parametrize(("oil", "ounces"), [("6", "9.6"), ("8", "12.8"), ("12", "19.2")])
def test_one_pint_to_ten_quarts(oil, ounces):
    """Arithmetic from NIST Handbook 44, Appendix C (32 fl oz a quart, 16 a pint).

    The ratio itself is common practice from memory; only the arithmetic is checked.
    """
    assert additive_for(D(oil)) == D(ounces)


def test_additive_takes_the_ratio_of_the_profile():
    assert additive_for(D(6), D(2)) == 12


def used(after, before, then, now, **told):
    return consumption(D(after), D(before), hours_between(D(then), D(now)), **told)


def test_consumption_has_an_interval_from_the_dipstick_and_the_meter():
    """Worked by hand: 7.5 + 1 - 7 = 1.5 qt over 40 h, each dipstick good to an eighth of a quart.

    Lowest 1.25 qt in 40.1 h = 0.03117, highest 1.75 qt in 39.9 h = 0.04386 qt/h.
    """
    got = used("7.5", "7", "2300.0", "2340.0", added=[D(1)])
    assert got.used.value == D("1.5")
    assert (got.used.low, got.used.high) == (D("1.25"), D("1.75"))
    assert got.per_hour.value == D("1.5") / 40
    assert got.per_hour.low == D("1.25") / D("40.1")
    assert got.per_hour.high == D("1.75") / D("39.9")
    assert got.per_quart.low == D("39.9") / D("1.75")
    assert got.per_quart.high == D("40.1") / D("1.25")
    assert got.notes == ()
    assert got.per_hour.show("qt/h", 3) == "0.038 qt/h (0.031 to 0.044)"


def test_a_bound_is_never_rounded_past_itself():
    """By hand, a quarter of a quart and a tenth of an hour either way.

    5 qt in 4 h: 4 / 5 = 0.80; 3.9 / 5.25 = 0.7428..., down to 0.74; 4.1 / 4.75 = 0.8631..., up to
    0.87. 15 in 35: 2.333...; 34.9 / 15.25 = 2.2885..., down to 2.28; 35.1 / 14.75 = 2.3796..., up
    to 2.38. 0 in 1: at most 0.25 qt in at least 0.9 h, so more than 0.9 / 0.25 = 3.6 h/qt.
    """
    assert used(8, 3, 100, 104).per_quart.show("h/qt") == "0.80 h/qt (0.74 to 0.87)"
    topped = used(8, 3, 100, 135, added=[D(10)])
    assert topped.per_quart.show("h/qt") == "2.33 h/qt (2.28 to 2.38)"
    assert used(6, 6, 100, 101).per_quart.show("h/qt") == "more than 3.6 h/qt"


@given(
    st.decimals(-50, 50, places=6), st.decimals(0, 9, places=6), st.decimals(0, 9, places=6),
    st.integers(0, 4),
)  # fmt: skip
def test_what_is_shown_always_holds_what_was_reckoned(value, below, above, places):
    shown = Interval(value - below, value, value + above).show("", places)
    low, high = shown[shown.index("(") + 1 : -1].split(" to ")
    assert D(low) <= value - below <= value + above <= D(high)


def test_a_level_higher_than_before_gives_a_span_below_nothing_and_no_rate():
    """6 - 6.5 = -0.5 qt, a quarter either way: -0.75 to -0.25. No rate can be made of that."""
    got = used(6, "6.5", 100, 150)
    assert got.used.show("qt") == "-0.50 qt (-0.75 to -0.25)"
    assert (got.per_hour, got.per_quart) == (None, None)
    assert "top-up" in got.notes[0]


def test_about_a_quart_an_hour_asks_for_a_mechanic_and_one_in_ten_hours_does_not():
    """Workshop advice restated in a trade page: about 1 qt/h or more, ask."""
    assert "mechanic" in used(8, 3, 100, 104).notes[0]
    assert used(8, 7, 100, 110).notes == ()


def test_the_owners_limit_from_the_makers_papers_comes_before_the_rule():
    """By hand, 2 qt in 10 h is 0.2 qt/h; 0.173 (1.75 / 10.1) to 0.227 (2.25 / 9.9)."""
    two = {"after": 8, "before": 6, "then": 100, "now": 110}
    assert used(**two, limit=D("0.15")).notes == (
        "over the profile's limit of 0.15 qt/h: ask a mechanic",
    )
    assert "as far as the dipstick can tell" in used(**two, limit=D("0.19")).notes[0]
    assert used(**two, limit=D("0.21")).notes[0].startswith("perhaps over")
    assert used(**two, limit=D("0.23")).notes == ()
    assert used(8, 3, 100, 104, limit=D(2)).notes == ()  # 1.25 qt/h, and the maker allows two


def test_a_change_against_the_engines_own_history_is_asked_about():
    """1 qt in 40 h is 0.025 qt/h, twice; then 3 qt in 7 h is 0.429, seventeen times as much."""
    before = [used(7, 6, 0, 40), used(7, 6, 40, 80)]
    now = used(7, 4, 80, 87)
    assert "0.429 qt/h, against a median of 0.025 over 2 before" in changed(now, before)
    assert "mechanic" in changed(now, before)
    assert changed(used(7, 6, 80, 118), before) == ""
    assert changed(now, before[:1]) == ""  # one earlier rate is no history


def test_less_oil_than_ever_is_asked_about_and_noise_of_the_dipstick_is_not():
    """4 qt in 40 h, twice, then 1 qt in 40: 1.25 / 39.9 = 0.031 at most, 3.75 / 40.1 = 0.094."""
    before = [used(8, 4, 0, 40), used(8, 4, 40, 80)]
    assert "level misread" in changed(used(8, 7, 80, 120), before)
    # half a quart against a quarter: twice, but the spans meet
    quarter = [used(7, "6.75", 0, 40), used(7, "6.75", 40, 80)]
    assert changed(used(7, "6.5", 80, 120), quarter) == ""


def test_a_difference_within_the_dipstick_is_said_to_be_that():
    got = used("6.5", "6.25", 100, 150)
    assert "within what a dipstick" in got.notes[0]
    assert got.per_hour.low == 0
    assert got.per_quart.high == NO_END
    assert got.per_quart.show("h/qt", 0) == "200 h/qt (99 to no upper end)"  # 49.9 / 0.5 = 99.8


def test_a_meter_that_went_backwards_is_one_clear_line():
    with pytest.raises(InputError, match=r"reads 99\.9 now and read 100"):
        hours_between(D(100), D("99.9"))


def test_too_few_hours_give_no_consumption():
    with pytest.raises(InputError, match="tenth"):
        used(8, 7, 100, "100.1")


tenths = st.decimals(0, 9999, places=1)
quarters = st.integers(0, 80).map(lambda n: D(n) / 4)


@given(
    quarters, quarters, tenths, st.decimals("0.2", 500, places=1), st.lists(quarters, max_size=4)
)
def test_the_interval_always_holds_the_value_and_every_true_rate(after, before, then, span, added):
    got = used(after, before, then, then + span, added=added)
    assert got.used.low <= got.used.value <= got.used.high
    if got.per_hour is None:
        assert got.used.high <= 0
        return
    assert 0 <= got.per_hour.low <= got.per_hour.value <= got.per_hour.high
    if got.used.value > 0:
        assert got.per_quart.low <= got.per_quart.value <= got.per_quart.high


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
