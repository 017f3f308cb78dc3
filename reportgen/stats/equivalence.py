"""Two samples side by side: are they equal within a declared margin, and how do their means and spreads relate?

Used for two test methods, lots, devices or laboratories. `a` is always compared with `b`: a - b, a / b.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import fdtrc, fdtri, gammaln, nctdtr, stdtr, stdtrit

from reportgen.stats.arguments import FloatArray, settle_fraction, settle_numbers, settle_sample
from reportgen.stats.roots import root_from


@dataclass(frozen=True, slots=True, kw_only=True)
class Equivalence:
    """Two one-sided tests: `p_value` is the larger of the two, `lower` and `upper` the interval of 1 - 2 alpha.

    The samples are equivalent at `alpha` just when that interval lies inside the margin. Not equivalent does not mean
    different: the samples may be too few to tell.
    """

    difference: float
    standard_error: float
    df: float
    p_lower: float
    p_upper: float
    p_value: float
    lower: float
    upper: float
    margin: tuple[float, float]
    alpha: float
    is_equivalent: bool
    n: tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """An estimate with its confidence interval; an end is None where the data do not bound it."""

    name: str
    estimate: float
    lower: float | None
    upper: float | None
    confidence: float
    p_value: float | None
    df: tuple[float, ...]
    n: tuple[int, int]
    method: str


def equivalence(a: ArrayLike, b: ArrayLike, *, margin: float | tuple[float, float], alpha: float) -> Equivalence:
    """Is the difference of the means inside a margin declared beforehand? Two one-sided Welch tests.

    Args:
        a, b: shape (n,), n >= 2, finite, not both constant; normal populations, spreads may differ.
        margin: the largest difference that does not matter, above 0, or (low, high) with low < high.
        alpha: chance of calling samples equivalent that are at the margin, a fraction below 0.5.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Schuirmann, J. Pharmacokinetics Biopharmaceutics 15 (1987) 657-680, with Welch's degrees of freedom.
    """
    first, second = _settle_pair(a, b)
    low, high = _settle_margin(margin)
    if settle_fraction("alpha", alpha) >= 0.5:
        raise ValueError(f"alpha must be below 0.5; got {alpha!r}")
    difference, error, df = _welch(first, second)
    p_lower = float(stdtr(df, -(difference - low) / error))
    p_upper = float(stdtr(df, (difference - high) / error))
    half_width = float(stdtrit(df, 1 - alpha)) * error
    p_value = max(p_lower, p_upper)
    return Equivalence(
        difference=difference,
        standard_error=error,
        df=df,
        p_lower=p_lower,
        p_upper=p_upper,
        p_value=p_value,
        lower=difference - half_width,
        upper=difference + half_width,
        margin=(low, high),
        alpha=alpha,
        is_equivalent=p_value < alpha,
        n=(first.size, second.size),
    )


def difference_of_means(a: ArrayLike, b: ArrayLike, *, confidence: float) -> Comparison:
    """Mean of a less mean of b, with Welch's interval (spreads may differ).

    Args:
        a, b: shape (n,), n >= 2, finite, not both constant. confidence: a fraction.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Welch, Biometrika 34 (1947) 28-35 (an approximation).
    """
    first, second = _settle_pair(a, b)
    settle_fraction("confidence", confidence)
    difference, error, df = _welch(first, second)
    half_width = float(stdtrit(df, (1 + confidence) / 2)) * error
    return Comparison(
        name="difference of means",
        estimate=difference,
        lower=difference - half_width,
        upper=difference + half_width,
        confidence=confidence,
        p_value=float(2 * stdtr(df, -abs(difference) / error)),
        df=(df,),
        n=(first.size, second.size),
        method="Welch, spreads may differ",
    )


def ratio_of_means(a: ArrayLike, b: ArrayLike, *, confidence: float) -> Comparison:
    """Mean of a over mean of b, with Fieller's interval, separate variances and Welch's degrees of freedom.

    Args:
        a, b: shape (n,), n >= 2, finite, not both constant; the mean of b is not 0. confidence: a fraction.
    Returns: both ends are None where the mean of b is not clearly different from 0: no ratio can then be excluded, and
        no transfer from one to the other is supported.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Fieller, J. Royal Statistical Society B 16 (1954) 175-185; degrees of freedom by Satterthwaite at the
    estimated ratio (an approximation; simulated coverage is in the tests).
    """
    first, second = _settle_pair(a, b)
    settle_fraction("confidence", confidence)
    mean_a, mean_b = float(first.mean()), float(second.mean())
    if mean_b == 0:
        raise ValueError("b must have a mean other than 0, or there is no ratio; got a mean of 0.0")
    share_a, share_b = float(first.var(ddof=1)) / first.size, float(second.var(ddof=1)) / second.size
    ratio = mean_a / mean_b
    scaled = ratio**2 * share_b
    df = (share_a + scaled) ** 2 / (share_a**2 / (first.size - 1) + scaled**2 / (second.size - 1))
    t_squared = float(stdtrit(df, (1 + confidence) / 2)) ** 2
    # The ratios r with (mean_a - r mean_b)^2 <= t^2 (share_a + r^2 share_b) lie between the roots of a parabola.
    square = mean_b**2 - t_squared * share_b
    lower = upper = None
    if square > 0:
        middle = mean_a * mean_b
        reach = math.sqrt(max(middle**2 - square * (mean_a**2 - t_squared * share_a), 0.0))
        lower, upper = (middle - reach) / square, (middle + reach) / square
    return Comparison(
        name="ratio of means",
        estimate=ratio,
        lower=lower,
        upper=upper,
        confidence=confidence,
        p_value=None,
        df=(df,),
        n=(first.size, second.size),
        method="Fieller, separate variances",
    )


def variance_ratio(a: ArrayLike, b: ArrayLike, *, confidence: float) -> Comparison:
    """Variance of a over variance of b, with the exact F interval; sensitive to populations that are not normal.

    Args:
        a, b: shape (n,), n >= 2, finite, neither constant. confidence: a fraction.
    Returns: `p_value` is two-sided, against a ratio of 1.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    first, second = _settle_pair(a, b)
    settle_fraction("confidence", confidence)
    for name, sample in (("a", first), ("b", second)):
        if np.ptp(sample) == 0:
            raise ValueError(f"{name} must vary; got {sample.size} times {float(sample[0])!r}")
    df_a, df_b = first.size - 1, second.size - 1
    ratio = float(first.var(ddof=1) / second.var(ddof=1))
    above = float(fdtrc(df_a, df_b, ratio))
    below = float(fdtrc(df_b, df_a, 1 / ratio))
    return Comparison(
        name="variance ratio",
        estimate=ratio,
        lower=ratio / float(fdtri(df_a, df_b, (1 + confidence) / 2)),
        upper=ratio * float(fdtri(df_b, df_a, (1 + confidence) / 2)),
        confidence=confidence,
        p_value=min(2 * min(above, below), 1.0),
        df=(float(df_a), float(df_b)),
        n=(first.size, second.size),
        method="F, normal populations",
    )


def standardized_effect(a: ArrayLike, b: ArrayLike, *, confidence: float) -> Comparison:
    """Difference of the means in pooled standard deviations, corrected for its bias (Hedges' g).

    Args:
        a, b: shape (n,), n >= 2, finite, not both constant; normal with equal spread. confidence: a fraction.
    Returns: the interval is exact for the population's effect, by inverting the noncentral t distribution (an end is
        None where that cannot be computed, thousands of sd out); `p_value` is that of the t-test with equal spreads.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Hedges, J. Educational Statistics 6 (1981) 107-128; Steiger and Fouladi 1997 for the interval.
    """
    first, second = _settle_pair(a, b)
    settle_fraction("confidence", confidence)
    df = first.size + second.size - 2
    pooled = math.sqrt((float(np.sum((first - first.mean()) ** 2)) + float(np.sum((second - second.mean()) ** 2))) / df)
    root_size = math.sqrt(first.size * second.size / (first.size + second.size))
    t = float(first.mean() - second.mean()) / pooled * root_size
    correction = math.exp(float(gammaln(df / 2) - gammaln((df - 1) / 2))) / math.sqrt(df / 2)

    def effect_where_t_has(probability: float) -> float | None:
        try:
            return root_from(lambda shift: float(nctdtr(df, shift, t)) - probability, t, step=1.0) / root_size
        except ArithmeticError:  # the noncentral t has no value so far out: samples thousands of their sd apart
            return None

    return Comparison(
        name="standardized effect",
        estimate=t / root_size * correction,
        lower=effect_where_t_has((1 + confidence) / 2),
        upper=effect_where_t_has((1 - confidence) / 2),
        confidence=confidence,
        p_value=float(2 * stdtr(df, -abs(t))),
        df=(float(df),),
        n=(first.size, second.size),
        method="Hedges' g; interval from the noncentral t, equal spreads assumed",
    )


def _welch(first: FloatArray, second: FloatArray) -> tuple[float, float, float]:
    share_a, share_b = float(first.var(ddof=1)) / first.size, float(second.var(ddof=1)) / second.size
    df = (share_a + share_b) ** 2 / (share_a**2 / (first.size - 1) + share_b**2 / (second.size - 1))
    return float(first.mean() - second.mean()), math.sqrt(share_a + share_b), df


def _settle_pair(a: ArrayLike, b: ArrayLike) -> tuple[FloatArray, FloatArray]:
    first, second = settle_sample(a, name="a"), settle_sample(b, name="b")
    if np.ptp(first) == 0 and np.ptp(second) == 0:
        raise ValueError(f"a and b are both constant ({float(first[0])!r}, {float(second[0])!r}); one must vary")
    return first, second


def _settle_margin(margin: float | tuple[float, float]) -> tuple[float, float]:
    ends = settle_numbers("margin", margin)
    if ends.ndim == 0:
        if ends <= 0:
            raise ValueError(f"margin must be above 0; got {margin!r}")
        return -float(ends), float(ends)
    if ends.shape != (2,) or ends[0] >= ends[1]:
        raise ValueError(f"margin must be one number above 0 or (low, high) with low < high; got {margin!r}")
    return float(ends[0]), float(ends[1])
