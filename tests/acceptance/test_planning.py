"""Sample sizes and their power: against printed plans, counting by hand, and simulation."""

from __future__ import annotations

import numpy as np
import pytest

from reportgen.acceptance.planning import attribute_plan_of, variable_plan_of
from reportgen.stats import one_sided_factor, two_sided_factor, variable_acceptance
from reportgen.stats.two_sided_power import two_sided_acceptance

CLAIM = {"confidence": 0.95, "reliability": 0.95}


def test_attribute_rows_are_the_exact_binomial_plans() -> None:
    # 59, 93, 124, 153, 181, 208: exact binomial, 95/95 (tests/reference/attribute.csv, min_n)
    plan = attribute_plan_of(**CLAIM, expected_reliability=0.999, power=0.9)
    assert [row.n for row in plan.rows] == [59, 93, 124, 153, 181, 208]
    assert plan.chosen is not None
    assert (plan.chosen.n, plan.chosen.failures) == (59, 0)
    assert plan.chosen.power == pytest.approx(0.999**59, rel=1e-12)


def test_attribute_plan_takes_failures_in_only_where_the_power_asks_for_it() -> None:
    plan = attribute_plan_of(**CLAIM, expected_reliability=0.99, power=0.9)
    assert plan.chosen is not None
    assert plan.chosen.failures == 3
    assert all(row.power < 0.9 for row in plan.rows if row.failures is not None and row.failures < 3)
    none = attribute_plan_of(**CLAIM, expected_reliability=0.951, power=0.9)
    assert none.chosen is None


def test_repeating_the_zero_failure_plan_shows_less_than_it_says_and_the_two_stage_plan_keeps_its_word() -> None:
    plan = attribute_plan_of(**CLAIM, expected_reliability=0.99, power=0.9)
    assert plan.naive is not None
    assert plan.two_stage is not None
    assert plan.naive.confidence < 0.95 < plan.two_stage.confidence + 1e-12
    for stages in (plan.naive, plan.two_stage):
        drawn = np.random.default_rng(11)
        first = drawn.binomial(stages.first_n, 0.05, 200_000)
        second = drawn.binomial(stages.second_n, 0.05, 200_000)
        passed = (first == 0) | ((first == 1) & (second == 0))
        assert 1 - passed.mean() == pytest.approx(stages.confidence, abs=0.002)


def test_variable_plan_is_the_smallest_and_its_power_is_that_of_simulation() -> None:
    plan = variable_plan_of(**CLAIM, below=3.0, above=None, power=0.9)
    assert plan.chosen is not None
    n, k = plan.chosen.n, plan.chosen.k
    assert k == one_sided_factor(n, confidence=0.95, coverage=0.95)
    smaller = one_sided_factor(n - 1, confidence=0.95, coverage=0.95)
    share = 0.9986501019683699  # Phi(3), standard tables
    assert variable_acceptance(n - 1, smaller, reliability=share) < 0.9 <= plan.chosen.power
    values = np.random.default_rng(5).normal(3.0, 1.0, (100_000, n))
    passed = values.mean(axis=1) - k * values.std(axis=1, ddof=1) >= 0
    assert passed.mean() == pytest.approx(plan.chosen.power, abs=0.004)


@pytest.mark.parametrize(("below", "above", "n"), [(4.0, 4.0, 15), (3.5, 6.0, 20), (4.5, 3.8, 8), (-1.0, 9.0, 10)])
def test_two_sided_power_is_that_of_simulation(below: float, above: float, n: int) -> None:
    k = float(two_sided_factor(n, confidence=0.9, coverage=0.95))
    values = np.random.default_rng(9).normal(0.0, 1.0, (200_000, n))
    mean, spread = values.mean(axis=1), values.std(axis=1, ddof=1)
    passed = (mean - k * spread >= -below) & (mean + k * spread <= above)
    assert two_sided_acceptance(n, k, below=below, above=above) == pytest.approx(passed.mean(), abs=0.004)


def test_two_sided_power_with_one_limit_far_away_is_the_one_sided_one() -> None:
    # the noncentral t of the one-sided chance is a value that the integral does not know
    expected = variable_acceptance(12, 2.5, reliability=0.9986501019683699)
    assert two_sided_acceptance(12, 2.5, below=3.0, above=60.0) == pytest.approx(expected, abs=2e-5)


def test_no_plan_where_the_expected_margin_is_too_small() -> None:
    plan = variable_plan_of(**CLAIM, below=1.6, above=None, power=0.9)
    assert plan.chosen is None
    assert all(row.power < 0.5 for row in plan.rows)


@pytest.mark.parametrize(("below", "above", "power"), [(None, None, 0.9), (3.0, None, 90)])
def test_unusable_arguments_are_told(below: float | None, above: float | None, power: float) -> None:
    with pytest.raises(ValueError, match=r"below and above|power must be"):
        variable_plan_of(**CLAIM, below=below, above=above, power=power)
