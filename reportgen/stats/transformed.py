"""Tolerance intervals by way of a transformation: lognormal (exact) and Box-Cox (approximate)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from reportgen.stats.arguments import FloatArray, settle_positive_sample
from reportgen.stats.normal import normal_interval
from reportgen.stats.records import Interval, Side

_STRETCHES = np.linspace(-4.0, 4.0, 161)  # power times the standard deviation of the logarithms
_GOLDEN = (5.0**0.5 - 1.0) / 2.0


def lognormal_interval(values: ArrayLike, *, confidence: float, coverage: float, side: Side) -> Interval:
    """Exact tolerance interval for a lognormal population: the normal one on natural logarithms, taken back.

    Args:
        values: shape (n,), n >= 2, finite, above 0, not all equal; any one unit, which the result keeps.
        confidence, coverage: fractions, each strictly between 0 and 1.
        side: the side that is bounded; the open side of the result is None.
    Returns: `k` applies to the logarithms, whose mean and sd are in `parameters`; `mean` and `sd` are of the values.
    Raises: ValueError naming the argument, its value and the permitted range.
    Checked: 12 digits against R; USEPA (2009) example 17-3.
    """
    sample = settle_positive_sample(values)
    on_logs = normal_interval(np.log(sample), confidence=confidence, coverage=coverage, side=side)
    return Interval(
        lower=None if on_logs.lower is None else float(np.exp(on_logs.lower)),
        upper=None if on_logs.upper is None else float(np.exp(on_logs.upper)),
        k=on_logs.k,
        n=sample.size,
        mean=float(np.mean(sample)),
        sd=float(np.std(sample, ddof=1)),
        confidence=confidence,
        coverage=coverage,
        side=side,
        method="lognormal, exact normal factor on natural logarithms",
        parameters=(("log_mean", on_logs.mean), ("log_sd", on_logs.sd)),
    )


def box_cox_interval(values: ArrayLike, *, confidence: float, coverage: float, side: Side) -> Interval:
    """Approximate tolerance interval by a Box-Cox power transformation.

    Approximate: the power is estimated from the same values by maximum likelihood and then taken as known, so the true
    confidence is below the nominal one in small samples (see tests/reference/coverage_simulation.md for how much).

    Args:
        values: shape (n,), n >= 5, finite, above 0, not all equal; any one unit, which the result keeps.
        confidence, coverage: fractions, each strictly between 0 and 1.
        side: the side that is bounded; the open side of the result is None.
    Returns: `k` applies to the transformed values; the power is in `parameters`. A lower bound is 0 where the
        transformation ends before the bound is reached.
    Raises: ValueError naming the argument, its value and the permitted range; where no power within reason brings the
        values near normal; where there is no finite upper bound.
    Source: Box and Cox, J. R. Stat. Soc. B 26 (1964) 211-252.
    """
    sample = settle_positive_sample(values, minimum=5)
    centre = float(np.exp(np.mean(np.log(sample))))  # dividing by it makes the power independent of the unit
    power = _power(sample / centre)
    changed = _transformed(sample / centre, power)
    found = normal_interval(changed, confidence=confidence, coverage=coverage, side=side)
    return Interval(
        lower=None if found.lower is None else centre * _back(found.lower, power),
        upper=None if found.upper is None else _finite_upper(centre * _back(found.upper, power), power),
        k=found.k,
        n=sample.size,
        mean=float(np.mean(sample)),
        sd=float(np.std(sample, ddof=1)),
        confidence=confidence,
        coverage=coverage,
        side=side,
        method="Box-Cox, normal factor on transformed values, approximate (the estimated power is taken as known)",
        parameters=(("power", power),),
    )


def _power(scaled: FloatArray) -> float:
    """The maximum likelihood power, of values whose geometric mean is 1.

    How much a power bends depends on how far the values spread, so the search runs over power times that spread: values
    within a few per cent of each other may well be best at a power of 20.
    """
    powers = _STRETCHES / float(np.std(np.log(scaled)))
    best = int(np.argmin([_log_spread(scaled, power) for power in powers]))
    if best in (0, powers.size - 1):
        raise ValueError(
            f"values must be brought near normal by a power from {powers[0]:.3g} to {powers[-1]:.3g}; "
            f"the best is {powers[best]:.3g} or beyond"
        )
    low, high = float(powers[best - 1]), float(powers[best + 1])
    for _ in range(60):
        left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
        if _log_spread(scaled, left) < _log_spread(scaled, right):
            high = right
        else:
            low = left
    return (low + high) / 2.0


def _log_spread(scaled: FloatArray, power: float) -> float:
    """Minus the profile log-likelihood per value; the Jacobian vanishes because the geometric mean is 1."""
    return float(np.log(np.std(_transformed(scaled, power))))


def _transformed(scaled: FloatArray, power: float) -> FloatArray:
    logs = np.log(scaled)
    if power == 0.0:
        return logs
    return np.asarray(np.expm1(power * logs) / power)  # expm1: keeps its digits through powers near 0


def _back(value: float, power: float) -> float:
    if power == 0.0:
        return float(np.exp(value))
    inside = 1.0 + power * value
    if inside <= 0.0:  # the transformation ends here: at 0 for a positive power, at infinity for a negative one
        return 0.0 if power > 0.0 else float("inf")
    return float(np.exp(np.log1p(power * value) / power))


def _finite_upper(upper: float, power: float) -> float:
    if not np.isfinite(upper):
        raise ValueError(f"values have no finite upper bound by their Box-Cox power {power:.4g}")
    return upper
