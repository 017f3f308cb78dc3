"""Two samples compared: scipy, statsmodels and pingouin as references; coverage by simulation."""

from __future__ import annotations

import math

import numpy as np
import pingouin
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.weightstats import CompareMeans, DescrStatsW, ttost_ind

from reportgen.stats import (
    difference_of_means,
    equivalence,
    games_howell,
    ratio_of_means,
    standardized_effect,
    variance_ratio,
)

pairs = st.integers(0, 10_000).map(
    lambda seed: (
        np.random.default_rng([seed, 1]).normal(10.0, 1.0, 3 + seed % 20),
        np.random.default_rng([seed, 2]).normal(9.0 + seed % 3, 0.3 + seed % 4, 3 + seed % 13),
    )
)


@given(pairs, st.floats(0.05, 5.0), st.sampled_from([0.01, 0.05, 0.1]))
def test_equivalence_statsmodels_ttost_ind(pair, margin, alpha):
    a, b = pair
    p_value, (_, p_lower, df), (_, p_upper, _) = ttost_ind(a, b, -margin, 1.5 * margin, usevar="unequal")
    result = equivalence(a, b, margin=(-margin, 1.5 * margin), alpha=alpha)
    assert (result.p_lower, result.p_upper) == (pytest.approx(p_lower, abs=1e-10), pytest.approx(p_upper, abs=1e-10))
    assert result.p_value == pytest.approx(p_value, rel=1e-8, abs=1e-10)
    assert result.df == pytest.approx(df, rel=1e-10)
    assert result.is_equivalent == (p_value < alpha)


@given(pairs, st.floats(0.05, 5.0))
def test_equivalence_pingouin_tost(pair, margin):
    theirs = pingouin.tost(*pair, bound=margin, correction=True)["pval"].iloc[0]
    assert equivalence(*pair, margin=margin, alpha=0.05).p_value == pytest.approx(theirs, rel=1e-7, abs=1e-9)


@given(pairs, st.floats(0.05, 5.0), st.sampled_from([0.01, 0.05, 0.1]))
def test_equivalent_just_when_the_interval_lies_inside_the_margin(pair, margin, alpha):
    result = equivalence(*pair, margin=margin, alpha=alpha)
    assert result.is_equivalent == (-margin < result.lower and result.upper < margin)
    assert result.lower < result.difference < result.upper
    same = difference_of_means(*pair, confidence=1 - 2 * alpha)
    assert (same.lower, same.upper) == (pytest.approx(result.lower), pytest.approx(result.upper))
    assert result.margin == (-margin, margin)


@given(pairs)
def test_difference_of_means_scipy_and_statsmodels(pair):
    a, b = pair
    ours, theirs = difference_of_means(a, b, confidence=0.95), scipy.stats.ttest_ind(a, b, equal_var=False)
    assert ours.p_value == pytest.approx(theirs.pvalue, rel=1e-9, abs=1e-14)
    assert ours.df[0] == pytest.approx(theirs.df, rel=1e-10)
    expected = CompareMeans(DescrStatsW(a), DescrStatsW(b)).tconfint_diff(alpha=0.05, usevar="unequal")
    assert (ours.lower, ours.upper) == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(pairs)
def test_difference_of_means_is_the_games_howell_pair_of_two(pair):
    ours, theirs = difference_of_means(*pair, confidence=0.95), games_howell(pair)[0]
    assert ours.estimate == theirs.difference
    assert (ours.lower, ours.upper) == (pytest.approx(theirs.lower, abs=1e-8), pytest.approx(theirs.upper, abs=1e-8))
    assert ours.p_value == pytest.approx(theirs.p_value, abs=1e-11)


@given(pairs, st.sampled_from([0.9, 0.95, 0.99]))
def test_variance_ratio_f_distribution_scipy(pair, confidence):
    a, b = pair
    result = variance_ratio(a, b, confidence=confidence)
    f = scipy.stats.f(a.size - 1, b.size - 1)
    assert result.estimate == pytest.approx(np.var(a, ddof=1) / np.var(b, ddof=1))
    # At each end of the interval the ratio observed is as extreme as the confidence allows.
    assert f.sf(result.estimate / result.lower) == pytest.approx((1 - confidence) / 2, rel=1e-8)
    assert f.cdf(result.estimate / result.upper) == pytest.approx((1 - confidence) / 2, rel=1e-8)
    assert result.p_value == pytest.approx(2 * min(f.sf(result.estimate), f.cdf(result.estimate)), rel=1e-8)
    assert (result.p_value < 1 - confidence) == (not result.lower < 1 < result.upper)
    assert result.df == (a.size - 1, b.size - 1)


@given(pairs)
def test_variance_ratio_the_other_way_round_is_its_inverse(pair):
    there, back = (variance_ratio(*samples, confidence=0.9) for samples in (pair, pair[::-1]))
    assert (back.estimate, back.lower, back.upper) == pytest.approx(
        (1 / there.estimate, 1 / there.upper, 1 / there.lower), rel=1e-9
    )


@given(pairs, st.sampled_from([0.9, 0.95]))
def test_standardized_effect_pingouin_and_noncentral_t_of_scipy(pair, confidence):
    a, b = pair
    result = standardized_effect(a, b, confidence=confidence)
    # pingouin takes the approximate correction 1 - 3 / (4 n - 9); the exact one differs by less than 1 % from n = 6 on.
    cohen = pingouin.compute_effsize(a, b, eftype="cohen")
    df = a.size + b.size - 2
    exact = math.gamma(df / 2) / math.gamma((df - 1) / 2) / math.sqrt(df / 2)
    assert result.estimate == pytest.approx(cohen * exact, rel=1e-9, abs=1e-12)
    assert result.estimate == pytest.approx(pingouin.compute_effsize(a, b, eftype="hedges"), rel=0.01, abs=1e-12)
    size = math.sqrt(a.size * b.size / (a.size + b.size))
    assert scipy.stats.nct.sf(cohen * size, df, result.lower * size) == pytest.approx((1 - confidence) / 2, rel=1e-6)
    assert scipy.stats.nct.cdf(cohen * size, df, result.upper * size) == pytest.approx((1 - confidence) / 2, rel=1e-6)
    assert result.p_value == pytest.approx(scipy.stats.ttest_ind(a, b).pvalue, rel=1e-8, abs=1e-14)


def test_standardized_effect_of_samples_thousands_of_their_sd_apart_has_no_interval():
    result = standardized_effect([1.0, 1.00001], [5.0, 5.00001], confidence=0.95)
    assert (result.lower, result.upper) == (None, None)
    assert result.estimate < -1e5


@given(pairs, st.sampled_from([0.9, 0.95]))
def test_ratio_of_means_ends_are_where_the_difference_is_just_significant(pair, confidence):
    a, b = pair
    result = ratio_of_means(a, b, confidence=confidence)
    critical = scipy.stats.t.ppf((1 + confidence) / 2, result.df[0])
    if result.lower is None:
        assert abs(b.mean()) <= critical * b.std(ddof=1) / math.sqrt(b.size) * (1 + 1e-9)
        return
    for end in (result.lower, result.upper):
        error = math.sqrt(a.var(ddof=1) / a.size + end**2 * b.var(ddof=1) / b.size)
        assert abs(a.mean() - end * b.mean()) / error == pytest.approx(critical, rel=1e-6)
    assert result.lower < result.estimate < result.upper
    # At the estimated ratio Satterthwaite's degrees of freedom are those of a against b in the unit of a.
    assert result.df[0] == pytest.approx(scipy.stats.ttest_ind(a, b * result.estimate, equal_var=False).df, rel=1e-9)


def test_ratio_of_means_without_a_bound_where_b_may_be_zero():
    result = ratio_of_means([5.0, 6.0, 7.0], [-4.0, 0.5, 6.0], confidence=0.95)
    assert (result.lower, result.upper) == (None, None)
    assert result.estimate == pytest.approx(6.0 / (2.5 / 3))


def test_ratio_of_means_with_a_constant_denominator_is_the_t_interval_of_the_mean():
    a = np.array([5.0, 6.0, 7.5, 6.1])
    result = ratio_of_means(a, [2.0, 2.0, 2.0], confidence=0.95)
    expected = scipy.stats.t.interval(0.95, 3, loc=a.mean() / 2, scale=a.std(ddof=1) / 2 / 2)
    assert (result.lower, result.upper) == pytest.approx(expected)


@given(pairs, st.floats(0.01, 100.0))
def test_change_of_unit(pair, factor):
    a, b = pair
    scaled = (a * factor, b * factor)
    for function in (variance_ratio, standardized_effect, ratio_of_means):
        before, after = function(a, b, confidence=0.9), function(*scaled, confidence=0.9)
        assert after.estimate == pytest.approx(before.estimate, rel=1e-8, abs=1e-10)
        if before.lower is None or before.upper is None:
            assert (after.lower, after.upper) == (before.lower, before.upper)
        else:
            expected = (before.lower, before.upper)
            assert (after.lower, after.upper) == pytest.approx(expected, rel=1e-6, abs=1e-9)
    before, after = equivalence(a, b, margin=1.0, alpha=0.05), equivalence(*scaled, margin=factor, alpha=0.05)
    assert after.p_value == pytest.approx(before.p_value, rel=1e-7, abs=1e-10)
    assert after.difference == pytest.approx(before.difference * factor, rel=1e-9, abs=1e-9)


def test_two_fixtures_with_the_same_devices_are_neither_equal_in_mean_nor_in_spread():
    # Invented data of a kind known in the trade (common practice, no source): a fixture that holds a device
    # concentrically reads lower and scatters several times less than one that sticks to it.
    rng = np.random.default_rng(11)
    sticking, concentric = rng.normal(3.4, 0.8, 12), rng.normal(1.6, 0.15, 12)
    assert not equivalence(sticking, concentric, margin=0.5, alpha=0.05).is_equivalent
    spread = variance_ratio(sticking, concentric, confidence=0.95)
    assert spread.lower > 4
    assert ratio_of_means(concentric, sticking, confidence=0.95).upper < 0.7


@pytest.mark.slow
@pytest.mark.parametrize(("sd_a", "sd_b", "n_a", "n_b"), [(1.0, 1.0, 8, 8), (1.0, 3.0, 10, 6), (2.0, 0.3, 5, 15)])
def test_coverage_of_the_ratio_of_means_by_simulation(sd_a, sd_b, n_a, n_b):
    # Fixed seed, 4,000 pairs, nominal 0.95, standard error 0.0034: Satterthwaite's approximation holds within 0.015.
    rng = np.random.default_rng(n_a)
    covered = 0
    for _ in range(4000):
        result = ratio_of_means(rng.normal(12.0, sd_a, n_a), rng.normal(10.0, sd_b, n_b), confidence=0.95)
        covered += result.lower is None or result.lower <= 1.2 <= result.upper
    assert 0.935 < covered / 4000 < 0.965


@pytest.mark.slow
def test_equivalence_is_claimed_at_the_margin_as_often_as_alpha_says():
    # Fixed seed, 4,000 pairs at the margin itself, alpha 0.05, standard error 0.0034.
    rng = np.random.default_rng(5)
    claims = [
        equivalence(rng.normal(10.0, 1.0, 25), rng.normal(12.0, 2.0, 25), margin=2.0, alpha=0.05).is_equivalent
        for _ in range(4000)
    ]
    assert 0.036 < np.mean(claims) < 0.064


A, B = [1.0, 2.0, 3.0], [2.0, 4.0, 5.0]


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: equivalence(A, B, margin=0.0, alpha=0.05), "margin must be above 0; got 0.0"),
        (lambda: equivalence(A, B, margin=(1.0, 1.0), alpha=0.05), "low < high"),
        (lambda: equivalence(A, B, margin=(1.0, 2.0, 3.0), alpha=0.05), "low < high"),
        (lambda: equivalence(A, B, margin=1.0, alpha=0.5), "alpha must be below 0.5; got 0.5"),
        (lambda: equivalence(A, B, margin=1.0, alpha=0.0), "alpha"),
        (lambda: equivalence([1.0], B, margin=1.0, alpha=0.05), "a must hold at least 2"),
        (lambda: equivalence(A, [1.0], margin=1.0, alpha=0.05), "b must hold at least 2"),
        (lambda: difference_of_means([1.0, 1.0], [2.0, 2.0], confidence=0.9), r"both constant \(1\.0, 2\.0\)"),
        (lambda: difference_of_means(A, B, confidence=95), "confidence"),
        (lambda: variance_ratio([1.0, 1.0], B, confidence=0.9), "a must vary; got 2 times 1.0"),
        (lambda: variance_ratio(A, [4.0, 4.0], confidence=0.9), "b must vary; got 2 times 4.0"),
        (lambda: variance_ratio(A, B, confidence=1.0), "confidence"),
        (lambda: ratio_of_means(A, [-1.0, 1.0], confidence=0.9), "mean other than 0"),
        (lambda: ratio_of_means(A, B, confidence=0.0), "confidence"),
        (lambda: standardized_effect(A, B, confidence=1.5), "confidence"),
    ],
)
def test_arguments_out_of_range_are_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_results_say_what_they_are_and_what_they_came_from():
    a, b = [1.0, 2.0, 3.0, 3.5], [2.0, 4.0, 5.0]
    results = [
        function(a, b, confidence=0.9)
        for function in (difference_of_means, ratio_of_means, variance_ratio, standardized_effect)
    ]
    assert [result.name for result in results] == [
        "difference of means",
        "ratio of means",
        "variance ratio",
        "standardized effect",
    ]
    assert {result.n for result in results} == {(4, 3)}
    assert {result.confidence for result in results} == {0.9}
    assert all(result.method for result in results)
    assert results[1].p_value is None
    assert results[3].df == (5.0,)
    result = equivalence(a, b, margin=1.5, alpha=0.1)
    assert (result.n, result.alpha) == ((4, 3), 0.1)
