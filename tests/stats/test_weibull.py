"""Weibull intervals by the exact conditional method against R, multi-precision and their own definition."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
import scipy.integrate
import scipy.stats
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import special

from reportgen.stats import weibull_interval

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(name):
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    assert table, name
    return table


SAMPLES = {}
for _row in rows("datasets.csv") + rows("basis_data.csv"):
    SAMPLES.setdefault(_row["dataset"], []).append(float(_row["value"]))
METHODS = {"conditional_exact", "conditional_cmstatr"}


@pytest.mark.parametrize(
    "row",
    [
        pytest.param(row, id=f"{row['case_id']}-{row['dataset']}-{row['method']}")
        for row in rows("lognormal_and_weibull.csv")
        if row["method"] in METHODS
    ],
)
def test_lower_bound_lawless_r(row):
    # own R code confirmed with PARI/GP at 30 digits; cmstatr::basis_weibull to the digits its tolerances leave
    interval = weibull_interval(
        SAMPLES[row["dataset"]], confidence=float(row["confidence"]), coverage=float(row["coverage"]), side="lower"
    )
    digits = int(row["trusted_digits"])
    assert interval.lower == pytest.approx(float(row["lower_bound"]), rel=10.0 ** (1 - digits), abs=0)
    if row["param1"]:
        assert dict(interval.parameters) == {
            "shape": pytest.approx(float(row["param1"]), rel=1e-12),
            "scale": pytest.approx(float(row["param2"]), rel=1e-12),
        }
    assert (interval.upper, interval.k) == (None, None)


@pytest.mark.parametrize(
    "row",
    [
        pytest.param(row, id=f"{row['case_id']}-{row['dataset']}-{row['basis']}")
        for row in rows("basis_values.csv")
        if row["method"] == "weibull"
    ],
)
def test_lower_bound_basis_values(row):
    interval = weibull_interval(
        SAMPLES[row["dataset"]], confidence=float(row["confidence"]), coverage=float(row["coverage"]), side="lower"
    )
    assert interval.lower == pytest.approx(float(row["value"]), rel=1e-9, abs=0)
    # cmstatr's own integration keeps 5 to 6 digits
    assert interval.lower == pytest.approx(float(row["value_cmstatr"]), rel=1e-5, abs=0)


def test_fit_of_the_ball_bearings_lieblein_zelen_1956():
    # shape 2.10, scale 81.9 as published (typed from memory)
    interval = weibull_interval(SAMPLES["D09_ball_bearing"], confidence=0.95, coverage=0.9, side="lower")
    assert dict(interval.parameters) == {
        "shape": pytest.approx(2.10, rel=0, abs=5e-3),
        "scale": pytest.approx(81.9, rel=0, abs=5e-2),
    }


def confidence_by_adaptive_quadrature(values, bound, share_below):
    """P(the pivot is at most its value at this bound), with scipy.integrate.quad and scipy.stats' own fit."""
    shape, _, scale = scipy.stats.weibull_min.fit(values, floc=0, method="mle")
    location, unit = np.log(scale), 1 / shape
    a, n, w = (np.log(values) - location) / unit, len(values), np.log(-np.log1p(-share_below))
    q = (location - np.log(bound)) / unit

    def density(z):
        return np.exp((n - 2) * np.log(z) + z * a.sum() - n * special.logsumexp(a * z) + n * np.log(n))

    def part(z):
        return density(z) * special.gammainc(n, np.exp(w + q * z + special.logsumexp(a * z)))

    total = scipy.integrate.quad(density, 0, 12, epsabs=1e-12, points=[0.5, 1.0, 2.0])[0]
    return scipy.integrate.quad(part, 0, 12, epsabs=1e-12, points=[0.5, 1.0, 2.0])[0] / total


def test_upper_bound_by_adaptive_quadrature():
    values = SAMPLES["D09_ball_bearing"]
    interval = weibull_interval(values, confidence=0.95, coverage=0.9, side="upper")
    # an upper bound of coverage 0.9 lies above the 0.9 quantile with confidence 0.95
    assert confidence_by_adaptive_quadrature(values, interval.upper, 0.9) == pytest.approx(0.05, abs=1e-5)
    assert interval.lower is None


def test_lower_bound_by_adaptive_quadrature():
    values = SAMPLES["D09_ball_bearing"]
    interval = weibull_interval(values, confidence=0.9, coverage=0.95, side="lower")
    assert confidence_by_adaptive_quadrature(values, interval.lower, 0.05) == pytest.approx(0.9, abs=1e-5)


def test_both_sides_are_two_one_sided_bounds_at_half_the_error():
    values = SAMPLES["D01_seal_strength"]
    both = weibull_interval(values, confidence=0.9, coverage=0.8, side="both")
    lower = weibull_interval(values, confidence=0.95, coverage=0.9, side="lower")
    upper = weibull_interval(values, confidence=0.95, coverage=0.9, side="upper")
    assert both.lower == pytest.approx(lower.lower, rel=1e-13)
    assert both.upper == pytest.approx(upper.upper, rel=1e-13)
    assert both.method == "Weibull, two exact conditional bounds joined, conservative"
    assert lower.method == "Weibull, exact conditional (Lawless)"
    assert (both.n, both.confidence, both.coverage, both.side) == (30, 0.9, 0.8, "both")
    assert both.mean == pytest.approx(np.mean(values), rel=1e-15)
    assert both.sd == pytest.approx(np.std(values, ddof=1), rel=1e-15)


def test_two_values_and_a_thousand_are_both_answered():
    two = weibull_interval([4.0, 5.0], confidence=0.95, coverage=0.9, side="both")
    assert 0 < two.lower < 4.0
    assert two.upper > 5.0
    many = 10 * np.random.default_rng(11).weibull(3.0, 1000)
    bound = weibull_interval(many, confidence=0.95, coverage=0.9, side="lower").lower
    quantile = 10 * (-np.log(0.9)) ** (1 / 3)
    assert quantile * 0.9 < bound < quantile


@pytest.mark.parametrize(
    ("values", "message"),
    [
        pytest.param([1.0, 0.0], r"^values must all be above 0 .*; got 0.0$", id="zero"),
        pytest.param([1.0, 2.0, -3.0], r"^values must all be above 0 .*; got -3.0$", id="negative"),
        pytest.param([7.0, 7.0], r"^values must not all be equal; got 2 times 7.0", id="equal"),
        pytest.param([7.0], r"^values must hold at least 2 numbers; got 1$", id="one"),
    ],
)
def test_refusals(values, message):
    with pytest.raises(ValueError, match=message):
        weibull_interval(values, confidence=0.95, coverage=0.9, side="lower")


lives = st.lists(st.floats(0.5, 50.0), min_size=2, max_size=25)


@settings(max_examples=30, deadline=None)
@given(lives, st.floats(0.01, 100.0), st.floats(0.5, 3.0), st.randoms(use_true_random=False))
def test_a_change_of_unit_of_power_and_of_order_carries_through(values, scale, power, random):
    assume(np.std(np.log(values)) > 1e-2)
    asked = {"confidence": 0.9, "coverage": 0.9, "side": "lower"}
    changed = [scale * value**power for value in random.sample(values, len(values))]
    expected = scale * weibull_interval(values, **asked).lower ** power
    assert weibull_interval(changed, **asked).lower == pytest.approx(expected, rel=1e-8)


@settings(max_examples=30, deadline=None)
@given(lives, st.floats(0.5, 0.95), st.floats(0.5, 0.95))
def test_bounds_move_outwards_with_confidence_and_coverage(values, confidence, coverage):
    assume(np.std(np.log(values)) > 1e-2)
    for side, sign in (("lower", 1), ("upper", -1)):
        bounds = []
        for asked in ((confidence, coverage), (confidence + 0.02, coverage), (confidence, coverage + 0.02)):
            interval = weibull_interval(values, confidence=asked[0], coverage=asked[1], side=side)
            bounds.append(sign * np.log(interval.lower if side == "lower" else interval.upper))
        assert bounds[1] < bounds[0]
        assert bounds[2] < bounds[0]
