"""Normal tolerance factors against general libraries, side by side in one run: quote the ratios, not the times.

Run: python tests/benchmarks/tolerance_factors.py (needs the PyPI package toleranceinterval).
Goals: two-sided at least 200 x faster per factor than toleranceinterval with an error of at most 1e-12;
one-sided at least 8 x faster than a root search on the noncentral t distribution function.
"""

from __future__ import annotations

import csv
import time
from pathlib import Path

import numpy as np
import scipy.optimize
import scipy.stats
from toleranceinterval.twoside import normal_factor

from reportgen.stats import one_sided_factor, two_sided_factor

REFERENCE = Path(__file__).parents[1] / "reference"
FACTORS, SAMPLED, ROUNDS = 10_000, 40, 5


def questions():
    random = np.random.default_rng(5)
    n = np.where(random.random(FACTORS) < 0.5, random.integers(2, 61, FACTORS), random.integers(61, 10_001, FACTORS))
    return n, random.uniform(0.5, 0.9999, FACTORS), random.uniform(0.5, 0.99999, FACTORS)


def best_time(work):
    """The shortest of some rounds: what the machine can do when nothing else runs."""
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def two_sided_by_library(n, confidence, coverage):
    return normal_factor(int(n), coverage, confidence, method="exact")


def one_sided_by_root_search(n, confidence, coverage):
    root_n = np.sqrt(n)
    shift = root_n * scipy.stats.norm.ppf(coverage)
    return scipy.optimize.brentq(
        lambda k: scipy.stats.nct.cdf(k * root_n, n - 1, shift) - confidence, 0.0, 50.0, xtol=1e-12
    )


def worst_error(name, factor):
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    n, confidence, coverage, k = (
        np.array([float(row[column]) for row in rows]) for column in ("n", "confidence", "coverage", "k")
    )
    return float(np.max(np.abs(factor(n, confidence=confidence, coverage=coverage) / k - 1)))


def main():
    n, confidence, coverage = questions()
    ours_two = best_time(lambda: two_sided_factor(n, confidence=confidence, coverage=coverage)) / FACTORS
    ours_one = best_time(lambda: one_sided_factor(n, confidence=confidence, coverage=coverage)) / FACTORS
    # the libraries answer one question at a time; a few of the same questions, small n, which suits them best
    small = np.flatnonzero((n <= 60) & (n > 4) & (confidence > 0.8) & (confidence < 0.99) & (coverage < 0.999))[
        :SAMPLED
    ]
    asked = list(zip(n[small], confidence[small], coverage[small], strict=True))
    theirs_two = best_time(lambda: [two_sided_by_library(*question) for question in asked]) / len(asked)
    theirs_one = best_time(lambda: [one_sided_by_root_search(*question) for question in asked]) / len(asked)
    library = np.array([two_sided_by_library(*question) for question in asked])
    ours = two_sided_factor(n[small], confidence=confidence[small], coverage=coverage[small])
    print(f"two-sided, {FACTORS} factors in one call: {1e6 * ours_two:.1f} us each")
    print(f"  toleranceinterval {1e6 * theirs_two:.0f} us each: {theirs_two / ours_two:.0f} x (goal 200 x)")
    print(f"  largest relative error against 50 digits {worst_error('normal_two_sided_k.csv', two_sided_factor):.1e}")
    print(f"  largest difference from toleranceinterval {np.max(np.abs(ours / library - 1)):.1e}")
    print(f"one-sided, {FACTORS} factors in one call: {1e6 * ours_one:.1f} us each")
    print(f"  root search on its distribution {1e6 * theirs_one:.0f} us: {theirs_one / ours_one:.0f} x (goal 8 x)")
    print(f"  largest relative error against 50 digits {worst_error('normal_one_sided_k.csv', one_sided_factor):.1e}")


if __name__ == "__main__":
    main()
