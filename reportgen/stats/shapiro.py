"""The Shapiro-Wilk test of normality."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from reportgen.stats.arguments import FloatArray, settle_unequal
from reportgen.stats.normality import polynomial
from reportgen.stats.records import Check
from reportgen.stats.rows import in_rows

_LARGEST = 5000


def shapiro_wilk(values: ArrayLike) -> Check:
    """Shapiro-Wilk test of normality in Royston's version.

    Args:
        values: shape (n,), 3 <= n <= 5000, finite, not all equal.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Royston, Applied Statistics 44 (1995) 547-551, algorithm AS R94. Coefficients are approximate, so W is alike
    to 8 digits between implementations; p is exact for n = 3, otherwise a fit within 0.003 of the truth below p = 0.1.
    """
    return shapiro_wilks([values])[0]


def shapiro_wilks(samples: Sequence[ArrayLike]) -> tuple[Check, ...]:
    """`shapiro_wilk` of many samples: those of one size are worked out together, with the same answers."""
    settled = [_sample_of_permitted_size(values) for values in samples]
    return tuple(
        Check(
            name="Shapiro-Wilk",
            statistic=1 - shortfall,
            p_value=_shapiro_p(shortfall, n),
            n=n,
            method="Royston's algorithm AS R94",
        )
        for shortfall, n in in_rows(settled, _shortfalls)
    )


def _sample_of_permitted_size(values: ArrayLike) -> FloatArray:
    sample = settle_unequal(values, minimum=3)
    if sample.size > _LARGEST:
        raise ValueError(
            f"values: {sample.size} given; the approximation of the Shapiro-Wilk test is valid for 3 to {_LARGEST}"
            " values"
        )
    return sample


def _shortfalls(rows: FloatArray) -> FloatArray:
    """1 - W of each row, without cancellation."""
    rows = np.sort(rows, axis=1)
    weights = _shapiro_weights(rows.shape[1])
    deviations = (rows - rows.mean(axis=1, keepdims=True)) / (rows[:, -1:] - rows[:, :1])
    projections = np.add.reduce(weights * deviations, axis=1)
    sizes = np.sqrt(float(weights @ weights) * np.add.reduce(deviations * deviations, axis=1))
    return np.asarray(np.maximum((sizes - projections) * (sizes + projections) / sizes**2, 0.0))


@lru_cache(maxsize=256)
def _shapiro_weights(n: int) -> FloatArray:
    """Antisymmetric coefficients of the ordered values; shared, not to be changed."""
    weights = _new_shapiro_weights(n)
    weights.flags.writeable = False
    return weights


def _new_shapiro_weights(n: int) -> FloatArray:
    if n == 3:
        return np.array([-math.sqrt(0.5), 0.0, math.sqrt(0.5)])
    scores = ndtri((np.arange(1, n + 1) - 0.375) / (n + 0.25))
    total = float(scores @ scores)
    root = 1 / math.sqrt(n)
    last = scores[-1] / math.sqrt(total) + polynomial((0.0, 0.221157, -0.147981, -2.07119, 4.434685, -2.706056), root)
    weights = scores.copy()
    if n <= 5:
        weights *= math.sqrt((1 - 2 * last**2) / (total - 2 * scores[-1] ** 2))
    else:
        next_to_last = scores[-2] / math.sqrt(total) + polynomial(
            (0.0, 0.042981, -0.293762, -1.752461, 5.682633, -3.582633), root
        )
        inner = total - 2 * scores[-1] ** 2 - 2 * scores[-2] ** 2
        weights *= math.sqrt((1 - 2 * last**2 - 2 * next_to_last**2) / inner)
        weights[1], weights[-2] = -next_to_last, next_to_last
    weights[0], weights[-1] = -last, last
    return weights


def _shapiro_p(shortfall: float, n: int) -> float:
    if n == 3:
        return max(6 / math.pi * (math.asin(math.sqrt(1 - shortfall)) - math.asin(math.sqrt(0.75))), 0.0)
    if shortfall == 0.0:
        return 1.0
    log_shortfall = math.log(shortfall)
    if n <= 11:
        bound = polynomial((-2.273, 0.459), n)
        if log_shortfall >= bound:
            return 0.0
        score = -math.log(bound - log_shortfall)
        mean = polynomial((0.5440, -0.39978, 0.025054, -0.6714e-3), n)
        sd = math.exp(polynomial((1.3822, -0.77857, 0.062767, -0.0020322), n))
    else:
        score = log_shortfall
        mean = polynomial((-1.5861, -0.31082, -0.083751, 0.0038915), math.log(n))
        sd = math.exp(polynomial((-0.4803, -0.082676, 0.0030302), math.log(n)))
    return float(ndtr((mean - score) / sd))
