"""Tolerance intervals for a normal population, and the reliability that a sample achieves.

Digits: the library's inverse of the noncentral t for its noncentrality keeps only 7 digits of 1 - reliability, and does
not return at all for a very large t (scipy 1.17), so `achieved_reliability` solves the distribution function itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from reportgen.stats.arguments import (
    settle_count,
    settle_fraction,
    settle_groups,
    settle_number,
    settle_positive,
    settle_side,
    settle_spread,
)
from reportgen.stats.factors import (
    one_sided_factor,
    one_sided_factor_pooled,
    two_sided_factor,
    two_sided_factor_pooled,
)
from reportgen.stats.records import Interval, Side
from reportgen.stats.roots import root_between, root_of_nearly_straight, roots_of_nearly_straight
from reportgen.stats.two_sided_content import nodes_for, shortfall

_FURTHEST_PROBIT = 37.0
_NEAREST_Z = 1e-7  # a share of 1e-7 inside is none to speak of, and its float has few digits left
_FURTHEST_Z = 20.0  # the share beyond is 3e-89: nothing that a float near 1 could show, or a person could mean


def normal_interval(values: ArrayLike, *, confidence: float, coverage: float, side: Side) -> Interval:
    """Exact tolerance interval for a normal population.

    Args:
        values: shape (n,), n >= 2, finite, not all equal; any one unit, which the result keeps.
        confidence, coverage: fractions, each strictly between 0 and 1.
        side: the side that is bounded; the open side of the result is None.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: `one_sided_factor` for one side, `two_sided_factor` for both.
    """
    sample = settle_spread(values)
    mean = float(np.mean(sample))
    sd = float(np.std(sample, ddof=1))  # n - 1: the factors assume it; dividing by n would flatter the lot
    return normal_interval_of_moments(sample.size, mean, sd, confidence=confidence, coverage=coverage, side=side)


def normal_interval_of_moments(
    n: int, mean: float, sd: float, *, confidence: float, coverage: float, side: Side
) -> Interval:
    """`normal_interval` where the values are known by their number, mean and standard deviation (divisor n - 1).

    Args:
        n: at least 2. sd: above 0, in the unit of the mean.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    size, mean, sd = settle_count("n", n, minimum=2), settle_number("mean", mean), settle_positive("sd", sd)
    settle_side(side)
    k = _factor(size, settle_fraction("confidence", confidence), settle_fraction("coverage", coverage), side)
    lower, upper = bounded(mean, sd, k, side=side)
    return Interval(
        lower=lower,
        upper=upper,
        mean=mean,
        sd=sd,
        k=k,
        n=size,
        confidence=confidence,
        coverage=coverage,
        side=side,
        method="normal, exact two-sided factor" if side == "both" else "normal, exact one-sided factor (noncentral t)",
    )


@lru_cache(maxsize=4096)
def _factor(n: int, confidence: float, coverage: float, side: Side) -> float:
    """Many samples of a project share their size and claim."""
    return (two_sided_factor if side == "both" else one_sided_factor)(n, confidence=confidence, coverage=coverage)


def common_sd_intervals(
    groups: Sequence[ArrayLike], *, confidence: float, coverage: float, side: Side
) -> tuple[Interval, ...]:
    """One exact tolerance interval per lot, for normal lots with different means and one common standard deviation.

    Each interval holds with the stated confidence by itself, not all of them at once; `df` is in its parameters.

    Args:
        groups: two lots or more; each at least one value, one of them at least two.
    Source: ISO 16269-6:2014, Annex F (m samples of n); here the lots may differ in size.
    """
    lots = settle_groups(groups)
    settle_side(side)
    df = sum(lot.size for lot in lots) - len(lots)
    if df < 1:
        raise ValueError("groups must include a lot with at least 2 numbers; all have 1")
    sd = float(np.sqrt(sum(float(np.sum((lot - np.mean(lot)) ** 2)) for lot in lots) / df))
    settle_positive("the pooled standard deviation of groups", sd)
    factor = two_sided_factor_pooled if side == "both" else one_sided_factor_pooled
    sizes = np.array([lot.size for lot in lots])
    factors = np.asarray(factor(sizes, df=df, confidence=confidence, coverage=coverage)).tolist()
    intervals = []
    for lot, k in zip(lots, factors, strict=True):
        lower, upper = bounded(float(np.mean(lot)), sd, k, side=side)
        intervals.append(
            Interval(
                lower=lower,
                upper=upper,
                k=k,
                n=lot.size,
                mean=float(np.mean(lot)),
                sd=sd,
                confidence=confidence,
                coverage=coverage,
                side=side,
                method="normal with a standard deviation common to the lots, exact factor",
                parameters=(("df", float(df)),),
            )
        )
    return tuple(intervals)


def achieved_reliability(
    n: int, mean: float, sd: float, *, confidence: float, lower: float | None = None, upper: float | None = None
) -> float:
    """The largest coverage whose exact interval still fits the limit or limits.

    One limit: the inverse of `one_sided_factor` at (mean - lower)/sd or (upper - mean)/sd, right also where the mean
    is on or beyond the limit. Two limits: the coverage at which the exact two-sided interval touches the nearer
    limit; the farther one is not used, so the answer errs on the safe side for an off-centre mean. It is 0 where the
    mean is on or outside a limit.

    Args:
        n: number of values behind mean and sd, at least 2; sd has the divisor n - 1 and is above 0.
        lower, upper: at least one of them; lower below upper. mean, sd and limits in one unit.
    Raises: ValueError naming the argument, its value and the permitted range.
    Checked: 30 cases with 50-digit integration, to 1e-12 also in 1 - reliability.
    """
    size = settle_count("n", n, minimum=2)
    centre, spread = settle_number("mean", mean), settle_positive("sd", sd)
    sure = settle_fraction("confidence", confidence)
    below = None if lower is None else (centre - settle_number("lower", lower)) / spread
    above = None if upper is None else (settle_number("upper", upper) - centre) / spread
    if below is None:
        if above is None:
            raise ValueError("at least one of lower and upper must be given; both are None")
        return _one_sided_reliability(size, above, sure)
    if above is None:
        return _one_sided_reliability(size, below, sure)
    if below + above <= 0.0:
        raise ValueError(f"lower must be below upper; got lower={lower!r}, upper={upper!r}")
    return _two_sided_reliability(size, min(below, above), sure)


def bounded(centre: float, spread: float, k: float, *, side: Side) -> tuple[float | None, float | None]:
    """centre - k spread and centre + k spread, with None on the open side."""
    lower = None if side == "upper" else centre - k * spread
    upper = None if side == "lower" else centre + k * spread
    return lower, upper


def _one_sided_reliability(n: int, k: float, confidence: float) -> float:
    df, root_n = n - 1.0, float(np.sqrt(n))
    target = float(special.ndtri(confidence))

    def surplus(z: float) -> float:  # on the probit scale the distribution function is close to a straight line in z
        return _finite_probit(_noncentral_t(df, root_n * z, root_n * k)) - target

    # where the normal approximation puts the root, from which a nearly straight line leads to it in a few steps
    guess = k - target * math.sqrt(1.0 / n + k * k / (2.0 * df))
    if abs(guess) < _FURTHEST_Z - 2.0:
        found = root_of_nearly_straight(surplus, guess, step=0.01)
        if found is not None and abs(found) < _FURTHEST_Z:
            return float(special.ndtr(found))
    if surplus(_FURTHEST_Z) >= 0.0:
        return 1.0
    if surplus(-_FURTHEST_Z) <= 0.0:
        return 0.0
    return float(special.ndtr(root_between(surplus, -_FURTHEST_Z, _FURTHEST_Z)))


def one_sided_reliabilities(n: ArrayLike, k: ArrayLike, *, confidence: ArrayLike) -> np.ndarray:
    """`achieved_reliability` of many samples, each with one limit: a tenth of the time of one after another.

    Args:
        n: shape (m,), the numbers of values, each at least 2.
        k: shape (m,), by how many standard deviations each mean clears its limit; negative where it misses it.
        confidence: one fraction between 0 and 1, or shape (m,).
    """
    ks = np.asarray(k, dtype=float)
    df, root_n = np.asarray(n, dtype=float) - 1.0, np.sqrt(np.asarray(n, dtype=float))
    sure = np.broadcast_to(np.asarray(confidence, dtype=float), ks.shape)
    target = special.ndtri(sure)

    def surplus(z: np.ndarray, at: np.ndarray) -> np.ndarray:
        chance = special.nctdtr(df[at], root_n[at] * z, root_n[at] * ks[at])
        return np.asarray(np.clip(special.ndtri(chance), -_FURTHEST_PROBIT, _FURTHEST_PROBIT) - target[at])

    guess = ks - target * np.sqrt(1.0 / (df + 1.0) + ks * ks / (2.0 * df))
    found = roots_of_nearly_straight(surplus, guess, step=0.01)
    reliable = np.asarray(special.ndtr(found))
    # far out, or where the library has no value: each by itself, with all the care that takes
    for at in np.flatnonzero(~((np.abs(guess) < _FURTHEST_Z - 2.0) & (np.abs(found) < _FURTHEST_Z))).tolist():
        reliable[at] = _one_sided_reliability(int(df[at]) + 1, float(ks[at]), float(sure[at]))
    return reliable


def _two_sided_reliability(n: int, k: float, confidence: float) -> float:
    if k <= 0.0:
        return 0.0
    size, df, width = np.array([float(n)]), np.array([n - 1.0]), np.array([k])
    target = float(special.ndtri(1.0 - confidence))

    def surplus(log_z: float) -> float:
        outside = 2.0 * special.ndtr(-np.exp(np.array([log_z])))
        nodes = nodes_for(width, n=size, df=df, outside=outside, is_split=bool(outside[0] > 0.5))
        return _finite_probit(shortfall(width, df=df, nodes=nodes)[0][0]) - target

    nearest, furthest = float(np.log(_NEAREST_Z)), float(np.log(_FURTHEST_Z))
    if surplus(furthest) <= 0.0:
        return 1.0
    if surplus(nearest) >= 0.0:
        return 0.0
    z = np.exp(root_between(surplus, nearest, furthest))
    return float(1.0 - 2.0 * special.ndtr(-z))


def _noncentral_t(df: float, shift: float, t: float) -> float:
    """The distribution function, also far out where the library answers nan although it is 0 or 1 to all digits."""
    chance = float(special.nctdtr(df, shift, t))
    if math.isnan(chance):
        if t * shift <= 0.0:
            return float(t > 0.0)
        distance = (t - shift) / np.sqrt(1.0 + t * t / (2.0 * df))
        if abs(distance) > 9.0:
            return float(distance > 0.0)
        raise ArithmeticError(f"the noncentral t distribution has no value at df={df!r}, shift={shift!r}, t={t!r}")
    return chance


def _finite_probit(probability: float) -> float:
    return min(max(float(special.ndtri(probability)), -_FURTHEST_PROBIT), _FURTHEST_PROBIT)
