"""The declared approaches: how each turns a sample into bounds, and which reliability the sample demonstrates."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from reportgen.project.records import Approach
from reportgen.stats import (
    achieved_reliability,
    attribute_reliability,
    between_lot_interval,
    box_cox_interval,
    lognormal_interval,
    normal_interval,
    normal_interval_of_moments,
    order_statistic_interval,
    weibull_interval,
)
from reportgen.stats.records import Interval, Side

Sample = np.ndarray
Samples = tuple[Sample, ...]
BETWEEN_LOT = "between_lot"

# Achieved reliability is searched between these for approaches without a closed inverse.
_LEAST_COVERAGE, _GREATEST_COVERAGE = 0.001, 1.0 - 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """What is to be shown: limits in the unit of the values, already moved inward by a guard band if any."""

    confidence: float
    reliability: float
    lower: float | None
    upper: float | None

    @property
    def side(self) -> Side:
        if self.lower is not None and self.upper is not None:
            return "both"
        return "lower" if self.lower is not None else "upper"

    def is_cleared_by(self, interval: Interval) -> bool:
        """Whether the interval lies within the limits; a bound at the limit clears it."""
        lower_clears = self.lower is None or (interval.lower is not None and interval.lower >= self.lower)
        upper_clears = self.upper is None or (interval.upper is not None and interval.upper <= self.upper)
        return lower_clears and upper_clears


_INTERVALS: dict[Approach, Callable[..., Interval]] = {
    Approach.NORMAL: normal_interval,
    Approach.LOGNORMAL: lognormal_interval,
    Approach.WEIBULL: weibull_interval,
    Approach.BOX_COX: box_cox_interval,
    Approach.DISTRIBUTION_FREE: order_statistic_interval,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Moments:
    """Mean and standard deviation of a sample; the latter None for a single value."""

    n: int
    mean: float
    sd: float | None

    @property
    def have_spread(self) -> bool:
        return self.sd is not None and self.sd > 0.0


def moments_of(values: Sample) -> Moments:
    sd = float(values.std(ddof=1)) if values.size > 1 else None
    return Moments(n=values.size, mean=float(values.mean()), sd=sd)


def interval_of(
    approach: Approach, samples: Samples, *, between_lots: bool, claim: Claim, moments: Moments | None = None
) -> Interval:
    """The tolerance interval of the approach; with `between_lots` the one-way random model over the lots.

    Args: moments: of all samples together, where they are known.
    Raises: ValueError in the words of the statistic when the sample is one it cannot hold (too few, not positive...).
    """
    if between_lots:
        return between_lot_interval(samples, confidence=claim.confidence, coverage=claim.reliability, side=claim.side)
    if approach is Approach.NORMAL and moments is not None and moments.sd and moments.have_spread:
        return normal_interval_of_moments(
            moments.n,
            moments.mean,
            moments.sd,
            confidence=claim.confidence,
            coverage=claim.reliability,
            side=claim.side,
        )
    return _INTERVALS[approach](
        np.concatenate(samples), confidence=claim.confidence, coverage=claim.reliability, side=claim.side
    )


def reliability_shown(
    approach: Approach, samples: Samples, *, between_lots: bool, claim: Claim, moments: Moments | None = None
) -> float | None:
    """The largest reliability that the sample demonstrates with the claim's confidence; None when none is.

    Args: moments: of all samples together, where they are known.
    """
    if not between_lots and approach is Approach.NORMAL:
        return _normal(moments or moments_of(np.concatenate(samples)), claim)
    pooled = np.concatenate(samples)
    if not between_lots and approach is Approach.LOGNORMAL and pooled.min() > 0:
        logs = Claim(
            confidence=claim.confidence,
            reliability=claim.reliability,
            lower=None if claim.lower is None else (float(np.log(claim.lower)) if claim.lower > 0 else None),
            upper=None if claim.upper is None else float(np.log(claim.upper)),
        )
        return 1.0 if logs.lower is None and logs.upper is None else _normal(moments_of(np.log(pooled)), logs)
    if not between_lots and approach is Approach.DISTRIBUTION_FREE:
        outside = int(np.sum(~inside(pooled, claim)))
        return attribute_reliability(pooled.size, outside, confidence=claim.confidence)
    return _searched(approach, samples, between_lots=between_lots, claim=claim)


def inside(values: Sample, claim: Claim) -> np.ndarray:
    """Which values are within the limits; a value at a limit is."""
    within = np.ones(values.shape, dtype=bool)
    if claim.lower is not None:
        within &= values >= claim.lower
    if claim.upper is not None:
        within &= values <= claim.upper
    return within


def _normal(moments: Moments, claim: Claim) -> float:
    if moments.sd is None:
        raise ValueError("values must hold at least 2 numbers; got 1")
    return float(
        achieved_reliability(
            moments.n, moments.mean, moments.sd, confidence=claim.confidence, lower=claim.lower, upper=claim.upper
        )
    )


def _searched(approach: Approach, samples: Samples, *, between_lots: bool, claim: Claim) -> float | None:
    """Bisection on the coverage: intervals widen with it, so the largest one that still clears is the answer."""

    def clears(coverage: float) -> bool:
        trial = Claim(confidence=claim.confidence, reliability=coverage, lower=claim.lower, upper=claim.upper)
        return trial.is_cleared_by(interval_of(approach, samples, between_lots=between_lots, claim=trial))

    if not clears(_LEAST_COVERAGE):
        return None
    if clears(_GREATEST_COVERAGE):
        return _GREATEST_COVERAGE
    low, high = _tail(_LEAST_COVERAGE), _tail(_GREATEST_COVERAGE)
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if clears(_coverage(middle)) else (low, middle)
    return _coverage(low)


def _tail(coverage: float) -> float:
    """Coverage on the logit scale, where a bisection keeps relative precision at both ends."""
    return float(np.log(coverage) - np.log1p(-coverage))


def _coverage(tail: float) -> float:
    return float(1.0 / (1.0 + np.exp(-tail)))
