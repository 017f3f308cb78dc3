"""Tolerance intervals that carry lot-to-lot variation: the balanced or unbalanced one-way random model.

A value is mean + lot effect + deviation within the lot, both normal. The bound is a generalized confidence limit of the
population quantile mean -/+ z sqrt(variance between + variance within): with a lots, lot means m_i, their unweighted
mean m, SSm = sum (m_i - m)^2, SSe the sum of squares within lots, h the mean of 1/n_i and N values in all, it is the
quantile of

    m + Z sqrt(SSm / (a A)) -/+ z sqrt(SSm / A + (1 - h) SSe / E),   Z ~ N(0, 1), A ~ chi2_(a-1), E ~ chi2_(N-a)

with Z, A, E independent. Its distribution function is integrated numerically, not drawn, so the same data give the same
bound. It is not exact: the true confidence is at least the nominal one, clearly more where lots hardly differ
(tests/reference/coverage_simulation.md). No variance is ever estimated as negative on the way.

Source: Krishnamoorthy and Mathew, Technometrics 46 (2004) 44-52.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from reportgen.stats.arguments import FloatArray, settle_fraction, settle_groups, settle_side
from reportgen.stats.records import Interval, Side
from reportgen.stats.roots import root_from

_POINTS = 161  # trapezoid points per variance, in its logarithm
_CUT = 1e-17  # probability left out at either end of each
_SMALLEST_SHARE = 1e-12  # of the total: lot means equal to the last digit are rounding, not proof of no difference


def between_lot_interval(groups: Sequence[ArrayLike], *, confidence: float, coverage: float, side: Side) -> Interval:
    """Tolerance interval for all lots of a process, of which these are a random sample.

    `side="both"` joins two one-sided bounds, each with half of the error and half of the share outside (Bonferroni),
    which errs on the safe side.

    Args:
        groups: one sequence per lot; two lots or more, sizes may differ, at least one lot with two values. With two or
            three lots the bound is far out: little is known of a spread from so few.
        confidence, coverage: fractions, each strictly between 0 and 1.
        side: the side that is bounded; the open side of the result is None.
    Returns: `mean` is the unweighted mean of lot means, `sd` the root of the total variance estimated, `k` the factor
        that leads from them to the bounds. `parameters` hold lots, variance_between (analysis of variance, not below
        0) and variance_within.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    lots = settle_groups(groups)
    sure, share = settle_fraction("confidence", confidence), settle_fraction("coverage", coverage)
    if settle_side(side) == "both":
        sure, share = (1.0 + sure) / 2.0, (1.0 + share) / 2.0
    study = _study(lots)
    reach = _reach(study, confidence=sure, z=float(special.ndtri(share)))
    return Interval(
        lower=None if side == "upper" else study.mean - reach,
        upper=None if side == "lower" else study.mean + reach,
        k=reach / study.sd,
        n=study.n,
        mean=study.mean,
        sd=study.sd,
        confidence=confidence,
        coverage=coverage,
        side=side,
        method="one-way random model, generalized confidence limit, approximate"
        if side != "both"
        else "one-way random model, two generalized confidence limits joined, conservative",
        parameters=(
            ("lots", float(study.lots)),
            ("variance_between", study.variance_between),
            ("variance_within", study.variance_within),
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Study:
    lots: int
    n: int
    mean: float
    squares_of_means: float
    squares_within: float
    inverse_size: float
    variance_between: float

    @property
    def variance_within(self) -> float:
        return self.squares_within / (self.n - self.lots)

    @property
    def sd(self) -> float:
        of_means = self.squares_of_means / (self.lots - 1)
        return float(np.sqrt(of_means + (1.0 - self.inverse_size) * self.variance_within))


def _study(lots: tuple[FloatArray, ...]) -> _Study:
    sizes = np.array([lot.size for lot in lots], dtype=np.float64)
    means = np.array([float(np.mean(lot)) for lot in lots])
    n, a = int(np.sum(sizes)), len(lots)
    if n == a:
        raise ValueError(
            "groups must include a lot with at least 2 numbers; with one value per lot, use the normal interval of them"
        )
    within = sum(float(np.sum((lot - np.mean(lot)) ** 2)) for lot in lots)
    of_means = float(np.sum((means - np.mean(means)) ** 2))
    if within + of_means == 0.0:
        raise ValueError(f"groups must not hold one value only; all {n} numbers are {float(means[0])!r}")
    grand = float(np.sum(sizes * means)) / n
    mean_square_between = float(np.sum(sizes * (means - grand) ** 2)) / (a - 1)
    typical_size = (n - float(np.sum(sizes**2)) / n) / (a - 1)
    return _Study(
        lots=a,
        n=n,
        mean=float(np.mean(means)),
        squares_of_means=max(of_means, _SMALLEST_SHARE * within),
        squares_within=within,
        inverse_size=float(np.mean(1.0 / sizes)),
        variance_between=max(0.0, (mean_square_between - within / (n - a)) / typical_size),
    )


def _reach(study: _Study, *, confidence: float, z: float) -> float:
    """How far from the mean the generalized confidence limit of the quantile of deviate z lies."""
    between, between_weight = _chi_square_nodes(study.lots - 1)
    within, within_weight = _chi_square_nodes(study.n - study.lots)
    of_means = study.squares_of_means / between[:, None]
    quantile = z * np.sqrt(of_means + (1.0 - study.inverse_size) * study.squares_within / within[None, :])
    error_of_mean = np.sqrt(of_means / study.lots)
    weight = between_weight[:, None] * within_weight[None, :]
    target = float(special.ndtri(confidence))

    def surplus(reach: float) -> float:
        chance = float(np.sum(weight * special.ndtr((reach - quantile) / error_of_mean)))
        return float(np.clip(special.ndtri(min(chance, 1.0)), -37.0, 37.0)) - target

    return root_from(surplus, z * study.sd, step=0.5 * study.sd)


def _chi_square_nodes(df: int) -> tuple[FloatArray, FloatArray]:
    """Values and weights that average a smooth function over a chi-square variable."""
    low = float(np.log(2.0 * special.gammaincinv(df / 2.0, _CUT)))
    high = float(np.log(2.0 * special.gammainccinv(df / 2.0, _CUT)))
    logs = np.linspace(low, high, _POINTS)
    weight = np.exp(0.5 * df * (logs - logs[_POINTS // 2]) - 0.5 * (np.exp(logs) - np.exp(logs[_POINTS // 2])))
    return np.exp(logs), weight / np.sum(weight)
