"""Did the process drift while the specimens were tested? The order of testing, looked at twice."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammaln

from reportgen.stats.arguments import FloatArray, settle_sample
from reportgen.stats.records import Check

# For pairs of normal values: mean range and standard deviation of the range, in standard deviations.
MEAN_RANGE_OF_TWO = 2 / math.sqrt(math.pi)
SD_RANGE_OF_TWO = math.sqrt(2 - 4 / math.pi)


@dataclass(frozen=True, slots=True, kw_only=True)
class IndividualsChart:
    """Limits of an individuals and moving-range chart; `beyond` and `range_beyond` are positions outside them.

    `range_beyond` holds the later position of each pair. The limits describe the process as it ran; they are no
    acceptance limits.
    """

    center: float
    lower: float
    upper: float
    moving_range_mean: float
    moving_range_upper: float
    beyond: tuple[int, ...]
    range_beyond: tuple[int, ...]
    n: int


def von_neumann_ratio(values: ArrayLike) -> Check:
    """Sum of squared successive differences over sum of squared deviations: 2 for a random order, less for a drift.

    Args:
        values: shape (n,) in the order tested, n >= 4, finite, not all equal.
    Returns: `p_value` is two-sided and exact for normal values: small for a drift (statistic below 2) and for values
        that alternate (above 2).
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: von Neumann, Annals of Mathematical Statistics 12 (1941) 367-395; distribution by inversion of the
    characteristic function, Imhof, Biometrika 48 (1961) 419-426. Checked: Hart's table of 1942.
    """
    sample = settle_sample(values, minimum=4)
    if np.ptp(sample) == 0:
        raise ValueError(f"values: all {sample.size} are {float(sample[0])!r}; expected values that are not all equal")
    deviations = sample - sample.mean()
    ratio = float(np.sum(np.diff(deviations) ** 2) / (deviations @ deviations))
    below = _von_neumann_distribution(ratio, sample.size)
    return Check(
        name="von Neumann ratio",
        statistic=ratio,
        p_value=min(2 * min(below, 1 - below), 1.0),
        n=sample.size,
        method="successive differences in the order tested; exact for normal values",
    )


def _von_neumann_distribution(ratio: float, n: int) -> float:
    """P(ratio of n normal values <= ratio), a sum of chi-squares weighted by 2 - 2 cos(pi i / n) - ratio being below 0.

    Imhof's integral in log u: the integrand falls off exponentially at both ends, where the trapezoid rule is exact to
    rounding.
    """
    weights = 2 - 2 * np.cos(math.pi * np.arange(1, n) / n) - ratio
    if weights.max() <= 0 or weights.min() >= 0:
        return 1.0 if weights.max() <= 0 else 0.0
    step = 0.05
    log_u = np.arange(-45.0, 8 + 100 / (n - 2), step)  # beyond, (n - 2) / 2 factors of u have made it vanish
    scaled = np.exp(log_u)[:, None] * weights
    angle = 0.5 * np.sum(np.arctan(scaled), axis=1)
    log_size = 0.25 * np.sum(np.log1p(scaled**2), axis=1)
    integral = float(np.sum(np.sin(angle) * np.exp(-log_size))) * step
    return min(max(0.5 - integral / math.pi, 0.0), 1.0)


def runs_about_median(values: ArrayLike) -> Check:
    """Runs above and below the median: few for a drift, many for values that alternate. Needs no normal values.

    Args:
        values: shape (n,) in the order tested, finite; values equal to the median are left out, and at least 2
            above and 2 below must remain.
    Returns: `statistic` is the number of runs, `p_value` two-sided and exact (twice the smaller tail, at most 1).
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Wald and Wolfowitz, Annals of Mathematical Statistics 11 (1940) 147-162.
    """
    sample = settle_sample(values, minimum=4)
    sides = sample[sample != np.median(sample)] > np.median(sample)
    above = int(np.count_nonzero(sides))
    below = sides.size - above
    if min(above, below) < 2:
        raise ValueError(
            f"values must leave 2 above and 2 below their median {float(np.median(sample))!r}; got {above} and {below}"
        )
    runs = 1 + int(np.count_nonzero(sides[1:] != sides[:-1]))
    chances = np.array([_chance_of_runs(count, above, below) for count in range(2, above + below + 1)])
    tails = float(chances[: runs - 1].sum()), float(chances[runs - 2 :].sum())
    return Check(
        name="runs about the median",
        statistic=float(runs),
        p_value=min(2 * min(tails), 1.0),
        n=sides.size,
        method=f"exact, {above} values above and {below} below the median",
    )


def _chance_of_runs(runs: int, above: int, below: int) -> float:
    total = _log_choose(above + below, above)

    def share(k: int) -> float:
        """Of all orders, those with k runs above the median that begin on a given side."""
        return math.exp(_log_choose(above - 1, k - 1) + _log_choose(below - 1, runs - k - 1) - total)

    half = runs // 2
    return 2 * share(half) if runs % 2 == 0 else share(half) + share(half + 1)


def _log_choose(n: int, k: int) -> float:
    if k < 0 or k > n:
        return -math.inf
    return float(gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1))


def individuals_chart(values: ArrayLike) -> IndividualsChart:
    """Control limits for single values in the order tested, from the mean moving range of two.

    Args:
        values: shape (n,) in the order tested, n >= 2, finite.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Shewhart's limits at three standard deviations; ISO 7870-2:2013 (clause not read). Checked: NIST/SEMATECH
    e-Handbook 6.3.2.2.
    """
    sample = settle_sample(values)
    ranges: FloatArray = np.abs(np.diff(sample))
    mean_range = float(ranges.mean())
    center = float(sample.mean())
    reach = 3 * mean_range / MEAN_RANGE_OF_TWO
    range_upper = mean_range * (1 + 3 * SD_RANGE_OF_TWO / MEAN_RANGE_OF_TWO)
    return IndividualsChart(
        center=center,
        lower=center - reach,
        upper=center + reach,
        moving_range_mean=mean_range,
        moving_range_upper=range_upper,
        beyond=tuple(int(i) for i in np.flatnonzero(np.abs(sample - center) > reach)),
        range_beyond=tuple(int(i) + 1 for i in np.flatnonzero(ranges > range_upper)),
        n=sample.size,
    )
