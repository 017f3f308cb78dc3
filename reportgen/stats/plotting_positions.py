"""Where ordered values belong on a probability plot, normal or Weibull, and how far chance alone moves them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import betaincinv, ndtri

from reportgen.stats.arguments import settle_count, settle_fraction, settle_positive_sample, settle_sample
from reportgen.stats.weibull import smallest_extreme_value_fit


@dataclass(frozen=True, slots=True, kw_only=True)
class NormalPlot:
    """Ordered values against standard normal quantiles, the line of the fitted normal and a pointwise band around it.

    The band holds, for each order statistic by itself, the middle `confidence` of its distribution under the fitted
    normal. Mean and standard deviation are taken as known, so that the band is approximate (somewhat too wide in the
    middle); it guides the eye and decides nothing.
    """

    quantiles: tuple[float, ...]
    ordered: tuple[float, ...]
    mean: float
    sd: float
    band_lower: tuple[float, ...]
    band_upper: tuple[float, ...]
    confidence: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WeibullPlot:
    """Logarithms of ordered values against ln(-ln(1 - rank)), on which a Weibull population lies on a line.

    The line has the slope 1 / shape and is ln(scale) at 0 (maximum likelihood). Band as of `NormalPlot`.
    """

    quantiles: tuple[float, ...]
    ordered: tuple[float, ...]
    shape: float
    scale: float
    band_lower: tuple[float, ...]
    band_upper: tuple[float, ...]
    confidence: float


def median_ranks(n: int) -> tuple[float, ...]:
    """The medians of the order statistics of n uniform values: exact, by the beta distribution B(i, n - i + 1).

    Args:
        n: at least 1.
    Source: the i-th of n uniform order statistics is beta distributed (Johnson, Kotz and Balakrishnan, Continuous
    Univariate Distributions, volume 2, 2nd edition 1995, chapter 25). Checked: printed median ranks for n = 10.
    """
    size = settle_count("n", n, minimum=1)
    ranks = np.arange(1, size + 1)
    return tuple(float(rank) for rank in betaincinv(ranks, size - ranks + 1, 0.5))


def normal_plot(values: ArrayLike, *, confidence: float) -> NormalPlot:
    """A normal probability plot by exact median ranks.

    Args:
        values: shape (n,), n >= 3, finite, not all equal.
        confidence: of the pointwise band, strictly between 0 and 1.
    """
    sample = np.sort(settle_sample(values, minimum=3))
    settle_fraction("confidence", confidence)
    mean, sd = float(sample.mean()), float(sample.std(ddof=1))
    if sd == 0.0:
        raise ValueError("values must not all be equal: there is no line to draw")
    ranks = np.arange(1, sample.size + 1)
    beside = (1 - confidence) / 2
    lower, upper = (ndtri(betaincinv(ranks, sample.size - ranks + 1, tail)) for tail in (beside, 1 - beside))
    return NormalPlot(
        quantiles=tuple(float(z) for z in ndtri(median_ranks(sample.size))),
        ordered=tuple(float(value) for value in sample),
        mean=mean,
        sd=sd,
        band_lower=tuple(float(mean + sd * z) for z in lower),
        band_upper=tuple(float(mean + sd * z) for z in upper),
        confidence=confidence,
    )


def weibull_plot(values: ArrayLike, *, confidence: float) -> WeibullPlot:
    """A Weibull probability plot by exact median ranks, with the maximum likelihood fit.

    Args:
        values: shape (n,), n >= 3, finite, above 0, not all equal.
        confidence: of the pointwise band, strictly between 0 and 1.
    """
    logs = np.sort(np.log(settle_positive_sample(values, minimum=3)))
    settle_fraction("confidence", confidence)
    location, spread = smallest_extreme_value_fit(logs)
    ranks = np.arange(1, logs.size + 1)
    beside = (1 - confidence) / 2
    shares = (betaincinv(ranks, logs.size - ranks + 1, tail) for tail in (beside, 1 - beside))
    lower, upper = (np.log(-np.log1p(-share)) for share in shares)
    return WeibullPlot(
        quantiles=tuple(math.log(-math.log1p(-rank)) for rank in median_ranks(logs.size)),
        ordered=tuple(float(value) for value in logs),
        shape=1 / spread,
        scale=math.exp(location),
        band_lower=tuple(float(location + spread * w) for w in lower),
        band_upper=tuple(float(location + spread * w) for w in upper),
        confidence=confidence,
    )
