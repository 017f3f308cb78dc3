"""Normal tolerance intervals and achieved reliability against published cases and their own definition."""

from __future__ import annotations

import csv
import statistics
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from reportgen.stats import (
    achieved_reliability,
    common_sd_intervals,
    normal_interval,
    one_sided_factor,
    one_sided_factor_pooled,
    one_sided_reliabilities,
    two_sided_factor,
    two_sided_factor_pooled,
)

REFERENCE = Path(__file__).parents[1] / "reference"
SEAL_STRENGTH = (16.26, 19.68, 15.73, 18.62, 17.43, 18.78, 17.36)


def rows(name):
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    assert table, name
    return table


def samples(name, key):
    collected = {}
    for row in rows(name):
        collected.setdefault(row[key], []).append(float(row["value"]))
    return collected


BASIS_DATA = samples("basis_data.csv", "dataset")


@pytest.mark.parametrize(
    "row",
    [
        pytest.param(row, id=f"{row['case_id']}-{row['dataset']}-{row['basis']}")
        for row in rows("basis_values.csv")
        if row["method"] == "normal"
    ],
)
def test_lower_bound_basis_values(row):
    # R 4.2.2, own high-precision code and cmstatr 0.9.1; 12 digits
    interval = normal_interval(
        BASIS_DATA[row["dataset"]], confidence=float(row["confidence"]), coverage=float(row["coverage"]), side="lower"
    )
    assert interval.lower == pytest.approx(float(row["value"]), rel=1e-11, abs=0)
    assert interval.k == pytest.approx(float(row["factor"]), rel=1e-12, abs=0)
    assert interval.upper is None


def test_mean_and_sd_nist_ehandbook_7_2_6_3():
    source = tomllib.loads((REFERENCE / "published/nist_ehb_7_2_6_3_tolerance_normal.toml").read_text(encoding="utf-8"))
    interval = normal_interval(source["data"]["resistivity_ohm_cm"], confidence=0.99, coverage=0.9, side="both")
    assert interval.n == 25
    assert interval.mean == pytest.approx(97.07, rel=0, abs=5e-3)
    assert interval.sd == pytest.approx(0.0268, rel=0, abs=5e-5)


def test_b_basis_of_the_mil_hdbk_17_example_data():
    # VANGEL31.DAT, 38 tensile strengths; the value was computed for the reference set, no printed one was found
    source = tomllib.loads((REFERENCE / "published/mil17_vangel31_tape_tensile.toml").read_text(encoding="utf-8"))
    interval = normal_interval(source["data"]["strength_ksi"], confidence=0.95, coverage=0.90, side="lower")
    assert interval.lower == pytest.approx(153.987, rel=0, abs=5e-4)


def test_interval_repeats_what_it_was_asked_and_found():
    interval = normal_interval(SEAL_STRENGTH, confidence=0.95, coverage=0.90, side="both")
    assert (interval.n, interval.confidence, interval.coverage, interval.side) == (7, 0.95, 0.90, "both")
    assert interval.mean == pytest.approx(17.694285714285714, rel=1e-15)
    assert interval.sd == pytest.approx(statistics.stdev(SEAL_STRENGTH), rel=1e-14)
    assert interval.k == two_sided_factor(7, confidence=0.95, coverage=0.90)
    assert interval.lower == interval.mean - interval.k * interval.sd
    assert interval.upper == interval.mean + interval.k * interval.sd
    assert interval.method == "normal, exact two-sided factor"
    assert interval.achieved_confidence is None


@pytest.mark.parametrize("side", ["lower", "upper"])
def test_one_sided_interval_is_open_on_the_other_side(side):
    interval = normal_interval(SEAL_STRENGTH, confidence=0.95, coverage=0.90, side=side)
    assert interval.k == one_sided_factor(7, confidence=0.95, coverage=0.90)
    assert interval.method == "normal, exact one-sided factor (noncentral t)"
    expected = {
        "lower": (interval.mean - interval.k * interval.sd, None),
        "upper": (None, interval.mean + interval.k * interval.sd),
    }
    assert (interval.lower, interval.upper) == expected[side]


@pytest.mark.parametrize(
    ("values", "message"),
    [
        pytest.param([5.0], r"^values must hold at least 2 numbers; got 1", id="one-value"),
        pytest.param(
            [5.0, 5.0, 5.0], r"^values must not all be equal; got 3 times 5.0 \(the spread is below", id="equal"
        ),
        pytest.param([5.0, float("nan")], r"^values must be finite", id="nan"),
    ],
)
def test_normal_interval_refuses(values, message):
    with pytest.raises(ValueError, match=message):
        normal_interval(values, confidence=0.95, coverage=0.90, side="lower")


def test_normal_interval_refuses_an_unknown_side():
    with pytest.raises(ValueError, match=r"^side must be one of"):
        normal_interval(SEAL_STRENGTH, confidence=0.95, coverage=0.90, side="two")


def test_common_sd_intervals_pool_the_spread_and_keep_the_means():
    lots = ([10.0, 12.0], [20.0, 21.0, 25.0], [30.0])
    # sums of squares 2 + 14 + 0 over 1 + 2 + 0 degrees of freedom
    first, second, third = common_sd_intervals(lots, confidence=0.95, coverage=0.90, side="lower")
    for interval, mean, n in ((first, 11.0, 2), (second, 22.0, 3), (third, 30.0, 1)):
        assert (interval.mean, interval.n) == (mean, n)
        assert interval.sd == pytest.approx(np.sqrt(16.0 / 3.0), rel=1e-15)
        assert interval.k == one_sided_factor_pooled(n, df=3, confidence=0.95, coverage=0.90)
        assert interval.lower == interval.mean - interval.k * interval.sd
        assert interval.upper is None
        assert interval.parameters == (("df", 3.0),)
    both = common_sd_intervals(lots, confidence=0.95, coverage=0.90, side="both")[1]
    assert both.k == two_sided_factor_pooled(3, df=3, confidence=0.95, coverage=0.90)
    assert both.upper == both.mean + both.k * both.sd


def test_common_sd_intervals_refuse_lots_without_spread():
    with pytest.raises(ValueError, match=r"^groups must include a lot with at least 2 numbers; all have 1$"):
        common_sd_intervals([[1.0], [2.0]], confidence=0.95, coverage=0.90, side="lower")
    with pytest.raises(ValueError, match=r"^the pooled standard deviation of groups must be above 0; got 0.0$"):
        common_sd_intervals([[1.0, 1.0], [2.0, 2.0]], confidence=0.95, coverage=0.90, side="lower")


def limits(row):
    return {
        "confidence": float(row["confidence"]),
        "lower": float(row["lsl"]) if row["lsl"] else None,
        "upper": float(row["usl"]) if row["usl"] else None,
    }


def test_reliabilities_of_many_samples_at_once_multi_precision():
    """The same 50-digit cases, and cases far out, where each is found by itself."""
    one_sided = [row for row in rows("normal_achieved_reliability.csv") if not (row["lsl"] and row["usl"])]
    assert len(one_sided) > 10
    clear = [
        (float(row["mean"]) - float(row["lsl"] or row["usl"])) * (1 if row["lsl"] else -1) / float(row["sd"])
        for row in one_sided
    ]
    sizes, levels = [int(row["n"]) for row in one_sided], [float(row["confidence"]) for row in one_sided]
    found = one_sided_reliabilities(
        [*sizes, 30, 30, 2], [*clear, 1e6, -1e6, 0.0], confidence=[*levels, 0.95, 0.95, 0.5]
    )
    assert found[-3:] == pytest.approx([1.0, 0.0, 0.5], abs=1e-12)
    assert found[:-3] == pytest.approx([float(row["reliability"]) for row in one_sided], rel=1e-13, abs=0)
    rest = [float(row["one_minus_reliability"]) for row in one_sided]
    assert 1 - found[:-3] == pytest.approx(rest, rel=1e-12, abs=2.3e-16)
    assert one_sided_reliabilities([], [], confidence=[]).size == 0


@pytest.mark.parametrize(
    "row", [pytest.param(row, id=row["case_id"]) for row in rows("normal_achieved_reliability.csv")]
)
def test_achieved_reliability_multi_precision(row):
    ours = achieved_reliability(int(row["n"]), float(row["mean"]), float(row["sd"]), **limits(row))
    assert ours == pytest.approx(float(row["reliability"]), rel=1e-13, abs=0)
    # what a float near 1 can show of the rest is its spacing, 1.1e-16, beside the 12 digits
    assert 1 - ours == pytest.approx(float(row["one_minus_reliability"]), rel=1e-12, abs=2.3e-16)


def test_achieved_reliability_of_a_mean_on_or_outside_one_of_two_limits_is_zero():
    assert achieved_reliability(10, 5.0, 1.0, confidence=0.95, lower=5.0, upper=20.0) == 0.0
    assert achieved_reliability(10, 21.0, 1.0, confidence=0.95, lower=5.0, upper=20.0) == 0.0


def test_achieved_reliability_next_to_one_half():
    # expanded by hand: with n = 2, P((Z + sqrt(2) z) / |W| <= sqrt(2) k) = 1/2 to first order at z = k E|W|, so the
    # coverage is 1/2 + phi(0) k sqrt(2 / pi) = 1/2 + k / pi
    shown = achieved_reliability(2, 0.0, 1.0, confidence=0.5, lower=-1e-9)
    assert shown - 0.5 == pytest.approx(1e-9 / np.pi, rel=1e-6)


def test_achieved_reliability_far_from_the_limits_is_one_and_far_beyond_them_zero():
    assert achieved_reliability(30, 1e6, 1.0, confidence=0.95, lower=0.0) == 1.0
    assert achieved_reliability(30, 1e6, 1.0, confidence=0.95, lower=0.0, upper=2e6) == 1.0
    assert achieved_reliability(30, -1e6, 1.0, confidence=0.95, lower=0.0) == 0.0
    assert achieved_reliability(2, 1e-12, 1.0, confidence=0.95, lower=0.0, upper=1.0) == 0.0


def test_achieved_reliability_uses_the_nearer_of_two_limits():
    near = achieved_reliability(20, 10.0, 1.0, confidence=0.95, lower=6.0, upper=14.0)
    assert achieved_reliability(20, 10.0, 1.0, confidence=0.95, lower=6.0, upper=99.0) == near
    assert achieved_reliability(20, 10.0, 1.0, confidence=0.95, lower=-99.0, upper=14.0) == near


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        pytest.param({"n": 1}, r"^n must be a whole number of at least 2", id="n"),
        pytest.param({"sd": 0.0}, r"^sd must be above 0; got 0.0$", id="sd"),
        pytest.param({"mean": float("inf")}, r"^mean must be finite", id="mean"),
        pytest.param({"confidence": 1.0}, r"^confidence must be a fraction", id="confidence"),
        pytest.param({"lower": None}, r"^at least one of lower and upper must be given; both are None$", id="no-limit"),
        pytest.param({"upper": 4.0}, r"^lower must be below upper; got lower=4.0, upper=4.0$", id="crossed"),
        pytest.param({"lower": float("nan")}, r"^lower must be finite", id="lower"),
        pytest.param({"upper": "9"}, r"^upper must be numbers", id="upper"),
    ],
)
def test_achieved_reliability_refuses(arguments, message):
    good = {"n": 10, "mean": 5.0, "sd": 1.0, "confidence": 0.95, "lower": 4.0}
    with pytest.raises(ValueError, match=message):
        achieved_reliability(**(good | arguments))


sizes = st.integers(2, 10_000)
confidences = st.floats(0.5, 0.9999)
coverages = st.floats(0.5, 0.99999)


@given(sizes, confidences, coverages)
def test_achieved_reliability_inverts_the_one_sided_factor(n, confidence, coverage):
    k = one_sided_factor(n, confidence=confidence, coverage=coverage)
    assert achieved_reliability(n, k, 1.0, confidence=confidence, lower=0.0) == pytest.approx(coverage, rel=1e-11)
    assert achieved_reliability(n, -k, 1.0, confidence=confidence, upper=0.0) == pytest.approx(coverage, rel=1e-11)


@given(sizes, confidences, coverages)
def test_achieved_reliability_inverts_the_two_sided_factor(n, confidence, coverage):
    k = two_sided_factor(n, confidence=confidence, coverage=coverage)
    assert achieved_reliability(n, 0.0, 1.0, confidence=confidence, lower=-k, upper=k) == pytest.approx(
        coverage, rel=1e-11
    )


@pytest.mark.parametrize("coverage", [0.01, 0.2, 0.45])
@pytest.mark.parametrize("n", [2, 3, 10, 1000])
def test_achieved_reliability_inverts_the_factors_of_small_coverages(n, coverage):
    # where half or more may lie outside, the integral needs its range split
    k = two_sided_factor(n, confidence=0.75, coverage=coverage)
    both = achieved_reliability(n, 0.0, 1.0, confidence=0.75, lower=-k, upper=k)
    assert both == pytest.approx(coverage, rel=1e-12)
    k = one_sided_factor(n, confidence=0.75, coverage=coverage)
    assert achieved_reliability(n, k, 1.0, confidence=0.75, lower=0.0) == pytest.approx(coverage, rel=1e-12)


@pytest.mark.parametrize("k", [-1000.0, -5.0, -0.1, 0.0, 1e-9, 0.01, 1.0, 10.0, 1e4, 1e8])
@pytest.mark.parametrize("n", [2, 3, 100, 10_000])
def test_achieved_reliability_is_answered_everywhere_and_falls_with_confidence(n, k):
    one = [achieved_reliability(n, k, 1.0, confidence=c, lower=0.0) for c in (0.01, 0.5, 0.9, 0.9999)]
    two = [achieved_reliability(n, k, 1.0, confidence=c, lower=0.0, upper=1e9) for c in (0.01, 0.5, 0.9, 0.9999)]
    for reliabilities in (one, two):
        assert all(0.0 <= value <= 1.0 for value in reliabilities)
        assert reliabilities == sorted(reliabilities, reverse=True)
    assert all(below <= above for below, above in zip(two, one, strict=True))


forces = st.lists(st.floats(1.0, 100.0), min_size=2, max_size=40)
sides = st.sampled_from(["lower", "upper", "both"])


@given(forces, sides, st.floats(-1000.0, 1000.0), st.floats(0.01, 1000.0))
def test_interval_follows_a_shift_and_a_change_of_unit(values, side, shift, scale):
    assume(np.std(values) > 1e-3)
    asked = {"confidence": 0.95, "coverage": 0.9, "side": side}
    plain = normal_interval(values, **asked)
    moved = normal_interval(scale * np.array(values) + shift, **asked)
    size = scale * 100.0 * plain.k + abs(shift)
    for bound in ("lower", "upper"):
        before, after = getattr(plain, bound), getattr(moved, bound)
        assert (before is None) == (after is None)
        if before is not None:
            assert after == pytest.approx(scale * before + shift, rel=1e-9, abs=1e-11 * size)


@given(forces, sides, st.randoms(use_true_random=False))
def test_order_of_the_specimens_does_not_matter(values, side, random):
    assume(np.std(values) > 1e-3)
    shuffled = random.sample(values, len(values))
    first = normal_interval(values, confidence=0.95, coverage=0.9, side=side)
    second = normal_interval(shuffled, confidence=0.95, coverage=0.9, side=side)
    for bound in ("lower", "upper"):
        before, after = getattr(first, bound), getattr(second, bound)
        assert (before is None and after is None) or after == pytest.approx(before, rel=1e-9, abs=1e-9)


@given(forces)
def test_upper_bound_mirrors_the_lower_bound(values):
    assume(np.std(values) > 1e-3)
    lower = normal_interval(values, confidence=0.95, coverage=0.9, side="lower").lower
    mirrored = normal_interval([-value for value in values], confidence=0.95, coverage=0.9, side="upper").upper
    assert mirrored == -lower
