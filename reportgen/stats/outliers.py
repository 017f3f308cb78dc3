"""Values far from the rest: found and reported, never removed. What becomes of one is for people who know its cause."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtr, stdtrit

from reportgen.stats.arguments import FloatArray, settle_count, settle_fraction, settle_side, settle_unequal
from reportgen.stats.records import OutlierCheck, Side
from reportgen.stats.rows import in_rows


@dataclass(frozen=True, slots=True, kw_only=True)
class ManyOutliers:
    """The suspects of a generalized ESD test, the most extreme first, each held against its own critical value.

    `indices` are all suspects' positions in the data as given; the first `n_outliers` of them are outliers at `alpha`.
    """

    indices: tuple[int, ...]
    statistics: tuple[float, ...]
    critical_values: tuple[float, ...]
    n_outliers: int
    alpha: float
    n: int


def grubbs(values: ArrayLike, *, side: Side, alpha: float) -> OutlierCheck:
    """Grubbs' test of the smallest ("lower"), the largest ("upper") or the most distant value ("both").

    Args:
        values: shape (n,), n >= 3, finite, not all equal.
        alpha: chance of calling a value of a normal sample an outlier, a fraction.
    Returns: `p_value` is the Bonferroni bound n P(T > t) (twice that for "both"), at most 1: exact where the statistic
        is so large that only one value can exceed it, slightly too large otherwise.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Grubbs, Technometrics 11 (1969) 1-21. Checked: NIST/SEMATECH e-Handbook 1.3.5.17.1, R 4.2.2.
    """
    sample = settle_unequal(values, minimum=3)
    distances = _normed_residuals(sample)
    if settle_side(side) == "both":
        distances = np.abs(distances)
    index = int(np.argmin(distances) if side == "lower" else np.argmax(distances))
    return _outlier_check("Grubbs", abs(float(distances[index])), index=index, n=sample.size, side=side, alpha=alpha)


def maximum_normed_residual(values: ArrayLike, *, alpha: float) -> OutlierCheck:
    """The most distant value in standard deviations from the mean, as the composites handbook tests it.

    Args:
        values: shape (n,), n >= 3, finite, not all equal.
        alpha: chance of calling a value of a normal sample an outlier, a fraction.
    Returns: the two-sided Grubbs test under the handbook's name.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: CMH-17-1G (2012), section 8.3.3 (from memory). Checked: its example 8.3.11.1.1, cmstatr 0.9.1.
    """
    return maximum_normed_residuals([values], alpha=alpha)[0]


def maximum_normed_residuals(samples: Sequence[ArrayLike], *, alpha: float) -> tuple[OutlierCheck, ...]:
    """`maximum_normed_residual` of many samples: those of one size are worked out together, with the same answers."""
    settled = [settle_unequal(values, minimum=3) for values in samples]
    farthest = [int(position) for position, _ in in_rows(settled, _farthest)]
    return tuple(
        _outlier_check("maximum normed residual", statistic, index=index, n=n, side="both", alpha=alpha)
        for (statistic, n), index in zip(in_rows(settled, _largest_distance), farthest, strict=True)
    )


def grubbs_critical_value(n: int, *, side: Side, alpha: float) -> float:
    """The distance, in standard deviations, beyond which Grubbs' test calls a value an outlier.

    Args:
        n: how many values, n >= 3. side: "both" for the most distant value, else one end.
        alpha: chance of calling a value of a normal sample an outlier, a fraction.
    Returns: the Bonferroni bound: exact for small n and alpha, else a little larger than the exact value.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Grubbs, Technometrics 11 (1969) 1-21.
    """
    settle_count("n", n, minimum=3)
    settle_fraction("alpha", alpha)
    return _critical_value(n, settle_side(side), alpha)


@lru_cache(maxsize=1024)
def _critical_value(n: int, side: Side, alpha: float) -> float:
    tests = n if side != "both" else 2 * n
    t_squared = float(stdtrit(n - 2, alpha / tests)) ** 2
    return (n - 1) / math.sqrt(n) * math.sqrt(t_squared / (n - 2 + t_squared))


def generalized_esd(values: ArrayLike, *, most: int, alpha: float) -> ManyOutliers:
    """Rosner's generalized extreme studentized deviate test for up to `most` outliers, which may hide one another.

    Args:
        values: shape (n,), n >= 3, finite, with more than `most` + 1 distinct values.
        most: the largest number of outliers looked for, 1 to n - 2; n of 25 or more keeps the test's level.
        alpha: chance of calling any value of a normal sample an outlier, a fraction.
    Returns: the number of outliers is the largest i whose statistic exceeds its critical value.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Rosner, Technometrics 25 (1983) 165-172. Checked: its example; USEPA 2009 example 12-4; R 4.2.2.
    """
    sample = settle_unequal(values, minimum=3)
    settle_count("most", most, minimum=1, maximum=sample.size - 2)
    remaining = np.arange(sample.size)
    indices, statistics, critical_values = [], [], []
    for step in range(most):
        rest = sample[remaining]
        if np.ptp(rest) == 0:
            raise ValueError(f"most must leave values that differ; got {most!r}, but {step} removed leave equal values")
        distances = np.abs(_normed_residuals(rest))
        farthest = int(np.argmax(distances))
        indices.append(int(remaining[farthest]))
        statistics.append(float(distances[farthest]))
        critical_values.append(grubbs_critical_value(rest.size, side="both", alpha=alpha))
        remaining = np.delete(remaining, farthest)
    exceeding = [step for step in range(most) if statistics[step] > critical_values[step]]
    return ManyOutliers(
        indices=tuple(indices),
        statistics=tuple(statistics),
        critical_values=tuple(critical_values),
        n_outliers=exceeding[-1] + 1 if exceeding else 0,
        alpha=alpha,
        n=sample.size,
    )


def _outlier_check(name: str, statistic: float, *, index: int, n: int, side: Side, alpha: float) -> OutlierCheck:
    return OutlierCheck(
        name=name,
        statistic=statistic,
        critical_value=grubbs_critical_value(n, side=side, alpha=alpha),
        p_value=_p_value(statistic, n, side),
        index=index,
        alpha=alpha,
        n=n,
    )


def _p_value(statistic: float, n: int, side: Side) -> float:
    tests = n if side != "both" else 2 * n
    # No sample reaches (n - 1) / sqrt(n); rounding may touch it when n - 1 values are equal.
    room = max((n - 1) ** 2 - n * statistic**2, 0.0)
    if room == 0.0:
        return 0.0
    t = statistic * math.sqrt(n * (n - 2) / room)
    return min(tests * float(stdtr(n - 2, -t)), 1.0)


def _normed_residuals(sample: FloatArray) -> FloatArray:
    """Of one sample, or of a sample in each row."""
    centres, spreads = sample.mean(axis=-1, keepdims=True), sample.std(axis=-1, ddof=1, keepdims=True)
    return np.asarray((sample - centres) / spreads, dtype=np.float64)


def _largest_distance(rows: FloatArray) -> FloatArray:
    return np.asarray(np.abs(_normed_residuals(rows)).max(axis=1))


def _farthest(rows: FloatArray) -> FloatArray:
    return np.asarray(np.abs(_normed_residuals(rows)).argmax(axis=1))
