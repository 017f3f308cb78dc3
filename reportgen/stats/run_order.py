"""Did the process drift while the specimens were tested? The order of testing, looked at twice."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammaln

from reportgen.stats.arguments import FloatArray, settle_sample
from reportgen.stats.records import Check

# For pairs of normal values: mean range and standard deviation of the range, in standard deviations.
MEAN_RANGE_OF_TWO = 2 / math.sqrt(math.pi)
SD_RANGE_OF_TWO = math.sqrt(2 - 4 / math.pi)
_LEAST_FREE = 3  # deviations that are free, so that the chances fall off
_STEP = 0.125  # half of it changes nothing beyond rounding
_RATIOS_AT_ONCE = 512  # their arrays then stay in the processor's cache
_Number = TypeVar("_Number", np.float64, np.complex128)


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


def von_neumann_ratio(values: ArrayLike, *, sizes: Sequence[int] | None = None) -> Check:
    """Sum of squared successive differences over sum of squared deviations: 2 for a random order, less for a drift.

    Args:
        values: shape (n,) in the order tested, n >= 4, finite, not all equal within every lot.
        sizes: where the values are of several lots, lot after lot, how many each has. Differences and deviations are
            then those within lots, each from the mean of its own, so that lots may differ; a lot of one tells nothing.
    Returns: `p_value` is two-sided and exact for normal values (of one variance): small for a drift (statistic below
        2) and for values that alternate (above 2).
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: von Neumann, Annals of Mathematical Statistics 12 (1941) 367-395; distribution by inversion along a line
    through the saddle point (Rice, SIAM Journal on Scientific and Statistical Computing 1 (1980) 438-448, from
    memory); of several lots the sums are over lots, and so are the logarithms in it. Checked: Hart's table of 1942;
    Imhof's integral in 30 digits, to 1e-15.
    """
    return von_neumann_ratios([values], sizes=None if sizes is None else [sizes])[0]


def von_neumann_ratios(
    samples: Sequence[ArrayLike], *, sizes: Sequence[Sequence[int]] | None = None
) -> tuple[Check, ...]:
    """`von_neumann_ratio` of many samples: those of the same sizes are looked up together, with the same answers."""
    settled = [settle_sample(values, minimum=4) for values in samples]
    given = [(sample.size,) for sample in settled] if sizes is None else [tuple(one) for one in sizes]
    ratios = np.array([_ratio(sample, own) for sample, own in zip(settled, given, strict=True)])
    below = np.empty(ratios.shape)
    alike: dict[tuple[int, ...], list[int]] = {}
    for at, own in enumerate(given):
        alike.setdefault(tuple(sorted(size for size in own if size > 1)), []).append(at)
    for lots, places in alike.items():
        for start in range(0, len(places), _RATIOS_AT_ONCE):
            part = places[start : start + _RATIOS_AT_ONCE]
            below[part] = _von_neumann_distribution(ratios[part], *lots)
    return tuple(
        Check(
            name="von Neumann ratio",
            statistic=ratio,
            p_value=min(2 * min(chance, 1 - chance), 1.0),
            n=n,
            method="successive differences in the order tested; exact for normal values",
        )
        for ratio, chance, n in zip(map(float, ratios), map(float, below), (one.size for one in settled), strict=True)
    )


def _ratio(sample: FloatArray, sizes: tuple[int, ...]) -> float:
    in_all = sum(sizes)
    # within lots of two the ratio is 2 whatever the values are
    if in_all != sample.size or min(sizes) < 1 or max(sizes) < 3 or in_all - len(sizes) < _LEAST_FREE:
        raise ValueError(
            f"sizes: {sizes} for {sample.size} values; expected counts of 1 or more that sum to as many, one of them 3 "
            f"or more, at least {_LEAST_FREE} more values than counts"
        )
    ends = np.cumsum(sizes, dtype=np.intp)
    steps = np.diff(sample)
    steps[ends[:-1] - 1] = 0.0
    if not steps.any():
        raise ValueError(f"values: all {sample.size} are {float(sample[0])!r}; expected values that are not all equal")
    if len(sizes) == 1:
        deviations = sample - sample.mean()
    else:
        means = np.add.reduceat(sample, ends - np.array(sizes, dtype=np.intp)) / sizes
        deviations = sample - np.repeat(means, sizes)
    return float(np.add.reduce(steps * steps) / (deviations @ deviations))


def _von_neumann_distribution(ratio: ArrayLike, *sizes: int) -> FloatArray:
    """P(ratio of normal values <= ratio), for each ratio given, between 0 and 4; `sizes` of the lots, each above 1.

    It is the chance that a sum of chi-squares weighted by 2 - 2 cos(pi i / n) - ratio falls below 0: an integral over
    its moment generating function along a line beside the imaginary axis, through the saddle point of the smaller
    tail. The integrand is analytic and falls off exponentially in s, with t = c + i sinh(s) / sigma, where the
    trapezoid rule is exact to rounding.
    """
    given = np.asarray(ratio, dtype=np.float64)
    chances = np.where(given >= 2, 1.0, 0.0)
    edge = 2 - 2 * math.cos(math.pi / max(sizes))
    chosen = (given > edge) & (given < 4 - edge)
    if not chosen.any():
        return chances
    ratios = given[chosen]
    is_low = ratios < 2
    middle, sigma = _saddle(ratios, sizes, is_low)
    free = sum(sizes) - len(sizes)
    s = np.arange(0.0, 3 + 76 / (free - 1), _STEP)  # beyond, (free - 1) / 2 powers of exp(s) have made it vanish
    shifts = middle[:, None] + 1j * (np.sinh(s) / sigma[:, None])
    at_middle = _log_products(middle, ratios, sizes)
    heights = np.exp(-0.5 * (_log_products(shifts, ratios[:, None], sizes) - at_middle[:, None]))
    parts = np.real(heights / shifts) * (np.cosh(s) / sigma[:, None])
    parts[:, 0] *= 0.5
    tails = np.abs(parts.sum(axis=1)) * _STEP / math.pi * np.exp(-0.5 * at_middle)
    chances[chosen] = np.where(is_low, tails, 1 - tails)
    return chances


def _saddle(ratios: FloatArray, sizes: Sequence[int], is_low: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray]:
    """About where the integrand is least on the real axis, and its width across: any such point gives the same sum."""
    sides = np.where(is_low, -1.0, 1.0)
    furthest = 0.95 * np.where(is_low, -0.5 / ratios, 0.5 / (4 - ratios))
    near, far = np.zeros_like(ratios), np.ones_like(ratios)
    for _ in range(12):
        middle = (near + far) / 2
        falls = _slope(middle * furthest, ratios, sizes) * sides < 0
        near, far = np.where(falls, middle, near), np.where(falls, far, middle)
    point = (near + far) / 2 * furthest
    aside = 1e-4 * np.abs(point)
    curvature = (_slope(point + aside, ratios, sizes) - _slope(point - aside, ratios, sizes)) / (2 * aside)
    return point, np.sqrt(np.abs(curvature))


def _log_products(t: NDArray[_Number], ratio: FloatArray, sizes: Sequence[int]) -> NDArray[_Number]:
    """The logarithm of the product over all lots; lots of one size cost as much as one."""
    first, *others = (count * _log_product(t, ratio, n) for n, count in Counter(sizes).items())
    for other in others:
        first = first + other
    return first


def _log_product(t: NDArray[_Number], ratio: FloatArray, n: int) -> NDArray[_Number]:
    """log of the product of 1 - 2 t (2 - 2 cos(pi i / n) - ratio) over i = 1 ... n - 1.

    The product is (2 t)^(n-1) U_(n-1)((1 + 2 t ratio - 4 t) / (4 t)), U the Chebyshev polynomial of the second kind:
    its cost does not grow with n.
    """
    root, larger = _roots(t, ratio)
    return n * np.log(larger) - np.log(root) + np.log1p(-(((2 * t / larger) ** 2) ** n))


def _slope(t: FloatArray, ratio: FloatArray, sizes: Sequence[int]) -> FloatArray:
    """Derivative of the logarithm of the integrand, -log(product) / 2 - log|t|."""
    first, *others = (count * _log_slope(t, ratio, n) for n, count in Counter(sizes).items())
    return np.asarray(-0.5 * sum(others, first) - 1 / t)


def _log_slope(t: FloatArray, ratio: FloatArray, n: int) -> FloatArray:
    """Derivative of `_log_product` by t."""
    root, larger = _roots(t, ratio)
    sum_slope = 2 * ratio - 4
    root_slope = ((1 + sum_slope * t) * sum_slope - 16 * t) / root
    growth = (sum_slope + root_slope) / 2 / larger
    power = (2 * t / larger) ** (2 * n)
    return np.asarray(n * growth - root_slope / root - power / (1 - power) * 2 * n * (1 / t - growth))


def _roots(t: NDArray[_Number], ratio: FloatArray) -> tuple[NDArray[_Number], NDArray[_Number]]:
    """The difference of the roots of y^2 - (1 + 2 t ratio - 4 t) y + 4 t^2, and the larger root."""
    total = 1 + (2 * ratio - 4) * t
    root = np.sqrt(total - 4 * t) * np.sqrt(total + 4 * t)
    return root, (total + root) / 2


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
