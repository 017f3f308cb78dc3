"""Does a sample contradict a normal population? Three tests, the shape coefficients, the fineness of the readings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import expit, log_ndtr, ndtr

from reportgen.stats.arguments import FloatArray, settle_count, settle_positive, settle_sample, settle_unequal
from reportgen.stats.records import Check
from reportgen.stats.rows import in_rows

Fit = Literal["normal", "lognormal", "weibull"]

# Rounding to steps of h adds about 0.04 n (h/sd)^2 to A2, so the steps needed grow with sqrt(n). Simulated with this
# factor (tests/stats/test_normality.py): the Anderson-Darling test at 5 % then rejects normal samples in at most 11 %.
STEPS_PER_SD_OVER_ROOT_N = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class ResolutionCheck:
    """Are the readings fine enough for their spread? `step` is the smallest difference between two unequal readings.

    A sample read too coarsely may fail a test of normality because of the reading, not because of the population.
    """

    n: int
    n_distinct: int
    step: float
    sd: float
    steps_per_sd: float
    steps_per_sd_needed: float
    is_too_coarse: bool


def anderson_darling(values: ArrayLike) -> Check:
    """Anderson-Darling test of normality, mean and standard deviation estimated from the sample.

    Args:
        values: shape (n,), n >= 3, finite, not all equal.
    Returns: `statistic` is A2 without adjustment; `p_value` is None for n < 8, where no formula is published.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: D'Agostino and Stephens, Goodness-of-Fit Techniques, 1986, section 4.8 and table 4.9. The p-value is a
    formula fitted to simulations: within 0.003 of the truth below p = 0.1, up to 0.04 off when p is large.
    """
    return anderson_darlings([values])[0]


def anderson_darlings(samples: Sequence[ArrayLike]) -> tuple[Check, ...]:
    """`anderson_darling` of many samples: those of one size are worked out together, with the same answers."""
    settled = [settle_unequal(values, minimum=3) for values in samples]
    return tuple(_anderson_check(a2, n) for a2, n in in_rows(settled, _normal_a2_of_rows))


def normal_a2(sample: FloatArray) -> float:
    """A2 of a settled sample against the normal with its own mean and standard deviation."""
    return float(_normal_a2_of_rows(sample[np.newaxis])[0])


def _normal_a2_of_rows(rows: FloatArray) -> FloatArray:
    n = rows.shape[1]
    z = (np.sort(rows, axis=1) - rows.mean(axis=1, keepdims=True)) / rows.std(axis=1, ddof=1, keepdims=True)
    weights = 2 * np.arange(1, n + 1) - 1
    return np.asarray(-n - np.mean(weights * (log_ndtr(z) + log_ndtr(-z)[:, ::-1]), axis=1))


def _anderson_check(a2: float, n: int) -> Check:
    return Check(
        name="Anderson-Darling",
        statistic=a2,
        p_value=anderson_darling_p_value(a2 * (1 + 0.75 / n + 2.25 / n**2)) if n >= 8 else None,
        n=n,
        method="normal, mean and sd estimated; p by the formula of D'Agostino and Stephens (n of 8 or more)",
    )


def anderson_darling_terms(values: ArrayLike) -> tuple[float, ...]:
    """Each value's part of A2, in the order given: A2 = -n - (sum of the parts) / n. Equal values share their ranks.

    Args:
        values: shape (n,), n >= 3, finite, not all equal.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    sample = settle_unequal(values, minimum=3)
    z, ordered = (sample - sample.mean()) / sample.std(ddof=1), np.sort(sample)
    rank = (np.searchsorted(ordered, sample, side="left") + np.searchsorted(ordered, sample, side="right") + 1) / 2
    parts = (2 * rank - 1) * log_ndtr(z) + (2 * (sample.size - rank) + 1) * log_ndtr(-z)
    return tuple(float(part) for part in parts)


def a2_of_log_probabilities(log_below: FloatArray, log_above: FloatArray) -> float:
    """A2 from log F and log (1 - F) at the ordered values; logs keep the far tails, where F rounds to 0 or 1."""
    n = log_below.size
    weights = 2 * np.arange(1, n + 1) - 1
    return float(-n - np.mean(weights * (log_below + log_above[::-1])))


def anderson_darling_p_value(adjusted: float) -> float:
    """The p-value of A2 (1 + 0.75/n + 2.25/n^2), n of 8 or more. Source: as `anderson_darling`."""
    if adjusted < 0.2:
        return -math.expm1(-13.436 + 101.14 * adjusted - 223.73 * adjusted**2)
    if adjusted < 0.34:
        return -math.expm1(-8.318 + 42.796 * adjusted - 59.938 * adjusted**2)
    if adjusted < 0.6:
        return math.exp(0.9177 - 4.279 * adjusted - 1.38 * adjusted**2)
    # The parabola turns upwards at 153, so it is held at its value at 10 (3.7e-24).
    largest = min(adjusted, 10.0)
    return math.exp(1.2937 - 5.709 * largest + 0.0186 * largest**2)


def cmh17_significance_level(a2: float, *, n: int, distribution: Fit) -> float:
    """Observed significance level of an Anderson-Darling statistic, as the composites handbook computes it.

    Args:
        a2: unadjusted statistic of a fit with estimated parameters, above 0.
        n: how many values, n >= 4. distribution: "normal", "lognormal" (A2 of the logarithms) or "weibull".
    Returns: a level meant for decisions near 0.05 (within 0.02 below 0.1); large values are up to 0.22 off.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: CMH-17-1G (2012), section 8.3 (sub-section 8.3.6.5 from memory).
    """
    settle_positive("a2", a2)
    settle_count("n", n, minimum=4)  # the adjustment for n is negative for 3
    if distribution not in ("normal", "lognormal", "weibull"):
        raise ValueError(f"distribution must be 'normal', 'lognormal' or 'weibull'; got {distribution!r}")
    if distribution == "weibull":
        adjusted = (1 + 0.2 / math.sqrt(n)) * a2
        return float(expit(0.10 - 1.24 * math.log(adjusted) - 4.48 * adjusted))
    adjusted = (1 + 4 / n - 25 / n**2) * a2
    return float(expit(0.48 - 0.78 * math.log(adjusted) - 4.58 * adjusted))


def lilliefors(values: ArrayLike) -> Check:
    """Kolmogorov-Smirnov distance from the normal with estimated mean and standard deviation (Lilliefors' test).

    Args:
        values: shape (n,), n >= 5, finite, not all equal.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Dallal and Wilkinson, The American Statistician 40 (1986) 294-296, for p up to 0.1; above that the
    polynomials of Stephens' modified statistic as general statistics packages use them. Within 0.01 of the truth.
    """
    sample = np.sort(settle_unequal(values, minimum=5))
    n = sample.size
    fitted = ndtr((sample - sample.mean()) / sample.std(ddof=1))
    above = np.max(np.arange(1, n + 1) / n - fitted)
    below = np.max(fitted - np.arange(n) / n)
    distance = float(max(above, below))
    return Check(
        name="Lilliefors",
        statistic=distance,
        p_value=_lilliefors_p(distance, n),
        n=n,
        method="normal, mean and sd estimated; p by Dallal and Wilkinson up to 0.1, modified statistic above",
    )


def _lilliefors_p(distance: float, n: int) -> float:
    scaled, size = (distance * (n / 100) ** 0.49, 100) if n > 100 else (distance, n)
    shifted = size + 2.78019
    p_value = math.exp(
        -7.01256 * scaled**2 * shifted
        + 2.99587 * scaled * math.sqrt(shifted)
        - 0.122119
        + 0.974598 / math.sqrt(size)
        + 1.67997 / size
    )
    if p_value <= 0.1:
        return p_value
    modified = (math.sqrt(n) - 0.01 + 0.85 / math.sqrt(n)) * distance
    if modified <= 0.302:
        return 1.0
    if modified <= 0.5:
        return polynomial((2.76773, -19.828315, 80.709644, -138.55152, 81.218052), modified)
    return polynomial((-4.901232, 40.662806, -97.490286, 94.029866, -32.355711), modified)


def skewness(values: ArrayLike) -> Check:
    """Skewness of the sample, tested against the 0 of a normal population.

    Args:
        values: shape (n,), n >= 8, finite, not all equal.
    Returns: `statistic` is the adjusted coefficient sqrt(n (n-1)) / (n-2) g1; `p_value` is two-sided.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: D'Agostino, Biometrika 57 (1970) 679-681 (an S_U curve, close for n of 8 or more).
    """
    sample = settle_unequal(values, minimum=8)
    n = sample.size
    g1 = _standard_moment(sample, 3)
    scaled = g1 * math.sqrt((n + 1) * (n + 3) / (6 * (n - 2)))
    beta2 = 3 * (n**2 + 27 * n - 70) * (n + 1) * (n + 3) / ((n - 2) * (n + 5) * (n + 7) * (n + 9))
    w2 = math.sqrt(2 * (beta2 - 1)) - 1
    z = math.asinh(scaled / math.sqrt(2 / (w2 - 1))) / math.sqrt(0.5 * math.log(w2))
    return Check(
        name="skewness",
        statistic=g1 * math.sqrt(n * (n - 1)) / (n - 2),
        p_value=float(2 * ndtr(-abs(z))),
        n=n,
        method="adjusted coefficient; D'Agostino's test",
    )


def kurtosis(values: ArrayLike) -> Check:
    """Excess kurtosis of the sample, tested against the 0 of a normal population.

    Args:
        values: shape (n,), n >= 4, finite, not all equal.
    Returns: `statistic` is the adjusted coefficient G2; `p_value` is two-sided, None for n < 20 (not valid).
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Anscombe and Glynn, Biometrika 70 (1983) 227-234.
    """
    sample = settle_unequal(values, minimum=4)
    n = sample.size
    g2 = _standard_moment(sample, 4) - 3
    return Check(
        name="kurtosis",
        statistic=(n - 1) / ((n - 2) * (n - 3)) * ((n + 1) * g2 + 6),
        p_value=_kurtosis_p(g2 + 3, n) if n >= 20 else None,
        n=n,
        method="adjusted excess coefficient; test of Anscombe and Glynn (n of 20 or more)",
    )


def _kurtosis_p(b2: float, n: int) -> float:
    mean = 3 * (n - 1) / (n + 1)
    variance = 24 * n * (n - 2) * (n - 3) / ((n + 1) ** 2 * (n + 3) * (n + 5))
    skew = 6 * (n**2 - 5 * n + 2) / ((n + 7) * (n + 9)) * math.sqrt(6 * (n + 3) * (n + 5) / (n * (n - 2) * (n - 3)))
    a = 6 + 8 / skew * (2 / skew + math.sqrt(1 + 4 / skew**2))
    standard = (b2 - mean) / math.sqrt(variance)
    base = (1 - 2 / a) / (1 + standard * math.sqrt(2 / (a - 4)))
    z = (1 - 2 / (9 * a) - math.copysign(abs(base) ** (1 / 3), base)) / math.sqrt(2 / (9 * a))
    return float(2 * ndtr(-abs(z)))


def resolution_check(values: ArrayLike) -> ResolutionCheck:
    """Too few distinct readings for the spread? Then a test of normality may reject for that harmless reason.

    Args:
        values: shape (n,), n >= 2, finite. All equal counts as too coarse, with a step of 0.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: own simulation of the Anderson-Darling test on rounded normal samples, see STEPS_PER_SD_OVER_ROOT_N.
    """
    sample = settle_sample(values)
    sd = float(sample.std(ddof=1))
    ordered = np.sort(sample)
    # Readings such as 0.1 + 0.2 and 0.3 are one reading: differences at the level of the last bits do not count.
    gaps = np.diff(ordered)
    real = gaps[gaps > 1e-12 * np.max(np.abs(ordered))]
    step = float(real.min()) if real.size else 0.0
    steps_per_sd = sd / step if step > 0 else 0.0
    needed = STEPS_PER_SD_OVER_ROOT_N * math.sqrt(sample.size)
    return ResolutionCheck(
        n=sample.size,
        n_distinct=int(real.size) + 1,
        step=step,
        sd=sd,
        steps_per_sd=steps_per_sd,
        steps_per_sd_needed=needed,
        is_too_coarse=steps_per_sd < needed,
    )


def _standard_moment(sample: FloatArray, order: int) -> float:
    deviations = sample - sample.mean()
    return float(np.mean(deviations**order) / np.mean(deviations**2) ** (order / 2))


def polynomial(coefficients: tuple[float, ...], x: float) -> float:
    total = 0.0
    for coefficient in reversed(coefficients):
        total = total * x + coefficient
    return total
