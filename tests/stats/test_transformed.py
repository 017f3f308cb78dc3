"""Lognormal and Box-Cox intervals against R, a government example and their own definition."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path

import numpy as np
import pytest
import scipy.stats
from hypothesis import assume, given
from hypothesis import strategies as st

from reportgen.stats import box_cox_interval, lognormal_interval, normal_interval, one_sided_factor

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(name):
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    assert table, name
    return table


SAMPLES = {}
for _row in rows("datasets.csv") + rows("basis_data.csv"):
    SAMPLES.setdefault(_row["dataset"], []).append(float(_row["value"]))


def lower_bound(row):
    return lognormal_interval(
        SAMPLES[row["dataset"]], confidence=float(row["confidence"]), coverage=float(row["coverage"]), side="lower"
    )


@pytest.mark.parametrize(
    "row",
    [
        pytest.param(row, id=f"{row['case_id']}-{row['dataset']}")
        for row in rows("lognormal_and_weibull.csv")
        if row["method"] == "noncentral_t_on_logs"
    ],
)
def test_lognormal_lower_bound_r(row):
    interval = lower_bound(row)
    assert interval.lower == pytest.approx(float(row["lower_bound"]), rel=1e-11, abs=0)
    assert dict(interval.parameters) == {
        "log_mean": pytest.approx(float(row["param1"]), rel=1e-12),
        "log_sd": pytest.approx(float(row["param2"]), rel=1e-12),
    }
    assert interval.upper is None


@pytest.mark.parametrize(
    "row",
    [
        pytest.param(row, id=f"{row['case_id']}-{row['dataset']}-{row['basis']}")
        for row in rows("basis_values.csv")
        if row["method"] == "lognormal"
    ],
)
def test_lognormal_lower_bound_basis_values(row):
    assert lower_bound(row).lower == pytest.approx(float(row["value"]), rel=1e-11, abs=0)


def test_lognormal_upper_limit_epa_2009_example_17_3():
    source = tomllib.loads(
        (REFERENCE / "published/epa2009_ex17_3_chrysene_lognormal_utl.toml").read_text(encoding="utf-8")
    )
    printed = {check["quantity"]: float(check["printed"]) for check in source["check"]}
    interval = lognormal_interval(source["data"]["chrysene_ppb"], confidence=0.95, coverage=0.95, side="upper")
    assert interval.n == 8
    assert dict(interval.parameters) == {
        "log_mean": pytest.approx(printed["mean of logs"], rel=0, abs=5e-8),
        "log_sd": pytest.approx(printed["sd of logs"], rel=0, abs=5e-8),
    }
    assert interval.k == pytest.approx(printed["k1"], rel=0, abs=5e-7)
    assert np.log(interval.upper) == pytest.approx(printed["upper tolerance limit, log scale"], rel=0, abs=5e-7)
    assert interval.upper == pytest.approx(printed["upper tolerance limit, ppb"], rel=0, abs=5e-5)


def test_lognormal_both_sides_and_the_plain_mean():
    values = SAMPLES["D01_seal_strength"]
    interval = lognormal_interval(values, confidence=0.95, coverage=0.9, side="both")
    on_logs = normal_interval(np.log(values), confidence=0.95, coverage=0.9, side="both")
    assert np.log(interval.lower) == pytest.approx(on_logs.lower, rel=1e-14)
    assert np.log(interval.upper) == pytest.approx(on_logs.upper, rel=1e-14)
    assert interval.mean == pytest.approx(np.mean(values), rel=1e-15)
    assert interval.sd == pytest.approx(np.std(values, ddof=1), rel=1e-15)
    assert (interval.n, interval.confidence, interval.coverage, interval.side) == (30, 0.95, 0.9, "both")
    assert interval.method == "lognormal, exact normal factor on natural logarithms"


@pytest.mark.parametrize("interval", [lognormal_interval, box_cox_interval])
@pytest.mark.parametrize(
    ("values", "message"),
    [
        pytest.param([1.0, 2.0, 0.0, 3.0, 4.0], r"^values must all be above 0 .*; got 0.0$", id="zero"),
        pytest.param([1.0, 2.0, -3.5, 3.0, 4.0], r"^values must all be above 0 .*; got -3.5$", id="negative"),
        pytest.param([2.0] * 6, r"^values must not all be equal; got 6 times 2.0", id="equal"),
    ],
)
def test_refusals(interval, values, message):
    with pytest.raises(ValueError, match=message):
        interval(values, confidence=0.95, coverage=0.9, side="lower")


def test_box_cox_refuses_few_values_and_what_no_power_brings_near_normal():
    asked = {"confidence": 0.95, "coverage": 0.9, "side": "lower"}
    with pytest.raises(ValueError, match=r"^values must hold at least 5 numbers; got 4$"):
        box_cox_interval([1.0, 2.0, 3.0, 4.0], **asked)
    # one value far below and the rest together: the higher the power the better, without end
    steep = np.array([1.0] + [50.0] * 20)
    with pytest.raises(ValueError, match=r"power from -4.8 to 4.8; the best is 4.8 or beyond$"):
        box_cox_interval(steep, **asked)
    with pytest.raises(ValueError, match=r"the best is -4.8 or beyond$"):
        box_cox_interval(1 / steep, **asked)


@pytest.mark.parametrize("dataset", ["D01_seal_strength", "B04_validation61"])
def test_box_cox_power_is_that_of_scipy(dataset):
    # scipy.stats.boxcox, a general library; its search stops after about 8 digits
    values = np.array(SAMPLES[dataset])
    interval = box_cox_interval(values, confidence=0.95, coverage=0.9, side="lower")
    changed, power = scipy.stats.boxcox(values / scipy.stats.gmean(values))
    assert dict(interval.parameters) == {"power": pytest.approx(power, rel=1e-6)}
    k = one_sided_factor(values.size, confidence=0.95, coverage=0.9)
    bound = np.mean(changed) - k * np.std(changed, ddof=1)
    expected = scipy.stats.gmean(values) * (1 + power * bound) ** (1 / power)
    assert interval.lower == pytest.approx(expected, rel=1e-6)
    assert interval.k == k
    assert "approximate" in interval.method


def test_box_cox_of_nearly_lognormal_values_is_nearly_lognormal():
    # values symmetric on the logarithmic scale: the power is 0
    logs = scipy.stats.norm.ppf((np.arange(1, 41) - 0.5) / 40)
    values = np.exp(3 + 0.4 * logs)
    by_power = box_cox_interval(values, confidence=0.95, coverage=0.9, side="both")
    by_logs = lognormal_interval(values, confidence=0.95, coverage=0.9, side="both")
    assert dict(by_power.parameters)["power"] == pytest.approx(0.0, abs=1e-6)
    assert by_power.lower == pytest.approx(by_logs.lower, rel=1e-5)
    assert by_power.upper == pytest.approx(by_logs.upper, rel=1e-5)


def test_box_cox_bound_is_zero_where_the_transformation_ends_and_refused_where_it_is_infinite():
    quantiles = (np.arange(1, 9) - 0.5) / 8
    skewed = scipy.stats.norm.ppf(quantiles)
    low = box_cox_interval((3.0 + skewed) ** 0.5, confidence=0.99, coverage=0.999, side="lower")
    assert dict(low.parameters)["power"] > 0
    assert low.lower == 0.0
    with pytest.raises(ValueError, match=r"^values have no finite upper bound by their Box-Cox power -"):
        box_cox_interval((3.0 + skewed) ** -1.0, confidence=0.99, coverage=0.999, side="upper")


lives = st.lists(st.floats(0.5, 50.0), min_size=5, max_size=30)


@given(lives, st.floats(0.01, 100.0), st.randoms(use_true_random=False))
def test_a_change_of_unit_and_of_order_carries_through(values, scale, random):
    assume(np.std(np.log(values)) > 1e-2)
    asked = {"confidence": 0.9, "coverage": 0.9, "side": "lower"}
    changed = [scale * value for value in random.sample(values, len(values))]
    plain, other = lognormal_interval(values, **asked), lognormal_interval(changed, **asked)
    assert other.lower == pytest.approx(scale * plain.lower, rel=1e-9)
    try:
        plain = box_cox_interval(values, **asked)
    except ValueError:
        assume(False)
    assert box_cox_interval(changed, **asked).lower == pytest.approx(scale * plain.lower, rel=1e-5, abs=1e-9 * scale)
