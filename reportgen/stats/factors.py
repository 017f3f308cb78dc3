"""Tolerance factors of a normal population: one-sided, two-sided, with a pooled or a known standard deviation.

The factor k makes mean - k sd (or mean + k sd, or the interval between mean -/+ k sd) hold at least the share
`coverage` of the population with probability `confidence`. sd always has the divisor n - 1.

Digits. One-sided factors come from the noncentral t quantile of scipy.special (1.16 or later: before, it kept 7 digits
only; R's `qt` loses the fourth digit where sqrt(n) z passes 37.62, and is no oracle there). Every quantile is put back
into the distribution function, and one that does not return to its confidence within 1e-12 raises. Next to k = 0 (a
coverage of one half with a confidence of one half) that function itself keeps only 8 digits; k is then right to 1e-8.
"""

from __future__ import annotations

from typing import overload

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from reportgen.stats.arguments import FloatArray, settle_counts, settle_fractions
from reportgen.stats.two_sided_content import half_width, solve_factor

_ROUND_TRIP = 1e-12
_NEXT_TO_ZERO, _ROUND_TRIP_NEXT_TO_ZERO = 1e-4, 1e-8
_FACTORS_AT_ONCE = 256  # 48 nodes each: their arrays then stay in the processor's cache


@overload
def one_sided_factor(n: int, *, confidence: float, coverage: float) -> float: ...
@overload
def one_sided_factor(n: ArrayLike, *, confidence: ArrayLike, coverage: ArrayLike) -> float | FloatArray: ...
def one_sided_factor(n: ArrayLike, *, confidence: ArrayLike, coverage: ArrayLike) -> float | FloatArray:
    """Exact factor for a one-sided normal tolerance bound, mean - k sd or mean + k sd.

    Args:
        n: number of values, at least 2.
        confidence, coverage: fractions, each strictly between 0 and 1. All three broadcast; the answer is a float
            where all are single numbers.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: k = t'(confidence; n - 1, sqrt(n) z_coverage) / sqrt(n), noncentral t; e.g. NIST/SEMATECH e-Handbook
        7.2.6.3. Checked: 40-digit integration for n 2 to 10,000, confidence 0.5 to 0.9999, coverage 0.5 to 0.99999,
        to 1e-13; 288 printed factors of Montgomery and Runger, table XII.
    """
    sizes = settle_counts("n", n, minimum=2)
    return _one_sided(sizes, sizes - 1.0, confidence, coverage)


@overload
def one_sided_factor_pooled(n: int, *, df: int, confidence: float, coverage: float) -> float: ...
@overload
def one_sided_factor_pooled(
    n: ArrayLike, *, df: ArrayLike, confidence: ArrayLike, coverage: ArrayLike
) -> float | FloatArray: ...
def one_sided_factor_pooled(
    n: ArrayLike, *, df: ArrayLike, confidence: ArrayLike, coverage: ArrayLike
) -> float | FloatArray:
    """As `one_sided_factor`, with a standard deviation pooled over several lots that share it.

    Args:
        n: number of values behind the mean, at least 1.
        df: degrees of freedom of the pooled standard deviation, at least 1: the sum of (n_i - 1).
    """
    return _one_sided(settle_counts("n", n, minimum=1), settle_counts("df", df, minimum=1), confidence, coverage)


@overload
def one_sided_factor_known_sd(n: int, *, confidence: float, coverage: float) -> float: ...
@overload
def one_sided_factor_known_sd(n: ArrayLike, *, confidence: ArrayLike, coverage: ArrayLike) -> float | FloatArray: ...
def one_sided_factor_known_sd(n: ArrayLike, *, confidence: ArrayLike, coverage: ArrayLike) -> float | FloatArray:
    """As `one_sided_factor`, for a standard deviation known beforehand: z_coverage + z_confidence / sqrt(n)."""
    sizes = settle_counts("n", n, minimum=1)
    sure, share = settle_fractions("confidence", confidence), settle_fractions("coverage", coverage)
    return _as_given(special.ndtri(share) + special.ndtri(sure) / np.sqrt(sizes))


@overload
def two_sided_factor(n: int, *, confidence: float, coverage: float) -> float: ...
@overload
def two_sided_factor(n: ArrayLike, *, confidence: ArrayLike, coverage: ArrayLike) -> float | FloatArray: ...
def two_sided_factor(n: ArrayLike, *, confidence: ArrayLike, coverage: ArrayLike) -> float | FloatArray:
    """Exact factor for the two-sided normal tolerance interval, mean -/+ k sd: control of the share between the limits.

    Not an approximation: the widely printed ones of Howe and of Guenther differ in the third digit (n = 10, 95/95:
    exact 3.3934, older tables 3.379). It bounds the share between both limits together, not each tail.

    Args:
        n: number of values, at least 2.
        confidence, coverage: fractions, each strictly between 0 and 1. All three broadcast; the answer is a float
            where all are single numbers.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: see `two_sided_content`. Checked: 48 values integrated with 50 digits, to 1e-13; the 690 entries of
        ISO 16269-6:2014 Annex F, which rounds up.
    """
    sizes = settle_counts("n", n, minimum=2)
    return _two_sided(sizes, sizes - 1.0, confidence, coverage, is_pooled=False)


@overload
def two_sided_factor_pooled(n: int, *, df: int, confidence: float, coverage: float) -> float: ...
@overload
def two_sided_factor_pooled(
    n: ArrayLike, *, df: ArrayLike, confidence: ArrayLike, coverage: ArrayLike
) -> float | FloatArray: ...
def two_sided_factor_pooled(
    n: ArrayLike, *, df: ArrayLike, confidence: ArrayLike, coverage: ArrayLike
) -> float | FloatArray:
    """As `two_sided_factor`, with a standard deviation pooled over several lots that share it (ISO 16269-6 Annex F).

    Args:
        n: number of values behind the mean, at least 1.
        df: degrees of freedom of the pooled standard deviation, at least 1: the sum of (n_i - 1).
    """
    sizes, freedom = settle_counts("n", n, minimum=1), settle_counts("df", df, minimum=1)
    return _two_sided(sizes, freedom, confidence, coverage, is_pooled=True)


@overload
def two_sided_factor_known_sd(n: int, *, confidence: float, coverage: float) -> float: ...
@overload
def two_sided_factor_known_sd(n: ArrayLike, *, confidence: ArrayLike, coverage: ArrayLike) -> float | FloatArray: ...
def two_sided_factor_known_sd(n: ArrayLike, *, confidence: ArrayLike, coverage: ArrayLike) -> float | FloatArray:
    """As `two_sided_factor`, for a standard deviation known beforehand, not estimated.

    Exact: the share held falls as the sample mean strays, and the mean strays at most z_{(1+confidence)/2} / sqrt(n)
    with that confidence.
    """
    sizes = settle_counts("n", n, minimum=1)
    sure, share = settle_fractions("confidence", confidence), settle_fractions("coverage", coverage)
    sizes, sure, share = np.broadcast_arrays(sizes, sure, share)
    strays = -special.ndtri((1.0 - sure) / 2.0) / np.sqrt(sizes)
    return _as_given(half_width(strays, 1.0 - share))


def _one_sided(sizes: FloatArray, df: FloatArray, confidence: ArrayLike, coverage: ArrayLike) -> float | FloatArray:
    sure, share = settle_fractions("confidence", confidence), settle_fractions("coverage", coverage)
    root_n = np.sqrt(sizes)
    shift = root_n * special.ndtri(share)
    t = np.where(shift == 0.0, special.stdtrit(df, sure), special.nctdtrit(df, shift, sure))
    allowed = np.where(np.abs(t) < _NEXT_TO_ZERO, _ROUND_TRIP_NEXT_TO_ZERO, _ROUND_TRIP)
    is_met = np.abs(special.nctdtr(df, shift, t) - sure) <= allowed
    if not np.all(is_met):
        worst = np.argmin(is_met)
        n, freedom, c, p = (float(np.broadcast_to(x, is_met.shape).flat[worst]) for x in (sizes, df, sure, share))
        raise ArithmeticError(
            f"the noncentral t quantile is not accurate for n={n:g}, df={freedom:g}, confidence={c!r}, coverage={p!r}"
        )
    return _as_given(t / root_n)


def _two_sided(
    sizes: FloatArray, df: FloatArray, confidence: ArrayLike, coverage: ArrayLike, *, is_pooled: bool
) -> float | FloatArray:
    sure, share = settle_fractions("confidence", confidence), settle_fractions("coverage", coverage)
    given = np.broadcast_arrays(sizes, df, 1.0 - sure, 1.0 - share)
    n, freedom, unsure, outside = (array.ravel() for array in given)
    factors = np.empty_like(outside)
    for is_split in (False, True):
        chosen = np.flatnonzero((outside > 0.5) | is_pooled == is_split)
        for start in range(0, chosen.size, _FACTORS_AT_ONCE):
            part = chosen[start : start + _FACTORS_AT_ONCE]
            factors[part] = solve_factor(
                n=n[part], df=freedom[part], unsure=unsure[part], outside=outside[part], is_split=is_split
            )
    return _as_given(factors.reshape(given[0].shape))


def _as_given(factors: FloatArray) -> float | FloatArray:
    return factors if np.ndim(factors) else float(factors)
