"""The chance that a normal sample demonstrates a two-sided claim: its tolerance interval lies within both limits."""

from __future__ import annotations

import math

import numpy as np
from scipy.special import chdtri, ndtr

from reportgen.stats.arguments import settle_count, settle_number, settle_positive

# Gauss-Legendre nodes over the distribution function of the variance: the integrand is smooth but for one kink
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(400)


def two_sided_acceptance(n: int, k: float, *, below: float, above: float) -> float:
    """P(mean - k s >= lower limit and mean + k s <= upper limit) for a normal population.

    Args:
        n: specimens, n >= 2. k: tolerance factor, above 0. below, above: distances of the population's mean from the
            lower and from the upper limit, in its standard deviations; negative where the mean is outside.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: integral of the normal distribution of the mean over the chi-square distribution of the variance, which
        are independent for a normal sample. Checked: simulation, and the one-sided chance where one limit is far away.
    """
    count, factor = settle_count("n", n, minimum=2), settle_positive("k", k)
    low, high = settle_number("below", below), settle_number("above", above)
    # the sample sd at which the interval no longer fits between the limits bounds the integral
    largest = (low + high) / (2.0 * factor)
    if largest <= 0.0:
        return 0.0
    shares = (_NODES + 1.0) / 2.0
    deviations = np.sqrt(chdtri(count - 1, 1.0 - shares) / (count - 1))
    root = math.sqrt(count)
    inside = ndtr(root * (high - factor * deviations)) - ndtr(root * (factor * deviations - low))
    return float(np.sum(_WEIGHTS / 2.0 * np.where(deviations < largest, np.maximum(inside, 0.0), 0.0)))
