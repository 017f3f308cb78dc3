"""The reckoning behind the sample sizes of the example, worked out again."""

from __future__ import annotations

import csv
import math

import pytest
from scipy import stats

from reportgen.project.read import read_project
from reportgen.project.records import Project
from tests.example_numbers import k_one_sided
from tests.test_example_texts import EXAMPLE, plain


@pytest.fixture(scope="module")
def project() -> Project:
    return read_project(EXAMPLE)


def planned(n: int, reliability: float, mean: float, sd: float) -> float:
    """How far below the mean a bound at 95 % confidence lies, subtracted from the mean (added for a negative sd)."""
    return mean - k_one_sided(n, 0.95, reliability) * sd


@pytest.mark.parametrize(("protocol", "told", "number", "tolerance"), [
    ("VP-101", "leaves the bound about 0.9 N above the limit", planned(30, 0.99, 6.5, 0.65) - 3.60 - 0.9, 0.05),
    ("VP-101", "up to a standard deviation of 0.72 N", (6.5 - 3.60) / k_one_sided(10, 0.95, 0.99) - 0.72, 0.01),
    ("VP-102", "the bound still clears the limit by about 0.7 N", planned(30, 0.99, 7.4, 0.80) - 4.20 - 0.7, 0.05),
    ("VP-103", "about 4.0 at n = 30", k_one_sided(30, 0.95, 0.999) - 4.0, 0.05),
    ("VP-103", "4.6 at n = 15", k_one_sided(15, 0.95, 0.999) - 4.6, 0.05),
    ("VP-103", "both sample sizes leave more than 2 atm", planned(30, 0.999, 18.5, 0.6) - 16.5, 0.5),
    ("VP-103", "both sample sizes leave more than 2 atm", planned(15, 0.999, 18.9, 0.6) - 16.5, 0.5),
    ("VP-103", "need 2995 balloons", math.ceil(math.log(0.05) / math.log(0.999)) - 2995, 0),
    ("VP-104", "the factor of 3.98", k_one_sided(10, 0.95, 0.99) - 3.98, 0.005),
    ("VP-104", "the bound lies 6.4 N under the mean", 31 - planned(10, 0.99, 31, 1.6) - 6.4, 0.05),
    ("VP-105", "needs 29 devices", math.ceil(math.log(0.05) / math.log(0.90)) - 29, 0),
    ("VP-104", "still more than 5 N above the limit and its guard", planned(10, 0.99, 31, 1.6) - 19.25 - 5.5, 0.5),
    ("VP-106", "the factor of 2.91", k_one_sided(10, 0.95, 0.95) - 2.91, 0.005),
    ("VP-109", "is 2.22", k_one_sided(30, 0.95, 0.95) - 2.22, 0.005),
    ("VP-110", "Fifty-nine hubs", math.ceil(math.log(0.05) / math.log(0.95)) - 59, 0),
    ("VP-113", "lies about 0.8 of a turn above the limit", planned(30, 0.95, 9.5, 1.2) - 6.0 - 0.8, 0.05),
    ("VP-114", "Twenty-nine balloons", math.ceil(math.log(0.05) / math.log(0.90)) - 29, 0),
])  # fmt: skip
def test_the_reckoning_behind_a_sample_size_holds(
    project: Project, protocol: str, told: str, number: float, tolerance: float
) -> None:
    """Factors by scipy's noncentral t (ISO 16269-6:2014); sizes without failure by ln(1 - C) / ln(R)."""
    assert told in plain(project.protocol(protocol).sampling.justification)
    assert abs(number) <= tolerance


def test_the_two_sided_reckoning_holds(project: Project) -> None:
    """Exact two-sided factors, ISO 16269-6:2014, of tests/reference/normal_two_sided_k.csv."""
    with (EXAMPLE.parent / "tests/reference/normal_two_sided_k.csv").open(encoding="utf-8", newline="") as file:
        factors = {(row["n"], row["confidence"], row["coverage"]): float(row["k"]) for row in csv.DictReader(file)}
    pooled, each_lot = factors["30", "0.95", "0.95"], factors["10", "0.95", "0.95"]
    told = plain(project.protocol("VP-107").sampling.justification)
    assert f"is then about {pooled:.2f}" in told
    assert f"the factor of about {each_lot:.2f}" in told
    assert 2 * pooled * 0.05 == pytest.approx((9.25 - 8.75) / 2, rel=0.05)  # "half as wide as the distance"
    assert 2 * each_lot * 0.05 < 9.25 - 8.75


def test_the_bridging_study_can_show_what_it_concludes(project: Project) -> None:
    """Two one-sided t tests at 95 % confidence, sixty a set-up: the half-width has to be well inside the margin."""
    (bridging,) = project.protocol("VP-105").bridging
    half_width = float(stats.t.ppf(0.95, 2 * 60 - 2)) * 1.3 * math.sqrt(2 / 60)
    told = plain(bridging.conclusion)
    assert told.startswith("Sixty tips per set-up and condition")
    assert f"with a standard deviation of 1.3 N the interval of the difference reaches {half_width:.2f} N" in told
    assert "margin 0.70 N, 95 % confidence" in told
    assert half_width < 0.70
