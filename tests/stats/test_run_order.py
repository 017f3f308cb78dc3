"""Run order: Hart's table, full enumeration, statsmodels, the handbook's chart."""

from __future__ import annotations

import itertools
import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
import scipy.integrate
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.sandbox.stats.runs import Runs

from reportgen.stats import individuals_chart, runs_about_median, von_neumann_ratio
from reportgen.stats.run_order import MEAN_RANGE_OF_TWO, SD_RANGE_OF_TWO, _von_neumann_distribution, von_neumann_ratios

REFERENCE = Path(__file__).parents[1] / "reference" / "published"

# Hart, Annals of Mathematical Statistics 13 (1942) 207-214: lower points of [sum d^2 / (n-1)] / [sum dev^2 / n], from
# memory. Ours is sum d^2 / sum dev^2, smaller by (n - 1) / n.
HART_1942 = [(4, 0.01, 0.8341), (4, 0.05, 1.0406), (5, 0.05, 1.0255), (6, 0.05, 1.0682), (10, 0.05, 1.1803)]


@pytest.mark.parametrize(("n", "level", "point"), HART_1942, ids=[f"hart-1942-n-{n}-{p}" for n, p, _ in HART_1942])
def test_von_neumann_distribution_hart_1942(n, level, point):
    ends = [_von_neumann_distribution((point + shift) * (n - 1) / n, n) for shift in (-5e-5, 5e-5)]
    assert ends[0] - 2e-5 <= level <= ends[1] + 2e-5


@pytest.mark.parametrize("n", [4, 7, 20, 120])
def test_von_neumann_distribution_is_symmetric_about_two_with_the_known_variance(n):
    grid = np.linspace(0.0, 4.0, 201)
    distribution = np.array([_von_neumann_distribution(q, n) for q in grid])
    np.testing.assert_allclose(distribution + distribution[::-1], 1.0, atol=1e-12)
    assert np.all(np.diff(distribution) >= -1e-12)
    # E(Q^2) / 2 is the integral of q (1 - F); the variance is 4 (n - 2) / ((n - 1) (n + 1)), von Neumann 1941.
    second_moment = 2 * scipy.integrate.simpson(grid * (1 - distribution), x=grid)
    assert second_moment - 4 == pytest.approx(4 * (n - 2) / ((n - 1) * (n + 1)), abs=2e-4)


def imhof(weights: np.ndarray) -> float:
    """P(sum of weights times chi-squares of one degree < 0): Imhof, Biometrika 48 (1961) 419-426, equation 3.2."""

    def height(u: float) -> float:
        angle = 0.5 * np.arctan(weights * u).sum()
        return math.sin(angle) / (u * math.exp(0.25 * np.log1p((weights * u) ** 2).sum()))

    return 0.5 - scipy.integrate.quad(height, 0.0, np.inf, limit=500, epsabs=1e-11)[0] / math.pi


@pytest.mark.parametrize("sizes", [(10, 10, 10), (11, 11, 10), (5, 4), (3, 12, 7, 1), (2, 2, 2, 3), (20,)])
def test_von_neumann_ratio_of_several_lots_by_imhof(sizes: tuple[int, ...]) -> None:
    rng = np.random.default_rng(sum(sizes))
    blocks = []
    for n in sizes:
        steps = np.diff(np.eye(n), axis=0)
        blocks.append((steps.T @ steps, np.eye(n) - 1 / n))
    above, below = (scipy.linalg.block_diag(*parts) for parts in zip(*blocks, strict=True))
    for shift in (0.0, 3.0):
        values = rng.normal(size=sum(sizes)) + shift * np.repeat(np.arange(len(sizes)), sizes)
        check = von_neumann_ratio(values, sizes=sizes)
        assert check.statistic == pytest.approx((values @ above @ values) / (values @ below @ values), rel=1e-12)
        below_it = imhof(
            np.linalg.eigvalsh(above - check.statistic * below)[
                np.argsort(np.abs(np.linalg.eigvalsh(above - check.statistic * below)))
            ][len(sizes) :]
        )
        assert check.p_value == pytest.approx(2 * min(below_it, 1 - below_it), abs=2e-7)


def test_von_neumann_ratio_of_several_lots_does_not_see_what_lies_between_them() -> None:
    values = np.array([5.1, 4.8, 5.3, 5.0, 4.9, 5.2])
    far = np.concatenate([values, values[::-1] + 100.0])
    both = von_neumann_ratio(far, sizes=(6, 6))
    assert both.statistic == pytest.approx(von_neumann_ratio(values).statistic)
    assert von_neumann_ratio(far).p_value < 1e-3 < both.p_value


@pytest.mark.parametrize("sizes", [(3, 3), (6, 1), (4, 1, 0), (2, 2, 1)])
def test_sizes_that_are_not_those_of_the_values_are_told(sizes: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="sizes"):
        von_neumann_ratio([1.0, 2.0, 4.0, 3.0, 5.0][:5], sizes=sizes)


def test_von_neumann_ratio_and_lag_one_autocorrelation_nist_strd():
    # sum d^2 / sum dev^2 = 2 - 2 r1 - (first and last squared deviation) / sum dev^2: certified r1 of four data sets.
    file = tomllib.loads((REFERENCE / "nist_strd_univariate.toml").read_text(encoding="utf-8"))
    certified = {
        check["inputs"].split(",")[0]: float(check["printed"])
        for check in file["check"]
        if check["quantity"] == "lag-1 autocorrelation"
    }
    assert sorted(file["data"]) == ["lew", "lottery", "mavro", "michelso"]
    for name, values in file["data"].items():
        deviations = np.array(values) - np.mean(values)
        ends = (deviations[0] ** 2 + deviations[-1] ** 2) / (deviations @ deviations)
        autocorrelation = 1 - (von_neumann_ratio(values).statistic + ends) / 2
        assert autocorrelation == pytest.approx(certified[name], rel=1e-10)


def test_order_of_nist_strd_data():
    # The handbook finds lottery random, lew cyclic (neighbours far apart) and mavro drifting (section 1.4.2).
    data = tomllib.loads((REFERENCE / "nist_strd_univariate.toml").read_text(encoding="utf-8"))["data"]
    assert von_neumann_ratio(data["lottery"]).p_value > 0.05
    drifting = von_neumann_ratio(data["mavro"])
    assert (drifting.statistic < 0.3, drifting.p_value < 1e-6) == (True, True)
    cyclic = von_neumann_ratio(data["lew"])
    assert (cyclic.statistic > 2.5, cyclic.p_value < 1e-4) == (True, True)
    assert runs_about_median(data["mavro"]).p_value < 1e-4
    assert runs_about_median(data["lottery"]).p_value > 0.05


def test_zarr13_nist_ehandbook_1_4_2_8_is_mildly_dependent():
    factor = tomllib.loads((REFERENCE / "nist_ehb_zarr13.toml").read_text(encoding="utf-8"))["data"]["factor"]
    # The handbook reports an autocorrelation of 0.281 (from memory) and calls the dependence mild but significant.
    check = von_neumann_ratio(factor)
    deviations = np.array(factor) - np.mean(factor)
    ends = (deviations[0] ** 2 + deviations[-1] ** 2) / (deviations @ deviations)
    assert 1 - (check.statistic + ends) / 2 == pytest.approx(0.281, abs=5e-4)
    assert check.p_value < 0.001


def test_von_neumann_p_value_by_simulation():
    # 20,000 normal samples, fixed seed; counting error of four standard errors.
    samples = np.random.default_rng(3).normal(size=(20_000, 9))
    deviations = samples - samples.mean(axis=1, keepdims=True)
    ratios = np.sum(np.diff(samples, axis=1) ** 2, axis=1) / np.sum(deviations**2, axis=1)
    for q in (0.8, 1.3, 2.0, 2.9):
        chance = _von_neumann_distribution(q, 9)
        assert np.mean(ratios <= q) == pytest.approx(chance, abs=4 * math.sqrt(chance * (1 - chance) / 20_000))


def imhof_1961(ratio: float, n: int) -> float:
    """Imhof, Biometrika 48 (1961) 419-426, equation 3.2, in log u: one factor for each weight, no saddle point."""
    weights = 2 - 2 * np.cos(math.pi * np.arange(1, n) / n) - ratio
    step = 0.05
    log_u = np.arange(-45.0, 8 + 100 / (n - 2), step)
    scaled = np.exp(log_u)[:, None] * weights
    angle = 0.5 * np.sum(np.arctan(scaled), axis=1)
    log_size = 0.25 * np.sum(np.log1p(scaled**2), axis=1)
    return 0.5 - math.fsum(np.sin(angle) * np.exp(-log_size)) * step / math.pi


@pytest.mark.parametrize("n", [4, 5, 6, 9, 30, 100, 200])
def test_von_neumann_distribution_imhof_1961(n):
    edge = 2 - 2 * math.cos(math.pi / n)
    grid = [*np.linspace(edge, 4 - edge, 23)[1:-1], 1.9, 1.99999, 2.0, 2.00001]
    # Imhof's sum ends at u = exp(-45), which leaves out 3e-14
    np.testing.assert_allclose(_von_neumann_distribution(grid, n), [imhof_1961(q, n) for q in grid], atol=5e-14)


def test_far_tail_of_the_von_neumann_distribution_30_digits():
    # Imhof's integral by mpmath 1.3 in 30 digits; the relative error of a p-value stays that of rounding
    assert _von_neumann_distribution(0.9, 60) == pytest.approx(1.49469537686049216e-6, rel=1e-14)
    assert _von_neumann_distribution(1.0, 4) == pytest.approx(0.110021640331074046, rel=1e-14)


def test_many_samples_at_once_give_what_each_gives_alone():
    rng = np.random.default_rng(5)
    samples = [rng.normal(size=n) for n in (4, 30, 9, 30, 200, 9, 4)]
    assert von_neumann_ratios(samples) == tuple(von_neumann_ratio(sample) for sample in samples)


def test_distribution_outside_its_range():
    assert _von_neumann_distribution(0.0, 5) == 0.0
    assert _von_neumann_distribution(4.0, 5) == 1.0


@pytest.mark.parametrize(("above", "below"), [(2, 2), (2, 5), (3, 3), (4, 4), (5, 3)])
def test_runs_are_counted_over_all_orders(above, below):
    # Full enumeration of which positions lie above the median.
    n = above + below
    counts = []
    for chosen in itertools.combinations(range(n), above):
        sides = [position in chosen for position in range(n)]
        counts.append(1 + sum(a != b for a, b in itertools.pairwise(sides)))
    for chosen in itertools.islice(itertools.combinations(range(n), above), 0, None, 3):
        values = [float(position in chosen) * 2 - 1 for position in range(n)]
        if above != below:
            values += [0.0] * (2 * abs(above - below) + 1)  # values at the median, which the test leaves out
        check = runs_about_median(values)
        lower = sum(count <= check.statistic for count in counts) / len(counts)
        upper = sum(count >= check.statistic for count in counts) / len(counts)
        assert check.p_value == pytest.approx(min(2 * min(lower, upper), 1.0), rel=1e-9)
        assert check.n == n


@given(st.integers(0, 10_000))
def test_number_of_runs_statsmodels_and_near_its_normal_approximation(seed):
    values = np.random.default_rng(seed).normal(size=30 + 2 * (seed % 40))
    check = runs_about_median(values)
    z, p_value = Runs((values > np.median(values)).astype(int)).runs_test(correction=False)
    assert check.statistic == Runs((values > np.median(values)).astype(int)).n_runs
    assert check.p_value == pytest.approx(p_value, abs=0.25)
    assert (z < 0) == (check.statistic < values.size / 2 + 1) or z == 0


def test_long_records_are_no_trouble():
    values = np.random.default_rng(1).normal(size=3000)
    assert 0.001 < runs_about_median(values).p_value <= 1
    assert 0.001 < von_neumann_ratio(values).p_value <= 1
    assert runs_about_median(np.sort(values)).p_value < 1e-300 or runs_about_median(np.sort(values)).p_value == 0.0


def test_individuals_chart_nist_ehandbook_6_3_2_2_flow_rate():
    # From memory: ten batches, mean 50.81, mean moving range 1.8778, limits 45.8159 and 55.8041, computed there with
    # the rounded constant 1.128 for 2 / sqrt(pi) = 1.12838; so the reach is compared after putting that constant right.
    flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    chart = individuals_chart(flow)
    assert chart.center == pytest.approx(50.81)
    assert chart.moving_range_mean == pytest.approx(1.8778, abs=5e-5)
    assert (chart.upper - chart.center) * MEAN_RANGE_OF_TWO / 1.128 == pytest.approx(55.8041 - 50.81, abs=1.5e-4)
    assert (chart.center - chart.lower) * MEAN_RANGE_OF_TWO / 1.128 == pytest.approx(50.81 - 45.8159, abs=1.5e-4)
    assert (chart.beyond, chart.range_beyond, chart.n) == ((), (), 10)


def test_chart_constants_are_those_of_the_tables():
    # d2 = 1.128, d3 = 0.853, D4 = 3.267, 3 / d2 = 2.66 for n = 2 (control chart tables, from memory).
    assert pytest.approx(1.128, abs=5e-4) == MEAN_RANGE_OF_TWO
    assert pytest.approx(0.853, abs=5e-4) == SD_RANGE_OF_TWO
    chart = individuals_chart([0.0, 1.0])
    assert chart.moving_range_upper == pytest.approx(3.267, abs=5e-4)
    assert chart.upper - chart.center == pytest.approx(2.66, abs=2e-3)


def test_a_jump_is_beyond_the_limits_for_value_and_range():
    values = [10.0, 10.2, 9.9, 10.1, 10.0, 10.2, 9.8, 10.1, 15.0, 10.0, 9.9, 10.1]
    chart = individuals_chart(values)
    assert (chart.beyond, chart.range_beyond) == ((8,), (8, 9))
    mirrored = individuals_chart([-value for value in values])
    assert (mirrored.beyond, mirrored.lower) == ((8,), pytest.approx(-chart.upper))


def test_equal_values_have_limits_of_no_width_and_none_beyond():
    chart = individuals_chart([3.0, 3.0, 3.0])
    assert (chart.lower, chart.upper, chart.beyond, chart.range_beyond) == (3.0, 3.0, (), ())


@given(st.integers(0, 10_000), st.floats(0.01, 100), st.floats(-50, 50))
def test_unit_shift_and_reversed_order_change_nothing(seed, factor, shift):
    values = np.random.default_rng(seed).normal(size=5 + seed % 30)
    moved = (values[::-1] + shift) * factor
    before, after = von_neumann_ratio(values), von_neumann_ratio(moved)
    assert after.statistic == pytest.approx(before.statistic, rel=1e-7)
    assert after.p_value == pytest.approx(before.p_value, rel=1e-5, abs=1e-10)
    assert runs_about_median(moved).p_value == pytest.approx(runs_about_median(values).p_value)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: von_neumann_ratio([1.0, 2.0, 3.0]), "at least 4"),
        (lambda: von_neumann_ratio([2.0] * 5), r"all 5 are 2\.0"),
        (lambda: runs_about_median([1.0, 2.0, 3.0]), "at least 4"),
        (lambda: runs_about_median([1.0, 1.0, 1.0, 1.0, 2.0]), r"median 1\.0; got 1 and 0"),
        (lambda: individuals_chart([1.0]), "at least 2"),
    ],
)
def test_too_few_or_equal_values_are_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_p_value_counts_both_tails_and_results_say_what_they_are():
    values = [1.0, 1.5, 1.2, 2.0, 2.6, 2.2, 3.1, 2.9]
    check = von_neumann_ratio(values)
    assert check.p_value == pytest.approx(2 * _von_neumann_distribution(check.statistic, 8), rel=1e-12)
    assert (check.name, check.n) == ("von Neumann ratio", 8)
    # Deviations -1.5 -0.5 0.5 1.5 in the order 2 4 1 3: successive differences 2, -3, 2; a ratio of 17 / 5 alternates.
    alternating = von_neumann_ratio([2.0, 4.0, 1.0, 3.0])
    assert alternating.statistic == pytest.approx(17 / 5)
    assert alternating.p_value == pytest.approx(2 * (1 - _von_neumann_distribution(17 / 5, 4)), rel=1e-9)
    assert runs_about_median(values).name == "runs about the median"
    assert runs_about_median(values).method == "exact, 4 values above and 4 below the median"
