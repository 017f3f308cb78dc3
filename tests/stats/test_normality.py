"""Normality tests against R, handbooks and scipy; the p formulas against counted samples."""

from __future__ import annotations

import csv
import dataclasses
import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from reportgen.stats import (
    anderson_darling,
    cmh17_significance_level,
    kurtosis,
    lilliefors,
    resolution_check,
    shapiro_wilk,
    skewness,
)
from reportgen.stats.normality import normal_a2

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def published(name: str) -> dict[str, list[float]]:
    return tomllib.loads((REFERENCE / "published" / f"{name}.toml").read_text(encoding="utf-8"))["data"]


def dataset(name: str) -> list[float]:
    return [float(row["value"]) for row in rows("datasets.csv") if row["dataset"] == name]


R_ROWS = rows("normality.csv")
R_IDS = [f"r-{row['case_id']}-{row['dataset']}" for row in R_ROWS]
every_r_row = pytest.mark.parametrize("row", R_ROWS, ids=R_IDS)


def test_reference_file_holds_all_fourteen_samples():
    assert len(R_ROWS) == 14


@every_r_row
def test_shapiro_wilk_r_shapiro_test(row):
    check = shapiro_wilk(dataset(row["dataset"]))
    # W is an approximation with printed coefficients: 8 digits are common to implementations.
    assert check.statistic == pytest.approx(float(row["shapiro_w"]), rel=1e-7)
    assert check.p_value == pytest.approx(float(row["shapiro_p"]), rel=1e-6)


@every_r_row
def test_anderson_darling_r_nortest(row):
    check = anderson_darling(dataset(row["dataset"]))
    assert check.statistic == pytest.approx(float(row["ad_a2"]), rel=1e-11)
    if row["ad_p_nortest"]:
        assert check.p_value == pytest.approx(float(row["ad_p_nortest"]), rel=1e-11)
    else:
        assert check.n < 8
        assert check.p_value is None


@every_r_row
def test_lilliefors_r_nortest(row):
    check = lilliefors(dataset(row["dataset"]))
    assert check.statistic == pytest.approx(float(row["lilliefors_d"]), rel=1e-11)
    assert check.p_value == pytest.approx(float(row["lilliefors_p_nortest"]), rel=1e-10)


@every_r_row
def test_cmh17_significance_level_of_normal_and_lognormal_r_cmstatr(row):
    sample = np.array(dataset(row["dataset"]))
    level = cmh17_significance_level(normal_a2(sample), n=sample.size, distribution="normal")
    assert level == pytest.approx(float(row["ad_osl_cmh17"]), rel=1e-10)
    if row["ad_lognormal_a2"]:
        a2 = anderson_darling(np.log(sample)).statistic
        assert a2 == pytest.approx(float(row["ad_lognormal_a2"]), rel=1e-10)
        level = cmh17_significance_level(a2, n=sample.size, distribution="lognormal")
        assert level == pytest.approx(float(row["ad_lognormal_osl_cmh17"]), rel=1e-9)
    if row["ad_weibull_a2"]:
        level = cmh17_significance_level(float(row["ad_weibull_a2"]), n=sample.size, distribution="weibull")
        assert level == pytest.approx(float(row["ad_weibull_osl_cmh17"]), rel=1e-9)


@every_r_row
@pytest.mark.parametrize(
    ("test", "column", "error", "error_below_a_tenth"),
    [
        # How far the formulas are from the truth, as stated beside the counts (100,000 samples each); the counting
        # error of four standard errors comes on top.
        (shapiro_wilk, "shapiro_p_mc", 0.04, 0.003),
        (anderson_darling, "ad_p_mc", 0.04, 0.003),
        (lilliefors, "lilliefors_p_mc", 0.01, 0.003),
    ],
    ids=["shapiro", "anderson-darling", "lilliefors"],
)
def test_p_formula_is_as_close_to_the_counted_p_as_stated(row, test, column, error, error_below_a_tenth):
    p_value = test(dataset(row["dataset"])).p_value
    if p_value is None:
        assert float(row["n"]) < 8
        return
    counted = float(row[column])
    counting_error = 4 * math.sqrt(counted * (1 - counted) / 100_000)
    assert abs(p_value - counted) <= (error_below_a_tenth if counted < 0.1 else error) + counting_error


def test_normal_significance_level_mil17_vangel31():
    # Not printed in the source: recomputed by the keepers of the file with the method of MIL-HDBK-17.
    strength = published("mil17_vangel31_tape_tensile")["strength_ksi"]
    level = cmh17_significance_level(anderson_darling(strength).statistic, n=38, distribution="normal")
    assert level == pytest.approx(0.5562, abs=5e-5)


def etw_strength() -> list[float]:
    table = rows("published/cmh17_example_8_3_11_1_1.csv")
    return [float(row["strength"]) for row in table if row["condition"] == "ETW"]


def test_significance_levels_cmh17_8_3_11_2_1_etw():
    etw = np.array(etw_strength())
    assert etw.size == 22
    normal = cmh17_significance_level(anderson_darling(etw).statistic, n=22, distribution="normal")
    lognormal = cmh17_significance_level(anderson_darling(np.log(etw)).statistic, n=22, distribution="lognormal")
    assert normal == pytest.approx(0.006051, abs=5e-7)
    assert lognormal == pytest.approx(0.000307, abs=5e-7)


def test_nickel_epa2009_ex10_1_is_rejected_as_it_is_and_not_in_logarithms():
    nickel = np.array(published("epa2009_ex10_1_nickel")["nickel_ppb"])
    assert nickel.mean() == pytest.approx(169.5250, abs=5e-5)
    assert nickel.std(ddof=1) == pytest.approx(259.7175, abs=5e-5)
    for test in (shapiro_wilk, anderson_darling, lilliefors):
        assert test(nickel).p_value < 0.01
        assert test(np.log(nickel)).p_value > 0.2


def test_zarr13_nist_ehandbook_1_4_2_8_is_not_rejected():
    # The handbook accepts normality of the 195 factors. Mean and sd printed in single precision (9.261460, 0.02278881).
    factor = np.array(published("nist_ehb_zarr13")["factor"])
    assert factor.mean() == pytest.approx(9.261460, abs=1.5e-6)
    assert factor.std(ddof=1) == pytest.approx(0.02278881, abs=1.5e-8)
    for test in (shapiro_wilk, anderson_darling, lilliefors):
        assert test(factor).p_value > 0.5


samples = st.integers(0, 10_000).map(lambda seed: np.random.default_rng(seed).gamma(3.0, size=8 + seed % 60))


@given(samples)
def test_agree_with_scipy(values):
    ours, theirs = shapiro_wilk(values), scipy.stats.shapiro(values)
    assert ours.statistic == pytest.approx(theirs.statistic, rel=1e-7)
    assert ours.p_value == pytest.approx(theirs.pvalue, rel=2e-5, abs=1e-12)
    ours, theirs = skewness(values), scipy.stats.skewtest(values)
    assert ours.statistic == pytest.approx(scipy.stats.skew(values, bias=False), rel=1e-9)
    assert ours.p_value == pytest.approx(theirs.pvalue, rel=1e-8)
    ours = kurtosis(values)
    assert ours.statistic == pytest.approx(scipy.stats.kurtosis(values, bias=False), rel=1e-9)
    if values.size >= 20:
        assert ours.p_value == pytest.approx(scipy.stats.kurtosistest(values).pvalue, rel=1e-8)
    else:
        assert ours.p_value is None


@pytest.mark.parametrize("n", [3, 4, 5, 6, 11, 12, 2000, 5000], ids=lambda n: f"scipy-n-{n}")
def test_shapiro_wilk_scipy_where_its_formula_changes(n):
    values = np.random.default_rng(n).normal(size=n)
    ours, theirs = shapiro_wilk(values), scipy.stats.shapiro(values)
    assert ours.statistic == pytest.approx(theirs.statistic, rel=1e-7)
    assert ours.p_value == pytest.approx(theirs.pvalue, rel=1e-5)


@given(samples, st.floats(1e-3, 1e3), st.floats(-100, 100))
def test_shift_scale_and_order_change_nothing(values, factor, shift):
    moved = values[::-1] * factor + shift * factor
    for test in (anderson_darling, shapiro_wilk, lilliefors, skewness, kurtosis):
        before, after = test(values), test(moved)
        assert after.statistic == pytest.approx(before.statistic, rel=1e-7, abs=1e-9)
        if before.p_value is not None:
            assert after.p_value == pytest.approx(before.p_value, rel=1e-6, abs=1e-12)


def test_far_outlier_keeps_a_finite_statistic_and_a_p_value_near_zero():
    values = [*np.random.default_rng(1).normal(size=400).tolist(), 1e6]
    check = anderson_darling(values)
    assert math.isfinite(check.statistic)
    assert check.p_value == pytest.approx(3.7e-24, rel=0.05)  # the formula's floor, adjusted A2 of 10
    assert 0 <= shapiro_wilk(values).p_value < 1e-20
    assert 0 <= lilliefors(values).p_value < 1e-20


def test_shapiro_wilk_of_evenly_spaced_three_is_one():
    check = shapiro_wilk([1.0, 2.0, 3.0])
    assert check.statistic == pytest.approx(1.0, abs=1e-15)
    assert check.p_value == pytest.approx(1.0, abs=1e-7)


def test_shapiro_wilk_of_three_with_two_equal_has_p_zero():
    # W is smallest, 0.75, exactly here: the null distribution begins there.
    assert shapiro_wilk([1.0, 1.0, 5.0]).p_value == pytest.approx(0.0, abs=1e-7)


@pytest.mark.parametrize(
    ("test", "n"), [(anderson_darling, 2), (shapiro_wilk, 2), (lilliefors, 4), (skewness, 7), (kurtosis, 3)]
)
def test_too_few_values_are_refused_with_the_number_needed(test, n):
    with pytest.raises(ValueError, match=f"at least {n + 1} numbers; got {n}"):
        test([float(value) for value in range(n)])
    assert test([float(value) for value in range(n + 1)]).n == n + 1


@pytest.mark.parametrize("test", [anderson_darling, shapiro_wilk, lilliefors, skewness, kurtosis])
def test_equal_values_are_refused(test):
    with pytest.raises(ValueError, match=r"values: all 9 are 4\.5"):
        test([4.5] * 9)


def test_shapiro_wilk_refuses_more_than_5000():
    with pytest.raises(ValueError, match="5001 given"):
        shapiro_wilk(np.arange(5001.0))


@pytest.mark.parametrize(("a2", "n"), [(0.0, 10), (-0.1, 10), (0.5, 3)])
def test_significance_level_refuses_what_no_sample_can_give(a2, n):
    with pytest.raises(ValueError):
        cmh17_significance_level(a2, n=n, distribution="normal")


def test_significance_level_refuses_an_unknown_distribution():
    with pytest.raises(ValueError, match="'gamma'"):
        cmh17_significance_level(0.5, n=10, distribution="gamma")


def test_results_are_frozen():
    with pytest.raises(dataclasses.FrozenInstanceError):
        anderson_darling(dataset("D01_seal_strength")).statistic = 0.0


def test_resolution_of_readings_to_a_tenth_of_a_unit():
    check = resolution_check([0.1 + 0.2, 0.3, 0.5, 0.6, 0.9, 0.9])
    assert check.n_distinct == 4  # 0.1 + 0.2 and 0.3 differ by rounding only
    assert check.step == pytest.approx(0.1)
    assert check.steps_per_sd == pytest.approx(check.sd / 0.1)
    assert check.steps_per_sd_needed == pytest.approx(0.8 * math.sqrt(6))
    assert not check.is_too_coarse


def test_resolution_of_a_fine_scale_and_of_a_coarse_one():
    values = np.random.default_rng(4).normal(50.0, 1.0, size=30)
    assert not resolution_check(values).is_too_coarse
    assert resolution_check(np.round(values)).is_too_coarse
    assert anderson_darling(values).p_value > 0.05 > anderson_darling(np.round(values)).p_value


def test_resolution_of_equal_values_is_too_coarse():
    check = resolution_check([2.0, 2.0])
    assert (check.step, check.n_distinct, check.is_too_coarse) == (0.0, 1, True)


@pytest.mark.slow
@pytest.mark.parametrize("n", [8, 15, 30, 60, 100])
def test_readings_at_the_limit_of_resolution_reject_normal_samples_little_more_often(n):
    # Simulation, fixed seed: nominal 5 %; at the limit at most 11 %, at a third of it more than twice that.
    rng = np.random.default_rng(20 + n)
    needed = 0.8 * math.sqrt(n)

    def rejected(steps_per_sd: float) -> float:
        samples = [np.round(rng.normal(rng.uniform(100, 101), steps_per_sd, n)) for _ in range(3000)]
        return sum(anderson_darling(sample).p_value < 0.05 for sample in samples if np.ptp(sample) > 0) / 3000

    assert rejected(needed) < 0.12
    assert rejected(needed / 3) > 0.24


def test_results_say_what_they_are_and_what_they_came_from():
    values = dataset("D01_seal_strength")
    names = {
        test(values).name: test(values).n for test in (anderson_darling, shapiro_wilk, lilliefors, skewness, kurtosis)
    }
    assert names == dict.fromkeys(("Anderson-Darling", "Shapiro-Wilk", "Lilliefors", "skewness", "kurtosis"), 30)
    assert anderson_darling(values).method.startswith("normal, mean and sd estimated")
    assert shapiro_wilk(values).method == "Royston's algorithm AS R94"
    assert resolution_check(values).n == 30
