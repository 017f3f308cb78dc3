"""Every function that states a bound names the argument it refuses, and takes the smallest one it permits."""

from __future__ import annotations

import pytest

from reportgen.stats import (
    achieved_reliability,
    attribute_acceptance,
    attribute_confidence,
    attribute_plan,
    attribute_reliability,
    attribute_sample_size,
    between_lot_interval,
    box_cox_interval,
    common_sd_intervals,
    finite_lot_reliability,
    finite_lot_sample_size,
    lognormal_interval,
    normal_interval,
    one_sided_factor,
    one_sided_factor_known_sd,
    one_sided_factor_pooled,
    order_statistic_confidence,
    order_statistic_coverage,
    order_statistic_interval,
    order_statistic_largest_order,
    order_statistic_sample_size,
    two_sided_factor,
    two_sided_factor_known_sd,
    two_sided_factor_pooled,
    variable_acceptance,
    variable_plan,
    variable_sample_size,
    weibull_interval,
)

CLAIM = {"confidence": 0.9, "coverage": 0.8}
VALUES = {"values": [*range(1, 41)], **CLAIM, "side": "lower"}
LOTS = {"groups": [[1, 2], [3, 5, 8]], **CLAIM, "side": "lower"}
RISKS = {"good_reliability": 0.95, "good_acceptance": 0.9, "poor_reliability": 0.8, "poor_acceptance": 0.1}
GOOD = {
    achieved_reliability: {"n": 2, "mean": 5.0, "sd": 1.0, "confidence": 0.9, "lower": 1.0, "upper": 9.0},
    attribute_acceptance: {"n": 1, "failures": 0, "reliability": 0.9},
    attribute_confidence: {"n": 1, "failures": 0, "reliability": 0.9},
    attribute_plan: RISKS,
    attribute_reliability: {"n": 1, "failures": 0, "confidence": 0.9},
    attribute_sample_size: {"confidence": 0.9, "reliability": 0.9, "failures": 0},
    between_lot_interval: LOTS,
    box_cox_interval: VALUES,
    common_sd_intervals: LOTS,
    finite_lot_reliability: {"lot_size": 1, "n": 1, "failures": 0, "confidence": 0.9},
    finite_lot_sample_size: {"lot_size": 1, "confidence": 0.9, "reliability": 0.9, "failures": 0},
    lognormal_interval: VALUES,
    normal_interval: VALUES,
    one_sided_factor: {"n": 2, **CLAIM},
    one_sided_factor_known_sd: {"n": 1, **CLAIM},
    one_sided_factor_pooled: {"n": 1, "df": 1, **CLAIM},
    order_statistic_confidence: {"n": 1, "coverage": 0.8, "order": 1, "side": "lower"},
    order_statistic_coverage: {"n": 1, "confidence": 0.8, "order": 1, "side": "lower"},
    order_statistic_interval: VALUES,
    order_statistic_largest_order: {"n": 1, **CLAIM, "side": "lower"},
    order_statistic_sample_size: {**CLAIM, "order": 1, "side": "lower"},
    two_sided_factor: {"n": 2, **CLAIM},
    two_sided_factor_known_sd: {"n": 1, **CLAIM},
    two_sided_factor_pooled: {"n": 1, "df": 1, **CLAIM},
    variable_acceptance: {"n": 2, "k": 2.0, "reliability": 0.9},
    variable_plan: RISKS,
    variable_sample_size: {"k_observed": 2.0, **CLAIM, "side": "lower"},
    weibull_interval: VALUES,
}
BAD = {"values": [1.0, "x"], "groups": [[1.0, 2.0]], "side": "left"}
CASES = [(function, name) for function, arguments in GOOD.items() for name in arguments]
# the parameters of a fraction are refused as one, those of a count as one; any other number is refused when not finite
COUNTS = {"n", "df", "failures", "order", "lot_size"}
NUMBERS = {"mean", "lower", "upper", "k", "k_observed"}


@pytest.mark.parametrize("function", [pytest.param(function, id=function.__name__) for function in GOOD])
def test_the_smallest_permitted_arguments_are_answered(function):
    function(**GOOD[function])


@pytest.mark.parametrize(
    ("function", "name"), [pytest.param(function, name, id=f"{function.__name__}-{name}") for function, name in CASES]
)
def test_the_argument_at_fault_is_named(function, name):
    bad = BAD.get(name, float("nan") if name in NUMBERS else -1)
    with pytest.raises(ValueError, match=rf"^{name} must "):
        function(**(GOOD[function] | {name: bad}))


@pytest.mark.parametrize(
    ("function", "name"),
    [pytest.param(function, name, id=f"{function.__name__}-{name}") for function, name in CASES if name in COUNTS],
)
def test_one_below_the_smallest_count_is_refused(function, name):
    with pytest.raises(ValueError, match=rf"^{name} must be a whole number "):
        function(**(GOOD[function] | {name: GOOD[function][name] - 1}))


@pytest.mark.parametrize("function", [finite_lot_reliability, finite_lot_sample_size])
def test_lots_beyond_a_million_are_refused(function):
    with pytest.raises(ValueError, match=r"^lot_size must be a whole number from 1 to 1000000; got 1000001$"):
        function(**(GOOD[function] | {"lot_size": 1_000_001}))


@pytest.mark.parametrize("function", [attribute_confidence, attribute_reliability, finite_lot_reliability])
def test_more_failures_than_specimens_are_refused(function):
    with pytest.raises(ValueError, match=r"^failures must be a whole number from 0 to 1; got 2$"):
        function(**(GOOD[function] | {"failures": 2}))
