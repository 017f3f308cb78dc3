"""How many specimens: to turn a present margin into a demonstration, and for plans with two risk points.

With a margin k = (limit - mean)/sd that stays as it is, more specimens lower the factor the claim asks for, down to the
normal quantile of the coverage and no further: a smaller margin can never demonstrate it, however many are tested.
Attribute sizes for a claim are `attribute_sample_size` and `finite_lot_sample_size`; distribution-free ones
`order_statistic_sample_size`.

Source: for plans with two risk points, ISO 3951-1 and ISO 2859-1 in their general form; computed here exactly.
Checked: plans printed by Kiermeier, J. Stat. Softw. 26(6) (2008); the factors themselves in `factors`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import overload

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from reportgen.stats.arguments import (
    FloatArray,
    settle_counts,
    settle_fraction,
    settle_fractions,
    settle_number,
    settle_numbers,
    settle_side,
)
from reportgen.stats.attribute import attribute_acceptance, attribute_sample_size
from reportgen.stats.factors import one_sided_factor, one_sided_factor_known_sd, two_sided_factor
from reportgen.stats.records import Side

LARGEST_SAMPLE = 1_000_000
_MOST_FAILURES = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class AttributePlan:
    """Test `n`; accept when at most `failures` of them fail."""

    n: int
    failures: int


@dataclass(frozen=True, slots=True, kw_only=True)
class VariablePlan:
    """Test `n`; accept when the limit lies at least `k` standard deviations from the mean."""

    n: int
    k: float


def variable_sample_size(*, k_observed: float, confidence: float, coverage: float, side: Side) -> int | None:
    """The smallest n at which the present margin, kept, would demonstrate the claim; None where no n would.

    Args:
        k_observed: (mean - lower limit)/sd or (upper limit - mean)/sd; for `side="both"` the smaller of the two.
    Returns: None where k_observed is not above the normal quantile of the coverage, or more than a million are needed.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    margin = settle_number("k_observed", k_observed)
    sure, share = settle_fraction("confidence", confidence), settle_fraction("coverage", coverage)
    is_both = settle_side(side) == "both"
    factor = two_sided_factor if is_both else one_sided_factor
    # the factor of ever larger samples; with confidence below one half the factor comes up to it from below
    limit = special.ndtri((1.0 + share) / 2.0 if is_both else share)
    if margin <= limit and sure >= 0.5:
        return None
    return _smallest(lambda n: factor(n, confidence=sure, coverage=share) <= margin)


@overload
def variable_acceptance(n: int, k: float, *, reliability: float) -> float: ...
@overload
def variable_acceptance(n: ArrayLike, k: ArrayLike, *, reliability: ArrayLike) -> float | FloatArray: ...
def variable_acceptance(n: ArrayLike, k: ArrayLike, *, reliability: ArrayLike) -> float | FloatArray:
    """The chance that a normal population of true `reliability` against one limit shows a margin of at least k.

    The operating characteristic of the variables test: n specimens, sd estimated from them. All arguments broadcast.
    """
    sizes, factors = settle_counts("n", n, minimum=2), settle_numbers("k", k)
    share = settle_fractions("reliability", reliability)
    root_n = np.sqrt(sizes)
    chance = 1.0 - special.nctdtr(sizes - 1.0, root_n * special.ndtri(share), root_n * factors)
    return np.asarray(chance) if np.ndim(chance) else float(chance)


def attribute_plan(
    *, good_reliability: float, good_acceptance: float, poor_reliability: float, poor_acceptance: float
) -> AttributePlan:
    """The smallest attribute plan that passes the good with at least, the poor with at most, these chances.

    Raises: ValueError naming the argument, its value and the permitted range; where it takes more than 1,000 failures.
    """
    _settle_risks(good_reliability, good_acceptance, poor_reliability, poor_acceptance)
    for failures in range(_MOST_FAILURES + 1):
        n = attribute_sample_size(confidence=1.0 - poor_acceptance, reliability=poor_reliability, failures=failures)
        if attribute_acceptance(n, failures, reliability=good_reliability) >= good_acceptance:
            return AttributePlan(n=n, failures=failures)
    raise ValueError(
        f"good_reliability {good_reliability!r} and poor_reliability {poor_reliability!r} lie too close: "
        f"no plan with {_MOST_FAILURES} failures or fewer tells them apart"
    )


def variable_plan(
    *,
    good_reliability: float,
    good_acceptance: float,
    poor_reliability: float,
    poor_acceptance: float,
    is_sd_known: bool = False,
) -> VariablePlan:
    """The smallest variables plan that passes the good with at least, the poor with at most, these chances.

    For one limit and a normal population. `k` is the tolerance factor that holds the poor to `poor_acceptance`.

    Raises: ValueError naming the argument, its value and the permitted range; where it takes more than a million.
    """
    _settle_risks(good_reliability, good_acceptance, poor_reliability, poor_acceptance)
    factor = one_sided_factor_known_sd if is_sd_known else one_sided_factor

    def tells_apart(n: int) -> bool:
        # n is enough when the factor that keeps out the poor is no larger than the one that lets in the good
        needed = factor(n, confidence=1.0 - poor_acceptance, coverage=poor_reliability)
        return needed <= factor(n, confidence=1.0 - good_acceptance, coverage=good_reliability)

    n = _smallest(tells_apart)
    if n is None:
        raise ValueError(
            f"good_reliability {good_reliability!r} and poor_reliability {poor_reliability!r} lie too close: "
            f"no plan with {LARGEST_SAMPLE} or fewer tells them apart"
        )
    return VariablePlan(n=n, k=factor(n, confidence=1.0 - poor_acceptance, coverage=poor_reliability))


def _settle_risks(good: float, good_acceptance: float, poor: float, poor_acceptance: float) -> None:
    settle_fraction("good_acceptance", good_acceptance)
    settle_fraction("poor_acceptance", poor_acceptance)
    if settle_fraction("poor_reliability", poor) >= settle_fraction("good_reliability", good):
        raise ValueError(f"poor_reliability must be below good_reliability; got {poor!r} and {good!r}")
    if poor_acceptance >= good_acceptance:
        raise ValueError(
            f"poor_acceptance must be below good_acceptance; got {poor_acceptance!r} and {good_acceptance!r}"
        )


def _smallest(is_enough: Callable[[int], bool]) -> int | None:
    """The smallest n from 2 that is enough, for a condition that once met stays met; None beyond the largest sample."""
    high = 2
    while not is_enough(high):
        if high == LARGEST_SAMPLE:
            return None
        high = min(2 * high, LARGEST_SAMPLE)
    low = max(high // 2, 1)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if is_enough(middle) else (middle, high)
    return high
