"""Tolerance bounds with lot-to-lot variation: limits that are known exactly, the handbook's method, brute force."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from reportgen.stats import between_lot_interval, normal_interval, one_sided_factor

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(name):
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    assert table, name
    return table


LOTS = {}
for _row in rows("basis_data.csv"):
    LOTS.setdefault(_row["dataset"], {}).setdefault(_row["batch"], []).append(float(_row["value"]))


def cmh17_single_point_bound(lots, coverage):
    """CMH-17-1G vol. 1 section 8.3.5.2 (Vangel 1992), its approximation for three batches or more, 95 % confidence."""
    sizes, means = np.array([len(lot) for lot in lots]), np.array([np.mean(lot) for lot in lots])
    n, a = sizes.sum(), len(lots)
    within = sum(((np.array(lot) - np.mean(lot)) ** 2).sum() for lot in lots) / (n - a)
    grand = np.concatenate(lots).mean()
    between = (sizes * (means - grand) ** 2).sum() / (a - 1)
    typical = (n - (sizes**2).sum() / n) / (a - 1)
    k0, k1 = (one_sided_factor(int(count), confidence=0.95, coverage=coverage) for count in (n, a))
    ratio = max(between / within, 1.0)
    weight = np.sqrt(ratio / (ratio + typical - 1))
    factor = (k0 - k1 / np.sqrt(typical) + (k1 - k0) * weight) / (1 - 1 / np.sqrt(typical))
    sd = np.sqrt(between / typical + (typical - 1) / typical * within)
    return grand - factor * sd


@pytest.mark.parametrize(
    "row",
    [
        pytest.param(row, id=f"{row['case_id']}-{row['dataset']}-{row['basis']}")
        for row in rows("basis_values.csv")
        if row["method"] == "anova"
    ],
)
def test_lower_bound_stands_on_the_safe_side_of_cmh17(row):
    # The handbook's single-point method is another approximation of the same bound: for three lots its value lies above
    # ours (by less than one standard deviation), because it takes lots that differ little as not differing. The formula
    # as written here meets the values of R and cmstatr, and the two printed ones (34.6, 63.2).
    lots = list(LOTS[row["dataset"]].values())
    handbook = cmh17_single_point_bound(lots, float(row["coverage"]))
    assert handbook == pytest.approx(float(row["value"]), rel=1e-10, abs=0)
    if row["published"]:
        assert float(row["value"]) == pytest.approx(float(row["published"]), rel=0, abs=0.05)
    ours = between_lot_interval(lots, confidence=0.95, coverage=float(row["coverage"]), side="lower")
    assert float(row["value"]) - 1.2 * ours.sd < ours.lower < float(row["value"])


def test_variance_components_davies_dyestuff():
    # Davies and Goldsmith 1972, table 6.3: between batches 1764, within 2451
    source = tomllib.loads(
        (REFERENCE / "published/davies_dyestuff_variance_components.toml").read_text(encoding="utf-8")
    )
    printed = {check["quantity"]: float(check["printed"]) for check in source["check"]}
    batches = {}
    for batch, value in zip(source["data"]["batch"], source["data"]["yield"], strict=True):
        batches.setdefault(batch, []).append(value)
    interval = between_lot_interval(list(batches.values()), confidence=0.95, coverage=0.9, side="lower")
    found = dict(interval.parameters)
    assert found["lots"] == 6.0
    assert found["variance_between"] == pytest.approx(printed["REML batch variance"], rel=0, abs=0.5)
    assert found["variance_within"] == pytest.approx(printed["REML residual variance"], rel=0, abs=0.5)
    assert interval.mean == printed["mean"]
    assert interval.sd == pytest.approx(np.sqrt(1764.05 + 2451.25), rel=1e-12)


def by_drawing(lots, confidence, coverage, draws=2_000_000):
    """The same generalized confidence limit by drawing its variables instead of integrating."""
    random = np.random.default_rng(20)
    sizes, means = np.array([len(lot) for lot in lots]), np.array([np.mean(lot) for lot in lots])
    a, n = len(lots), sizes.sum()
    of_means = ((means - means.mean()) ** 2).sum() / random.chisquare(a - 1, draws)
    within = sum(((np.array(lot) - np.mean(lot)) ** 2).sum() for lot in lots) / random.chisquare(n - a, draws)
    z = {0.9: 1.2815515655446004, 0.99: 2.3263478740408408}[coverage]
    total = np.sqrt(of_means + (1 - np.mean(1 / sizes)) * within)
    return np.quantile(means.mean() + random.standard_normal(draws) * np.sqrt(of_means / a) - z * total, 1 - confidence)


@pytest.mark.parametrize("coverage", [0.9, 0.99])
@pytest.mark.parametrize("dataset", ["B01_carbon_fabric_WT_ETW", "B05_cmh17_8_3_11_1_1_ETW"])
def test_integration_agrees_with_drawing(dataset, coverage):
    # B05 has lots of unequal size; the drawn quantile has a standard error of about 0.2 % of the reach
    lots = list(LOTS[dataset].values())
    interval = between_lot_interval(lots, confidence=0.95, coverage=coverage, side="lower")
    drawn = by_drawing(lots, 0.95, coverage)
    assert interval.lower == pytest.approx(drawn, rel=0, abs=0.01 * (interval.mean - interval.lower))


def test_without_spread_within_lots_it_is_the_normal_interval_of_the_lot_means():
    interval = between_lot_interval([[1, 1, 1], [2, 2, 2], [4, 4, 4]], confidence=0.95, coverage=0.9, side="lower")
    of_means = normal_interval([1, 2, 4], confidence=0.95, coverage=0.9, side="lower")
    assert interval.lower == pytest.approx(of_means.lower, rel=1e-9)
    assert interval.k == pytest.approx(of_means.k, rel=1e-9)


def test_lot_means_equal_to_the_last_digit_still_give_a_bound():
    # the spread within lots is then all there is; the mean counts as known, so the bound is that of its 28 degrees
    lots = [[*range(10)]] * 3
    interval = between_lot_interval(lots, confidence=0.95, coverage=0.9, side="lower")
    assert dict(interval.parameters)["variance_between"] == 0.0
    assert normal_interval(np.concatenate(lots), confidence=0.95, coverage=0.9, side="lower").lower > interval.lower - 3
    assert interval.lower < 4.5


def test_both_sides_are_two_one_sided_bounds_at_half_the_error():
    lots = list(LOTS["B06_cmh17_8_3_11_1_1_ETW2"].values())
    both = between_lot_interval(lots, confidence=0.9, coverage=0.8, side="both")
    lower = between_lot_interval(lots, confidence=0.95, coverage=0.9, side="lower")
    upper = between_lot_interval(lots, confidence=0.95, coverage=0.9, side="upper")
    assert (both.lower, both.upper) == (lower.lower, upper.upper)
    assert (lower.upper, upper.lower) == (None, None)
    assert both.lower == pytest.approx(both.mean - both.k * both.sd, rel=1e-14)
    assert both.upper == pytest.approx(both.mean + both.k * both.sd, rel=1e-14)
    assert both.method == "one-way random model, two generalized confidence limits joined, conservative"
    assert lower.method == "one-way random model, generalized confidence limit, approximate"
    assert (both.n, both.confidence, both.coverage, both.side) == (20, 0.9, 0.8, "both")


def test_mean_is_of_lot_means_and_sd_carries_both_variances():
    lots = [[1.0, 3.0], [10.0, 11.0, 12.0, 15.0]]
    interval = between_lot_interval(lots, confidence=0.9, coverage=0.9, side="lower")
    within = (2.0 + 14.0) / 4
    assert interval.mean == 7.0
    assert interval.n == 6
    # means 2 and 12: variance 50; mean of 1/n = (1/2 + 1/4)/2
    assert interval.sd == pytest.approx(np.sqrt(50 + (1 - 0.375) * within), rel=1e-14)
    found = dict(interval.parameters)
    assert found["variance_within"] == within
    # mean square between 400/3, typical size (6 - 20/6)/1
    assert found["variance_between"] == pytest.approx((2 * 4 / 6 * 100 - within) / (6 - 20 / 6), rel=1e-14)


def test_one_lot_of_one_value_among_larger_ones_is_used():
    with_it = between_lot_interval([[9.0, 10.0, 11.0], [9.5, 10.5], [12.0]], confidence=0.9, coverage=0.9, side="lower")
    assert with_it.n == 6
    assert np.isfinite(with_it.lower)


@pytest.mark.parametrize(
    ("groups", "message"),
    [
        pytest.param([[1.0, 2.0]], r"^groups must hold at least 2 lots; got 1$", id="one-lot"),
        pytest.param(
            [[1.0], [2.0], [3.0]], r"^groups must include a lot with at least 2 numbers; with one", id="single"
        ),
        pytest.param(
            [[4.0, 4.0], [4.0, 4.0]], r"^groups must not hold one value only; all 4 numbers are 4.0$", id="equal"
        ),
        pytest.param([[4.0, 5.0], []], r"^groups\[1\] must hold at least 1 numbers; got 0$", id="empty-lot"),
    ],
)
def test_refusals(groups, message):
    with pytest.raises(ValueError, match=message):
        between_lot_interval(groups, confidence=0.95, coverage=0.9, side="lower")


lots_of_lots = st.lists(st.lists(st.floats(1.0, 100.0), min_size=1, max_size=6), min_size=2, max_size=6)


@settings(max_examples=25, deadline=None)
@given(lots_of_lots, st.floats(-100.0, 100.0), st.floats(0.01, 100.0), st.randoms(use_true_random=False))
def test_a_shift_a_change_of_unit_and_of_order_carry_through(groups, shift, scale, random):
    assume(any(len(group) > 1 and np.ptp(group) > 1.0 for group in groups))
    asked = {"confidence": 0.9, "coverage": 0.9, "side": "lower"}
    plain = between_lot_interval(groups, **asked)
    shuffled = [random.sample(group, len(group)) for group in random.sample(groups, len(groups))]
    other = between_lot_interval([[scale * x + shift for x in group] for group in shuffled], **asked)
    reach = plain.mean - plain.lower
    assert other.lower == pytest.approx(scale * plain.lower + shift, rel=0, abs=1e-8 * (scale * (reach + 100) + 100))
