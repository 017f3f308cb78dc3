"""Attribute demonstrations against exact values, handbooks and brute force."""

from __future__ import annotations

import csv
import re
import tomllib
from decimal import Decimal
from fractions import Fraction
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reportgen.stats import (
    attribute_acceptance,
    attribute_confidence,
    attribute_reliability,
    attribute_sample_size,
    finite_lot_reliability,
    finite_lot_sample_size,
)

REFERENCE = Path(__file__).parents[1] / "reference"


def of_kind(kind):
    with (REFERENCE / "attribute.csv").open(encoding="utf-8", newline="") as file:
        chosen = [row for row in csv.DictReader(file) if row["kind"] == kind]
    assert chosen, kind
    return [pytest.param(row, id=row["case_id"]) for row in chosen]


def checks(name, quantity):
    source = tomllib.loads((REFERENCE / "published" / f"{name}.toml").read_text(encoding="utf-8"))
    chosen = [check for check in source["check"] if check["quantity"].startswith(quantity)]
    assert chosen, (name, quantity)
    return [pytest.param(check, id=f"{check['quantity']}: {check['inputs']}") for check in chosen]


def precision(check):
    half_unit = 0.5 * float(Decimal(1).scaleb(Decimal(check["printed"]).as_tuple().exponent))
    return max(half_unit, check.get("tolerance", 0.0))


@pytest.mark.parametrize("row", of_kind("lower_bound"))
def test_reliability_clopper_pearson(row):
    # R qbeta, binom.test and a multi-precision root agree to 15 digits
    ours = attribute_reliability(int(row["n"]), int(row["failures"]), confidence=float(row["confidence"]))
    assert ours == pytest.approx(float(row["value"]), rel=1e-13, abs=0)


@pytest.mark.parametrize("row", of_kind("min_n"))
def test_sample_size_rational_arithmetic(row):
    ours = attribute_sample_size(
        confidence=float(row["confidence"]), reliability=float(row["reliability"]), failures=int(row["failures"])
    )
    assert ours == int(row["value"])


@pytest.mark.parametrize("row", of_kind("achieved_confidence"))
def test_confidence_rational_arithmetic(row):
    ours = attribute_confidence(int(row["n"]), int(row["failures"]), reliability=float(row["reliability"]))
    assert ours == pytest.approx(float(row["value"]), rel=1e-13, abs=0)


@pytest.mark.parametrize("check", checks("nist_ehb_proportions_and_oc", "exact"))
def test_limits_nist_ehandbook_7_2_4_1(check):
    # 4 defective in 20, two-sided 90 %: each limit at 95 %. The printed upper limit is 1e-6 high (typed from memory).
    if "lower" in check["quantity"]:  # the limit of what the 4 are a share of
        ours = attribute_reliability(20, 16, confidence=0.95)
    else:
        ours = 1 - attribute_reliability(20, 4, confidence=0.95)
    assert ours == pytest.approx(float(check["printed"]), rel=0, abs=precision(check))


@pytest.mark.parametrize("check", checks("nist_ehb_proportions_and_oc", "probability of acceptance"))
def test_acceptance_nist_ehandbook_6_2_3_2(check):
    failing = float(re.search(r"defective ([0-9.]+)", check["inputs"])[1])
    ours = attribute_acceptance(52, 3, reliability=1 - failing)
    assert ours == pytest.approx(float(check["printed"]), rel=0, abs=precision(check))


@pytest.mark.parametrize("check", checks("envstats_nonparametric_and_binomial", "exact (Clopper"))
def test_limits_envstats(check):
    # 7 in 20, two-sided 95 %: each limit at 97.5 %
    if "lower" in check["quantity"]:
        ours = attribute_reliability(20, 13, confidence=0.975)
    else:
        ours = 1 - attribute_reliability(20, 7, confidence=0.975)
    assert ours == pytest.approx(float(check["printed"]), rel=0, abs=precision(check))


def test_success_run_sizes_from_memory():
    # Typed from memory, widely printed: 95 % confidence of 90, 95, 99 % with no failure.
    assert [attribute_sample_size(confidence=0.95, reliability=r) for r in (0.90, 0.95, 0.99)] == [29, 59, 299]


def test_reliability_when_all_fail_is_zero():
    assert attribute_reliability(7, 7, confidence=0.95) == 0.0
    assert attribute_confidence(7, 7, reliability=0.1) == 0.0
    assert attribute_acceptance(7, 7, reliability=0.1) == 1.0


def chance_by_counting(lot_size, failing, n, failures):
    """P(at most `failures`), by drawing every possible sample from a lot whose first units fail."""
    draws = [sum(unit < failing for unit in draw) for draw in combinations(range(lot_size), n)]
    return Fraction(sum(seen <= failures for seen in draws), len(draws))


@pytest.mark.parametrize("failures", [0, 1, 2])
@pytest.mark.parametrize(("reliability", "confidence"), [(0.8, 0.9), (0.9, 0.75), (0.75, 0.9), (0.5, 0.5)])
@pytest.mark.parametrize("lot_size", [1, 2, 7, 12])
def test_finite_lot_sample_size_by_counting(lot_size, reliability, confidence, failures):
    share, sure = Fraction(str(reliability)), Fraction(str(confidence))
    failing = next(bad for bad in range(lot_size + 2) if Fraction(lot_size - bad, lot_size) < share)
    expected = next(
        (
            n
            for n in range(1, lot_size + 1)
            if failing <= lot_size and chance_by_counting(lot_size, failing, n, failures) <= 1 - sure
        ),
        None,
    )
    ours = finite_lot_sample_size(lot_size, confidence=confidence, reliability=reliability, failures=failures)
    assert ours == expected


@pytest.mark.parametrize("confidence", [0.5, 0.75, 0.9, 0.95])
@pytest.mark.parametrize(("n", "failures"), [(1, 0), (3, 0), (3, 1), (6, 2), (9, 0), (11, 0), (11, 1), (3, 3)])
def test_finite_lot_reliability_by_counting(n, failures, confidence):
    lot_size, unsure = 11, 1 - Fraction(str(confidence))
    possible = [
        bad
        for bad in range(failures, lot_size - n + failures + 1)
        if chance_by_counting(lot_size, bad, n, failures) > unsure
    ]
    ours = finite_lot_reliability(lot_size, n, failures, confidence=confidence)
    assert ours == (lot_size - max(possible)) / lot_size


def test_finite_lot_at_an_exact_tie():
    # 1 failing of 4, 2 drawn: none seen in 3 of 6 draws, so even odds already exclude it
    assert finite_lot_reliability(4, 2, 0, confidence=0.5) == 1.0
    assert finite_lot_reliability(4, 2, 0, confidence=0.51) == 0.75
    assert finite_lot_sample_size(4, confidence=0.5, reliability=0.9) == 2
    assert finite_lot_sample_size(4, confidence=0.51, reliability=0.9) == 3


def test_testing_the_whole_lot_leaves_no_doubt():
    assert finite_lot_reliability(20, 20, 1, confidence=0.99) == 0.95
    assert finite_lot_reliability(20, 20, 0, confidence=0.99) == 1.0
    assert finite_lot_reliability(20, 20, 20, confidence=0.99) == 0.0


def test_a_large_lot_needs_as_many_as_a_process_and_a_small_one_fewer():
    asked = {"confidence": 0.95, "reliability": 0.95}
    sizes = [finite_lot_sample_size(lot, **asked) for lot in (60, 200, 1000, 100_000)]
    assert sizes == sorted(sizes)
    assert sizes[-1] == attribute_sample_size(**asked) == 59
    assert sizes[0] < 59


@pytest.mark.parametrize(
    ("call", "message"),
    [
        pytest.param(
            lambda: attribute_reliability(5, 6, confidence=0.9),
            r"^failures must be .* from 0 to 5; got 6$",
            id="failures",
        ),
        pytest.param(
            lambda: attribute_confidence(5, -1, reliability=0.9),
            r"^failures must be .* from 0 to 5; got -1$",
            id="minus",
        ),
        pytest.param(lambda: attribute_reliability(0, 0, confidence=0.9), r"^n must be .* at least 1; got 0$", id="n"),
        pytest.param(
            lambda: attribute_sample_size(confidence=0.9, reliability=90),
            r"^reliability must be .* 0.9\)$",
            id="percent",
        ),
        pytest.param(
            lambda: attribute_sample_size(confidence=0.9, reliability=0.9, failures=-1), r"^failures must be", id="c"
        ),
        pytest.param(
            lambda: finite_lot_sample_size(0, confidence=0.9, reliability=0.9), r"^lot_size must be .* 1 to", id="lot"
        ),
        pytest.param(
            lambda: finite_lot_sample_size(1_000_001, confidence=0.9, reliability=0.9),
            r"^lot_size must be a whole number from 1 to 1000000; got 1000001$",
            id="huge-lot",
        ),
        pytest.param(
            lambda: finite_lot_reliability(10, 11, 0, confidence=0.9), r"^n must be .* from 1 to 10; got 11$", id="more"
        ),
    ],
)
def test_refusals(call, message):
    with pytest.raises(ValueError, match=message):
        call()


@given(st.floats(0.01, 0.9999), st.floats(0.01, 0.9999), st.integers(0, 5))
def test_sample_size_is_the_smallest_that_is_sure_enough(confidence, reliability, failures):
    size = attribute_sample_size(confidence=confidence, reliability=reliability, failures=failures)
    assert attribute_confidence(size, failures, reliability=reliability) >= confidence - 1e-12
    if size > failures + 1:
        assert attribute_confidence(size - 1, failures, reliability=reliability) < confidence + 1e-12


@given(st.integers(1, 5000), st.integers(0, 5), st.floats(0.01, 0.9999))
def test_reliability_is_where_the_confidence_is_just_met(n, failures, confidence):
    reliability = attribute_reliability(n, min(failures, n - 1), confidence=confidence)
    ours = attribute_confidence(n, min(failures, n - 1), reliability=reliability)
    assert ours == pytest.approx(confidence, rel=1e-9)


@given(st.integers(1, 400), st.integers(0, 5), st.floats(0.5, 0.999))
def test_finite_lot_is_at_least_as_reliable_as_a_process_says(n, failures, confidence):
    # drawing without replacement tells more: the bound may only be below by less than one unit of the lot
    failures = min(failures, n - 1)
    finite = finite_lot_reliability(500, n, failures, confidence=confidence)
    assert finite > attribute_reliability(n, failures, confidence=confidence) - 1 / 500
