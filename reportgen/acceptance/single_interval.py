"""One tolerance interval on its own, outside any project: from values, or from n, mean and standard deviation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reportgen.acceptance.approaches import Claim, interval_of, reliability_shown
from reportgen.project.records import Approach
from reportgen.stats import achieved_reliability, one_sided_factor, two_sided_factor
from reportgen.stats.records import Interval, Side


@dataclass(frozen=True, slots=True, kw_only=True)
class SingleInterval:
    """An interval and, where limits were given, the reliability shown and whether the interval clears them."""

    interval: Interval
    reliability_shown: float | None
    clears: bool | None


def interval_from_values(
    groups: tuple[tuple[float, ...], ...],
    *,
    approach: str,
    confidence: float,
    coverage: float,
    side: Side,
    lower: float | None,
    upper: float | None,
) -> SingleInterval:
    """Args: groups: one tuple per lot; more than one only for the approach `between_lot`, else they are pooled.

    Raises: ValueError in the words of the statistic.
    """
    samples = tuple(np.array(group, dtype=float) for group in groups)
    between = approach == "between_lot"
    chosen = Approach.NORMAL if between else Approach(approach)
    # the side is asked for by itself; limits only matter for what is shown against them
    asked = _claim_of_side(side, confidence=confidence, coverage=coverage)
    interval = interval_of(chosen, samples, between_lots=between, claim=asked)
    if lower is None and upper is None:
        return SingleInterval(interval=interval, reliability_shown=None, clears=None)
    claim = Claim(confidence=confidence, reliability=coverage, lower=lower, upper=upper)
    shown = reliability_shown(chosen, samples, between_lots=between, claim=claim)
    return SingleInterval(interval=interval, reliability_shown=shown, clears=claim.is_cleared_by(interval))


def interval_from_summary(
    n: int,
    mean: float,
    sd: float,
    *,
    confidence: float,
    coverage: float,
    side: Side,
    lower: float | None,
    upper: float | None,
) -> SingleInterval:
    """The normal interval of a sample of which only n, mean and standard deviation (n - 1) are known.

    Raises: ValueError naming the argument, its value and the permitted range.
    """
    if sd < 0:
        raise ValueError(f"sd must not be negative; got {sd!r}")
    factor = two_sided_factor if side == "both" else one_sided_factor
    k = float(factor(n, confidence=confidence, coverage=coverage))
    interval = Interval(
        lower=None if side == "upper" else mean - k * sd,
        upper=None if side == "lower" else mean + k * sd,
        k=k,
        n=n,
        mean=mean,
        sd=sd,
        confidence=confidence,
        coverage=coverage,
        side=side,
        method=f"normal, exact {'two' if side == 'both' else 'one'}-sided factor, from n, mean and standard deviation",
    )
    if lower is None and upper is None:
        return SingleInterval(interval=interval, reliability_shown=None, clears=None)
    claim = Claim(confidence=confidence, reliability=coverage, lower=lower, upper=upper)
    shown = achieved_reliability(n, mean, sd, confidence=confidence, lower=lower, upper=upper)
    return SingleInterval(interval=interval, reliability_shown=shown, clears=claim.is_cleared_by(interval))


def _claim_of_side(side: Side, *, confidence: float, coverage: float) -> Claim:
    """A claim whose limits say nothing but which sides are bounded."""
    return Claim(
        confidence=confidence,
        reliability=coverage,
        lower=None if side == "upper" else float("-inf"),
        upper=None if side == "lower" else float("inf"),
    )
