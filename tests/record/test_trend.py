"""Robust limits and runs, against published examples, scipy and simulation."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from record.rules import metals
from record.trend import Level, Sample, factor, follow, limits, run
from record.verdict import state, words

D = Decimal

NEVER = ("fail", "diagnos", "overhaul now", "tear down", "open the engine", "unairworthy", "defect")


def sample(day, lab="North Lab", tach=None, hours="45", **levels):
    taken = date(2025, 1, 1) + timedelta(days=day)
    made = {s: Level(t, D(t.lstrip("<")), t.startswith("<")) for s, t in levels.items()}
    tach = D(tach) if tach else D(2000 + day)
    return Sample(lab, taken, tach, D(hours) if hours else None, made)


def test_median_and_mad_of_a_published_example():
    """Ten replicate results worked through in docslib.org/doc/3866134: median 149.5, MAD 5.5."""
    values = [D(v) for v in (145, 157, 183, 151, 143, 147, 153, 163, 130, 148)]
    got = limits(values)
    assert (got.middle, got.mad) == (D("149.5"), D("5.5"))


@given(st.lists(st.decimals(0, 200, places=1), min_size=3, max_size=12))
def test_mad_agrees_with_scipy(values):
    got = limits(values)
    assert float(got.mad) == pytest.approx(stats.median_abs_deviation([float(v) for v in values]))
    assert float(got.middle) == pytest.approx(float(np.median([float(v) for v in values])))


@pytest.mark.parametrize("earlier", [3, 4, 5, 6, 8, 10, 20, 30])
def test_an_unchanged_engine_crosses_its_limits_once_in_twenty(earlier):
    """Simulation of our own with another seed than the one the factors were made with."""
    rng = np.random.default_rng(4)
    rows = rng.standard_normal((100_000, earlier))
    middle = np.median(rows, axis=1)
    mad = np.median(np.abs(rows - middle[:, None]), axis=1)
    out = np.abs(rng.standard_normal(100_000) - middle) > float(factor(earlier)) * mad
    assert out.mean() == pytest.approx(0.05, abs=0.004)


def test_limits_widen_while_the_library_is_small():
    factors = [factor(n) for n in range(3, 60)]
    assert factors == sorted(factors, reverse=True)
    assert factor(11) == factor(10)


def test_fewer_than_three_earlier_samples_give_no_limits():
    assert limits([D(20), D(22)]) is None
    assert limits([D(20), D(22), D(24)]) is not None


def test_equal_reports_do_not_make_limits_of_no_width():
    got = limits([D(20), D(20), D(20), D(20)], step=D(1))
    assert got.low < 20 < got.high


def test_mann_kendall_of_a_published_example_by_hand():
    """Fourteen values worked at mathcs.holycross.edu (MannKendallByHand): S = 54, p = .0018.

    The page gives the one-sided probability; ours counts both ways.
    """
    text = "12.9 14.8 13.2 15.7 13.8 15.6 12.9 11.0 17.3 15.9 19.0 18.3 20.1 21.7"
    got = run([D(v) for v in text.split()])
    assert (got.s, got.way) == (54, "rising")
    assert got.chance / 2 == pytest.approx(0.0018, abs=0.00005)


@given(st.lists(st.integers(0, 10_000), min_size=3, max_size=9, unique=True))
def test_the_chance_of_a_run_agrees_with_scipy(values):
    got = run([D(v) for v in values])
    exact = stats.kendalltau(range(len(values)), values, method="exact").pvalue
    assert got.chance == pytest.approx(exact)


@given(st.lists(st.integers(0, 500), min_size=3, max_size=12))
def test_the_slope_agrees_with_scipy(values):
    assert float(run([D(v) for v in values]).slope) == pytest.approx(
        stats.theilslopes(values).slope
    )


def test_three_rising_reports_are_not_called_a_trend_and_five_are():
    assert run([D(20), D(22), D(24)]).way == "none"
    assert run([D(20), D(22), D(24), D(26)]).way == "none"
    assert run([D(20), D(22), D(24), D(26), D(28)]).way == "rising"


def test_two_reports_are_not_a_trend():
    trend = follow([sample(0, Fe="20"), sample(100, Fe="60")], "Fe")
    assert state(trend) == "values only"
    assert "Two reports are not a trend: iron 20, then 60." in words(trend)
    assert not trend.outside


def test_one_report_is_a_value():
    assert "One report is a value, not a trend." in words(follow([sample(0, Fe="20")], "Fe"))


def test_per_hour_on_the_oil():
    """30 ppm in 45 h is 0.667 an hour and in 25 h 1.200 (arithmetic; roughly linear only)."""
    assert sample(0, hours="45", Fe="30").rate("Fe") == D(30) / 45
    assert sample(0, hours="25", Fe="30").rate("Fe") == D("1.2")
    assert sample(0, hours=None, Fe="30").rate("Fe") is None


def test_a_short_interval_is_judged_by_the_hour():
    earlier = [sample(i * 100, hours="50", Cu=str(v)) for i, v in enumerate((10, 11, 10, 11, 10))]
    trend = follow([*earlier, sample(600, hours="10", Cu="10")], "Cu")
    assert trend.outside
    assert "outside limits" in state(trend)


def test_without_hours_on_the_oil_the_ppm_are_judged():
    rows = [sample(i * 100, hours=None, Cu=str(v)) for i, v in enumerate((10, 11, 10, 11, 60))]
    trend = follow(rows, "Cu")
    assert trend.rate_limits is None
    assert trend.outside
    assert any("no figure an hour" in w for w in words(trend))


def test_a_real_rise_is_said_with_its_size_and_whom_to_ask():
    rows = [sample(i * 100, hours="45", Fe=str(v)) for i, v in enumerate((18, 22, 25, 31, 36))]
    said = " ".join(words(follow(rows, "Fe")))
    assert "Rising over 5 samples per hour" in said
    assert "once in 60" in said
    assert "mechanic" in said


def test_noise_is_said_to_be_no_direction():
    rows = [sample(i * 100, hours="45", Cu=str(v)) for i, v in enumerate((9, 12, 8, 11, 10))]
    trend = follow(rows, "Cu")
    assert state(trend) == "within limits"
    assert "No direction" in " ".join(words(trend))


def test_a_split_sample_shows_how_far_two_laboratories_differ():
    rows = [sample(i * 100, Fe=str(v)) for i, v in enumerate((20, 22, 21, 23))]
    trend = follow([*rows, sample(300, lab="South Lab", Fe="29")], "Fe")
    assert [s.apart for s in trend.splits] == [6]
    assert len(trend.samples) == 4
    said = " ".join(words(trend))
    assert "6 ppm apart" in said
    assert "One split sample cannot tell" in said
    assert not trend.pooled


def test_reports_of_two_laboratories_are_pooled_only_with_wider_limits():
    rows = [sample(0, Fe="20"), sample(100, Fe="21"), sample(100, lab="South Lab", Fe="26")]
    rows += [sample(200, lab="South Lab", Fe="27"), sample(300, lab="South Lab", Fe="28")]
    trend = follow(rows, "Fe")
    assert trend.pooled
    assert trend.limits.widened == 5
    assert "taken together" in " ".join(words(trend))


def test_pooled_reports_without_a_split_say_that_the_difference_is_not_known():
    rows = [sample(0, Fe="20"), sample(100, lab="South Lab", Fe="21"), sample(200, Fe="26")]
    assert "how far they differ is not known" in " ".join(words(follow(rows, "Fe")))


def test_a_metal_that_no_report_names_is_not_followed():
    assert follow([sample(0, Fe="20")], "Sn") is None


@given(
    st.lists(
        st.tuples(st.integers(0, 300), st.sampled_from(["North Lab", "South Lab"]), st.booleans()),
        min_size=1,
        max_size=12,
    ),
    st.sampled_from(sorted(metals())),
)
def test_words_never_make_a_finding_and_always_end(rows, metal):
    made = [
        sample(i * 50, lab=lab, hours="40" if timed else None, **{metal: str(ppm)})
        for i, (ppm, lab, timed) in enumerate(rows)
    ]
    for line in words(follow(made, metal)):
        assert line.endswith(".")
        assert not any(word in line.lower() for word in NEVER)


def test_figures_that_rounding_alone_could_set_apart_count_as_equal():
    """Chromium 2, 2, 2, 3, 3 rises by the hour on paper; 2.4 and 2.6 may be all it is."""
    hours = ("48.7", "47.6", "41.3", "49.3", "42.2")
    rows = [
        sample(i * 100, hours=h, Cr=v) for i, (h, v) in enumerate(zip(hours, "22233", strict=True))
    ]
    rates = [row.rate("Cr") for row in rows]
    assert rates == sorted(rates)
    assert follow(rows, "Cr").rate_run.way == "none"


def test_a_figure_under_what_the_laboratory_reports_is_said_to_be_that():
    rows = [sample(i * 100, Sn="<1") for i in range(5)]
    trend = follow(rows, "Sn")
    assert trend.rate_run.s == 0
    assert "under what the laboratory reports" in " ".join(words(trend))


def test_halves_of_a_split_sample_belong_together_though_one_report_names_no_hours():
    rows = [sample(i * 100, Fe=str(v)) for i, v in enumerate((20, 22, 21, 23))]
    other = sample(300, lab="South Lab", tach="1", hours=None, Fe="29")
    trend = follow([*rows, other], "Fe")
    assert len(trend.samples) == 4
    assert [s.apart for s in trend.splits] == [6]
    assert [s.hours for s in trend.labs if s.lab == "South Lab"] == [45]


def test_a_doubled_figure_is_asked_about_although_few_samples_make_wide_limits():
    rows = [sample(i * 100, Fe=str(v)) for i, v in enumerate((18, 22, 20, 60))]
    trend = follow(rows, "Fe")
    assert not trend.outside
    assert state(trend) == "too few to judge, doubled"
    said = " ".join(words(trend))
    assert "3.0 times what it was" in said
    assert "mechanic" in said


def test_one_ppm_and_then_two_is_not_called_doubled():
    rows = [sample(i * 100, Ni=v) for i, v in enumerate("1112")]
    assert state(follow(rows, "Ni")) == "too few to judge"
    assert state(follow([*rows, sample(500, Ni="2")], "Ni")) == "within limits"


def test_a_longer_interval_is_not_called_doubled():
    rows = [sample(i * 100, hours="25", Fe=str(v)) for i, v in enumerate((18, 22, 20))]
    trend = follow([*rows, sample(300, hours="75", Fe="60")], "Fe")
    assert state(trend) == "too few to judge"


def reports(*values, lab="North Lab", start=0, hours="50", metal="Fe"):
    """Give samples a hundred days apart of one laboratory, all at the same hours on the oil."""
    return [
        sample(start + i * 100, lab=lab, hours=hours, **{metal: str(v)})
        for i, v in enumerate(values)
    ]


@pytest.mark.parametrize(("metal", "values"), [("Fe", (20, 22, 21, 40)), ("Cu", (5, 5, 5, 10))])
def test_about_twice_the_median_is_asked_about_as_the_docs_promise(metal, values):
    """By hand: 40 / 21 = 1.90 and at least 39.5 / 21.5 = 1.84; 10 / 5 = 2 and 9.5 / 5.5 = 1.73."""
    trend = follow(reports(*values, metal=metal), metal)
    assert state(trend) == "too few to judge, doubled"
    said = " ".join(words(trend))
    assert "asked about" in said
    assert "mechanic" in said
    assert "within" not in said


def test_three_samples_before_are_too_few_to_judge_by():
    trend = follow(reports(20, 22, 21, 24), "Fe")
    assert state(trend) == "too few to judge"
    assert "3 earlier samples, with a median of 21 ppm, are too few to judge by." in words(trend)
    assert state(follow(reports(20, 22, 21), "Fe")) == "too few to judge"


def test_a_sample_without_hours_drops_out_of_the_test_per_hour_alone():
    """By hand: 22 / 20 = 1.1 ppm an hour; 21, 22, 21.5 in 50 h are 0.42, 0.44 and 0.43."""
    rows = [*reports(21, hours=None), *reports("21", "22", "21.5", start=100)]
    trend = follow([*rows, sample(600, hours="20", Fe="22")], "Fe")
    assert trend.rate_limits.earlier == 3
    assert trend.rate_limits.middle == D("0.43")
    assert trend.limits.earlier == 4
    assert trend.latest.rate("Fe") == D("1.1")
    assert trend.outside
    assert "0.670 above the median of 0.430 ppm an hour" in " ".join(words(trend))


def test_no_odds_are_given_across_a_change_of_laboratory():
    """20, 22, 24 of one and 30, 32, 34 of another rise once in 360 by chance, and say nothing."""
    rows = [*reports(20, 22, 24), *reports(30, 32, 34, lab="South Lab", start=300)]
    trend = follow(rows, "Fe")
    assert run([D(v) for v in (20, 22, 24, 30, 32, 34)]).chance == pytest.approx(1 / 360)
    assert (trend.run, trend.rate_run) == (None, None)
    said = " ".join(words(trend))
    assert "360" not in said
    assert "change of laboratory can make as much" in said
    assert state(trend) == "too few to judge"


def test_with_a_split_sample_there_are_limits_across_laboratories_but_no_odds():
    rows = [*reports(20, 22, 24), *reports(25, 32, 34, lab="South Lab", start=200)]
    trend = follow(rows, "Fe")
    assert [s.apart for s in trend.splits] == [1]
    assert trend.limits is not None
    assert trend.run is None
    assert "no odds are given" in " ".join(words(trend))


def test_one_report_of_a_second_laboratory_is_too_few_to_judge_by_in_one_statement():
    trend = follow([*reports(20, 22, 21, 21), sample(500, lab="South Lab", Fe="60")], "Fe")
    assert state(trend) == "too few to judge"
    assert not trend.outside
    said = " ".join(words(trend))
    assert "1 of these 5 reports is of South Lab" in said
    assert "outside" not in said
    assert "too wide" not in said


def test_a_second_laboratory_with_samples_enough_is_judged_by_its_own():
    rows = [*reports(*[20] * 6), *reports(30, 31, 30, 31, 30, lab="South Lab", start=700)]
    trend = follow(rows, "Fe")
    assert not trend.pooled
    assert [s.lab for s in trend.samples] == ["South Lab"] * 5
    assert state(trend) == "within limits"


@pytest.mark.parametrize("earlier", [4, 5, 6, 7, 8, 9])
@pytest.mark.parametrize("spread", [0.5, 1.0])
def test_whole_numbers_near_five_cross_their_limits_less_often_than_once_in_twenty(earlier, spread):
    """Simulation with numpy, 20,000 engines that have not changed: 0 to 2 in a hundred, as said."""
    rng = np.random.default_rng(11)
    drawn = np.rint(np.clip(rng.normal(5, spread, (20_000, earlier + 1)), 0, None))
    before, now = drawn[:, :-1], drawn[:, -1]
    middle = np.median(before, axis=1)
    mad = np.maximum(np.median(np.abs(before - middle[:, None]), axis=1), 0.5)
    reach = float(factor(earlier)) * mad
    out = (now > middle + reach) | (now < np.maximum(0, middle - reach))
    assert out[mad <= 1].mean() <= 0.02


def test_what_limits_over_whole_numbers_can_and_cannot_see_is_said():
    """By hand: median 5, MAD half a ppm, 8.85 * 0.5 = 4.4: 9.4 at most, so 10 is the first seen."""
    trend = follow(reports(5, 5, 6, 5, 5, 5), "Fe")
    assert trend.limits.coarse
    said = " ".join(words(trend))
    assert "0 to 2 times in a hundred" in said
    assert "They can see 10 ppm or more" in said
    assert not follow(reports(20, 26, 31, 22, 25), "Fe").limits.coarse
