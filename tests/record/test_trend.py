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
    assert "not known" in " ".join(words(follow(rows, "Fe")))


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
    assert state(trend) == "within limits, doubled"
    said = " ".join(words(trend))
    assert "3.0 times the median" in said
    assert "mechanic" in said


def test_one_ppm_and_then_two_is_not_called_doubled():
    rows = [sample(i * 100, Ni=v) for i, v in enumerate("1112")]
    assert state(follow(rows, "Ni")) == "within limits"


def test_a_longer_interval_is_not_called_doubled():
    rows = [sample(i * 100, hours="25", Fe=str(v)) for i, v in enumerate((18, 22, 20))]
    trend = follow([*rows, sample(300, hours="75", Fe="60")], "Fe")
    assert state(trend) == "within limits"
