"""Sample sizes against printed plans, inversion of the factors and brute force."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from reportgen.stats import (
    attribute_acceptance,
    attribute_plan,
    one_sided_factor,
    one_sided_factor_known_sd,
    two_sided_factor,
    variable_acceptance,
    variable_plan,
    variable_sample_size,
)

REFERENCE = Path(__file__).parents[1] / "reference"
PRINTED = {
    check["quantity"]: check["printed"]
    for check in tomllib.loads(
        (REFERENCE / "published/kiermeier_2008_acceptance_plans.toml").read_text(encoding="utf-8")
    )["check"]
}
# fraction defective 0.05 accepted with 0.95 at least, 0.15 with 0.075 at most
RISKS = {"good_reliability": 0.95, "good_acceptance": 0.95, "poor_reliability": 0.85, "poor_acceptance": 0.075}


def test_attribute_plan_kiermeier_2008():
    plan = attribute_plan(**RISKS)
    assert (plan.n, plan.failures) == (int(PRINTED["n attributes"]), int(PRINTED["c attributes"]))


def test_variable_plan_kiermeier_2008():
    assert variable_plan(**RISKS).n == int(PRINTED["n variables, sigma unknown"])


def test_variable_plan_of_known_sd_kiermeier_2008():
    plan = variable_plan(**RISKS, is_sd_known=True)
    assert plan.n == int(PRINTED["n variables, sigma known"])
    # the paper takes k from the good point; ours, from the poor point, is the smaller of the two that both hold
    from_good_point = one_sided_factor_known_sd(26, confidence=0.05, coverage=0.95)
    assert from_good_point == pytest.approx(float(PRINTED["k variables, sigma known"]), rel=0, abs=5e-7)
    assert plan.k == one_sided_factor_known_sd(26, confidence=1 - 0.075, coverage=0.85)
    assert plan.k <= from_good_point


def test_variable_plan_holds_both_risks_and_one_fewer_does_not():
    plan = variable_plan(**RISKS)
    assert variable_acceptance(plan.n, plan.k, reliability=0.95) >= 0.95
    assert variable_acceptance(plan.n, plan.k, reliability=0.85) == pytest.approx(0.075, rel=1e-10)
    fewer = one_sided_factor(plan.n - 1, confidence=1 - 0.075, coverage=0.85)
    assert variable_acceptance(plan.n - 1, fewer, reliability=0.95) < 0.95


def test_attribute_plan_holds_both_risks_and_fewer_failures_do_not():
    plan = attribute_plan(**RISKS)
    assert attribute_acceptance(plan.n, plan.failures, reliability=0.95) >= 0.95
    assert attribute_acceptance(plan.n, plan.failures, reliability=0.85) <= 0.075
    assert attribute_acceptance(plan.n - 1, plan.failures, reliability=0.85) > 0.075


def test_acceptance_at_the_claimed_reliability_is_the_error_of_the_factor():
    # a population that just fails the claim passes with 1 - confidence
    k = one_sided_factor(15, confidence=0.95, coverage=0.9)
    assert variable_acceptance(15, k, reliability=0.9) == pytest.approx(0.05, rel=1e-11)
    curve = variable_acceptance(15, k, reliability=np.array([0.9, 0.95, 0.99, 0.999]))
    assert curve.shape == (4,)
    assert np.all(np.diff(curve) > 0)


def test_variable_acceptance_by_simulation():
    random = np.random.default_rng(8)
    draws = random.standard_normal((200_000, 6))
    margin = (draws.mean(axis=1) + 1.6448536269514722) / draws.std(axis=1, ddof=1)  # limit at the 5 % point
    share = np.mean(margin >= 2.0)
    assert variable_acceptance(6, 2.0, reliability=0.95) == pytest.approx(share, rel=0, abs=0.004)


@pytest.mark.parametrize(
    ("side", "factor", "limit"),
    [("lower", one_sided_factor, 1.2815515655446004), ("both", two_sided_factor, 1.6448536269514722)],
)
def test_variable_sample_size_is_none_at_the_limit_of_the_factor(side, factor, limit):
    asked = {"confidence": 0.95, "coverage": 0.9, "side": side}
    assert variable_sample_size(k_observed=limit, **asked) is None
    assert variable_sample_size(k_observed=limit + 1e-4, **asked) is None  # more than a million
    enough = variable_sample_size(k_observed=limit + 0.05, **asked)
    assert factor(enough, confidence=0.95, coverage=0.9) <= limit + 0.05
    assert factor(enough - 1, confidence=0.95, coverage=0.9) > limit + 0.05


def test_variable_sample_size_of_a_wide_margin_is_two_and_of_a_mean_beyond_the_limit_none():
    assert variable_sample_size(k_observed=1e6, confidence=0.95, coverage=0.9, side="upper") == 2
    assert variable_sample_size(k_observed=-1.0, confidence=0.95, coverage=0.9, side="upper") is None


def test_variable_sample_size_below_even_odds_may_meet_a_margin_below_the_limit():
    # with confidence 0.05 the factor comes up to z from below: 2 values are enough
    k = one_sided_factor(2, confidence=0.05, coverage=0.9)
    assert variable_sample_size(k_observed=k + 1e-9, confidence=0.05, coverage=0.9, side="lower") == 2


@pytest.mark.parametrize(
    ("change", "message"),
    [
        pytest.param({"poor_reliability": 0.95}, r"^poor_reliability must be below good_reliability", id="equal"),
        pytest.param(
            {"poor_acceptance": 0.95}, r"^poor_acceptance must be below good_acceptance; got 0.95 and 0.95", id="r"
        ),
        pytest.param({"good_acceptance": 1.0}, r"^good_acceptance must be a fraction", id="good"),
        pytest.param({"poor_acceptance": 0.0}, r"^poor_acceptance must be a fraction", id="poor"),
        pytest.param({"good_reliability": 99}, r"^good_reliability must be .* 0.99\)$", id="percent"),
    ],
)
@pytest.mark.parametrize("plan", [attribute_plan, variable_plan])
def test_plans_refuse(plan, change, message):
    with pytest.raises(ValueError, match=message):
        plan(**(RISKS | change))


def test_plans_refuse_what_no_sample_tells_apart():
    close = RISKS | {"good_reliability": 0.85 + 1e-5}
    with pytest.raises(ValueError, match=r"lie too close: no plan with 1000000 or fewer tells them apart$"):
        variable_plan(**close)
    with pytest.raises(
        ValueError, match=r"^good_reliability .* lie too close: no plan with 1000 failures or fewer tells"
    ):
        attribute_plan(**close)


def test_acceptance_refuses_one_specimen():
    with pytest.raises(ValueError, match=r"^n must be a whole number of at least 2; got 1.0$"):
        variable_acceptance(1, 2.0, reliability=0.9)


@settings(max_examples=40, deadline=None)
@given(st.floats(0.5, 0.999), st.floats(0.5, 0.999), st.floats(0.02, 5.0), st.sampled_from(["lower", "upper", "both"]))
def test_variable_sample_size_is_the_smallest(confidence, coverage, margin, side):
    factor = two_sided_factor if side == "both" else one_sided_factor
    k = factor(10_000, confidence=confidence, coverage=coverage) + margin
    n = variable_sample_size(k_observed=k, confidence=confidence, coverage=coverage, side=side)
    assert factor(n, confidence=confidence, coverage=coverage) <= k
    assume(n > 2)
    assert factor(n - 1, confidence=confidence, coverage=coverage) > k
