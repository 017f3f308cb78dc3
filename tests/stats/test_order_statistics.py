"""Distribution-free intervals and sample sizes against exact values, handbooks and their own definition."""

from __future__ import annotations

import csv
import re
import tomllib
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reportgen.stats import (
    order_statistic_confidence,
    order_statistic_coverage,
    order_statistic_interval,
    order_statistic_largest_order,
    order_statistic_sample_size,
)

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(name):
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    assert table, name
    return table


def checks(name):
    source = tomllib.loads((REFERENCE / "published" / f"{name}.toml").read_text(encoding="utf-8"))
    return source["check"]


def half_unit(printed):
    return 0.5 * float(Decimal(1).scaleb(Decimal(printed).as_tuple().exponent))


def stated(inputs, name):
    return float(re.search(rf"\b{name}[ =]([0-9.]+)", inputs)[1])


def of_kind(kind):
    return [pytest.param(row, id=row["case_id"]) for row in rows("nonparametric.csv") if row["kind"] == kind]


def side_of(row):
    return "both" if row["side"] == "two_sided" else "lower"


@pytest.mark.parametrize("row", of_kind("min_n"))
def test_sample_size_rational_arithmetic(row):
    asked = {"coverage": float(row["coverage"]), "order": int(row["r"]), "side": side_of(row)}
    size = order_statistic_sample_size(confidence=float(row["confidence"]), **asked)
    assert size == int(row["value"])
    assert order_statistic_confidence(size, **asked) == pytest.approx(float(row["achieved_confidence"]), rel=1e-13)


@pytest.mark.parametrize("row", of_kind("achieved_confidence"))
def test_confidence_multi_precision(row):
    ours = order_statistic_confidence(
        int(row["n"]), coverage=float(row["coverage"]), order=int(row["r"]), side=side_of(row)
    )
    assert ours == pytest.approx(float(row["value"]), rel=1e-13, abs=0)


@pytest.mark.parametrize("row", of_kind("achieved_coverage"))
def test_coverage_multi_precision(row):
    ours = order_statistic_coverage(
        int(row["n"]), confidence=float(row["confidence"]), order=int(row["r"]), side=side_of(row)
    )
    assert ours == pytest.approx(float(row["value"]), rel=1e-13, abs=0)


@pytest.mark.parametrize("row", of_kind("max_order_rank"))
def test_largest_order_rational_arithmetic(row):
    asked = {"confidence": float(row["confidence"]), "coverage": float(row["coverage"])}
    for side in ("lower", "upper"):
        assert order_statistic_largest_order(int(row["n"]), **asked, side=side) == int(row["value"])


@pytest.mark.parametrize(
    "check",
    [
        pytest.param(check, id=check["inputs"])
        for check in checks("nist_ehb_7_2_6_4_tolerance_nonparametric")
        if check["quantity"] == "confidence that [min,max] covers p"
    ],
)
def test_confidence_nist_ehandbook_7_2_6_4(check):
    ours = order_statistic_confidence(25, coverage=stated(check["inputs"], "p"), side="both")
    assert ours == pytest.approx(float(check["printed"]), rel=0, abs=half_unit(check["printed"]))


@pytest.mark.parametrize(
    "check",
    [
        pytest.param(check, id=check["inputs"])
        for check in checks("nist_ehb_7_2_6_4_tolerance_nonparametric")
        if check["quantity"] == "sample size"
    ],
)
def test_sample_size_nist_ehandbook_7_2_6_4(check):
    # the page rounds up an approximation (45.57, 472.5); the exact sizes are the same two
    ours = order_statistic_sample_size(confidence=0.95, coverage=stated(check["inputs"], "p"), side="both")
    assert ours == int(check["printed"])


ENVSTATS = [
    check for check in checks("envstats_nonparametric_and_binomial") if "tolerance factor" not in check["quantity"]
]


def envstats(start):
    chosen = [check for check in ENVSTATS if check["quantity"].startswith(start)]
    assert chosen, start
    return [pytest.param(check, id=f"{check['quantity']}: {check['inputs']}") for check in chosen]


def envstats_side(check):
    return "both" if "two-sided" in check["quantity"] else "upper"


@pytest.mark.parametrize("check", envstats("sample size"))
def test_sample_size_envstats(check):
    asked = {"confidence": stated(check["inputs"], "confidence"), "coverage": stated(check["inputs"], "coverage")}
    if "r=" in check["inputs"]:  # from the r-th smallest to the largest: as many outside as one-sided order r + 1
        order = int(stated(check["inputs"], "r")) + 1
        ours = order_statistic_sample_size(**asked, order=order, side="upper")
    else:
        ours = order_statistic_sample_size(**asked, side=envstats_side(check))
    assert ours == int(check["printed"])


@pytest.mark.parametrize("check", envstats("confidence"))
def test_confidence_envstats(check):
    size, coverage = int(stated(check["inputs"], "n")), stated(check["inputs"], "coverage")
    ours = order_statistic_confidence(size, coverage=coverage, side=envstats_side(check))
    assert ours == pytest.approx(float(check["printed"]), rel=0, abs=half_unit(check["printed"]))


@pytest.mark.parametrize("check", envstats("coverage"))
def test_coverage_envstats(check):
    size, confidence = int(stated(check["inputs"], "n")), stated(check["inputs"], "confidence")
    ours = order_statistic_coverage(size, confidence=confidence, side=envstats_side(check))
    assert ours == pytest.approx(float(check["printed"]), rel=0, abs=half_unit(check["printed"]))


def test_upper_limit_and_coverage_epa_2009_example_17_4():
    # 24 copper values, the smaller ones only known to be below 5: an order statistic from above does not use them
    source = tomllib.loads(
        (REFERENCE / "published/epa2009_ex17_4_copper_nonparametric_utl.toml").read_text(encoding="utf-8")
    )
    coverage = order_statistic_coverage(24, confidence=0.95, side="upper")
    assert 100 * coverage == pytest.approx(88.26538, rel=0, abs=5e-6)
    interval = order_statistic_interval(source["data"]["copper_ppb"], confidence=0.95, coverage=0.88, side="upper")
    assert interval.upper == 9.2
    assert interval.lower is None


BASIS_DATA = {}
for _row in rows("basis_data.csv"):
    BASIS_DATA.setdefault(_row["dataset"], []).append(float(_row["value"]))


@pytest.mark.parametrize(
    "row",
    [
        pytest.param(row, id=row["case_id"])
        for row in rows("basis_values.csv")
        if row["method"] == "nonpara_large_sample"
    ],
)
def test_lower_bound_large_sample_basis_value(row):
    # cmstatr validation document, 61 values, B-basis: the third smallest
    interval = order_statistic_interval(BASIS_DATA[row["dataset"]], confidence=0.95, coverage=0.90, side="lower")
    assert interval.lower == float(row["value"])
    assert interval.parameters == (("order", float(row["rank"])),)
    assert interval.lower == pytest.approx(float(row["published"]), rel=0, abs=5e-6)


def test_interval_runs_between_the_order_statistics_it_names():
    values = np.random.default_rng(3).permutation(np.arange(1.0, 101.0))
    both = order_statistic_interval(values, confidence=0.95, coverage=0.90, side="both")
    order = order_statistic_largest_order(100, confidence=0.95, coverage=0.90, side="both")
    assert order == 2
    assert (both.lower, both.upper, both.k, both.n) == (2.0, 99.0, None, 100)
    assert both.achieved_confidence == order_statistic_confidence(100, coverage=0.90, order=2, side="both")
    assert both.achieved_confidence >= 0.95
    assert both.mean == 50.5
    assert both.sd == pytest.approx(np.sqrt(100 * 101 / 12), rel=1e-14)
    upper = order_statistic_interval(values, confidence=0.95, coverage=0.90, side="upper")
    assert (upper.lower, upper.upper) == (None, 96.0)
    lower = order_statistic_interval(values, confidence=0.95, coverage=0.90, side="lower")
    assert (lower.lower, lower.upper) == (5.0, None)
    assert lower.method == "order statistics, distribution-free, exact"


def test_interval_of_too_few_values_says_how_many_it_takes():
    with pytest.raises(ValueError, match=r"^values must hold at least 29 numbers .* side 'lower'; got 28$"):
        order_statistic_interval(range(28), confidence=0.95, coverage=0.90, side="lower")
    with pytest.raises(ValueError, match=r"^values must hold at least 46 numbers .* side 'both'; got 45$"):
        order_statistic_interval(range(45), confidence=0.95, coverage=0.90, side="both")
    assert order_statistic_interval(range(46), confidence=0.95, coverage=0.90, side="both").upper == 45.0


@pytest.mark.parametrize(
    ("confidence", "coverage", "side", "size"),
    [
        # 1 - 0.9^2 = 0.19 and 1 - 0.5^2 = 0.75 to the last decimal: in binary the chance falls on either side of them
        pytest.param(0.19, 0.9, "lower", 2, id="0.19"),
        pytest.param(0.271, 0.9, "lower", 3, id="0.271"),
        pytest.param(0.3439, 0.9, "upper", 4, id="0.3439"),
        pytest.param(0.75, 0.5, "lower", 2, id="0.75"),
        pytest.param(0.01, 0.9, "both", 2, id="0.1-squared"),
        pytest.param(0.028, 0.9, "both", 3, id="3-of-0.1"),
    ],
)
def test_sample_size_at_an_exact_tie(confidence, coverage, side, size):
    assert order_statistic_sample_size(confidence=confidence, coverage=coverage, side=side) == size
    above = np.nextafter(np.nextafter(confidence, 1.0), 1.0)
    assert order_statistic_sample_size(confidence=float(above), coverage=coverage, side=side) == size + 1


def test_sample_sizes_from_memory():
    # Typed from memory, widely printed: 95 % confidence of 90, 95, 99 %.
    one = [order_statistic_sample_size(confidence=0.95, coverage=p, side="lower") for p in (0.90, 0.95, 0.99)]
    two = [order_statistic_sample_size(confidence=0.95, coverage=p, side="both") for p in (0.90, 0.95, 0.99)]
    assert (one, two) == ([29, 59, 299], [46, 93, 473])


@pytest.mark.parametrize(
    ("call", "message"),
    [
        pytest.param(
            lambda: order_statistic_confidence(3, coverage=0.9, order=2, side="both"),
            r"^order must leave a value inside: at most 1 for n=3; got 2$",
            id="order-both",
        ),
        pytest.param(
            lambda: order_statistic_coverage(3, confidence=0.9, order=4, side="lower"),
            r"^order must leave a value inside: at most 3 for n=3; got 4$",
            id="order-lower",
        ),
        pytest.param(
            lambda: order_statistic_confidence(0, coverage=0.9, side="lower"), r"^n must be a whole number", id="n"
        ),
        pytest.param(
            lambda: order_statistic_sample_size(confidence=0.9, coverage=0.9, order=0, side="lower"),
            r"^order must be a whole number of at least 1; got 0$",
            id="order-0",
        ),
        pytest.param(
            lambda: order_statistic_sample_size(confidence=0.9, coverage=0.9, side="one"), r"^side must be", id="side"
        ),
        pytest.param(
            lambda: order_statistic_sample_size(confidence=0.9, coverage=1 - 1e-12, side="lower"),
            r"^no sample below 1000000000 is large enough",
            id="too-large",
        ),
    ],
)
def test_refusals(call, message):
    with pytest.raises(ValueError, match=message):
        call()


@given(st.floats(0.01, 0.9999), st.floats(0.01, 0.9999), st.integers(1, 6), st.sampled_from(["lower", "upper", "both"]))
def test_sample_size_is_the_smallest_that_is_sure_enough(confidence, coverage, order, side):
    size = order_statistic_sample_size(confidence=confidence, coverage=coverage, order=order, side=side)
    assert order_statistic_confidence(size, coverage=coverage, order=order, side=side) >= confidence - 1e-12
    if size > order * (2 if side == "both" else 1):
        fewer = order_statistic_confidence(size - 1, coverage=coverage, order=order, side=side)
        assert fewer < confidence + 1e-12


@given(st.integers(2, 5000), st.floats(0.01, 0.9999), st.sampled_from(["lower", "upper", "both"]))
def test_coverage_inverts_confidence(n, confidence, side):
    coverage = order_statistic_coverage(n, confidence=confidence, side=side)
    assert order_statistic_confidence(n, coverage=coverage, side=side) == pytest.approx(confidence, rel=1e-9)


@given(st.permutations(list(range(50))), st.sampled_from(["lower", "upper", "both"]))
def test_order_of_the_specimens_does_not_matter(values, side):
    asked = {"confidence": 0.95, "coverage": 0.9, "side": side}
    first, second = order_statistic_interval(values, **asked), order_statistic_interval(range(50), **asked)
    assert (first.lower, first.upper) == (second.lower, second.upper)
