"""Maximum likelihood for tests that were stopped before every specimen failed (right-censored values).

A specimen stopped at a value enters as "survived beyond it": never as a failure, never left out. Estimates are those of
a location and a scale on the values (normal) or their logarithms (lognormal; Weibull, whose logarithms are smallest
extreme values). In theta = 1/scale, eta = location/scale the log-likelihood is concave, so Newton's method with halving
finds its one maximum.

Bounds are by likelihood ratio: 2 (l_max - l_profile) = z^2. Approximate: with few failures the true confidence is some
per cent below the nominal one (tests/reference/coverage_simulation.md); with a normal approximation it would be lower.

Source: Meeker and Escobar, Statistical Methods for Reliability Data (1998), chapter 8; Lawless (2003), chapter 5.
Checked: 54 fits of R survival, to 10 digits.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from reportgen.stats.arguments import FloatArray, settle_fraction, settle_sample
from reportgen.stats.roots import root_from

Distribution = Literal["normal", "lognormal", "weibull"]
DISTRIBUTIONS: tuple[Distribution, ...] = ("normal", "lognormal", "weibull")

_NEWTON_STEPS = 200
_LOG_SQRT_2_PI = 0.5 * float(np.log(2.0 * np.pi))


@dataclass(frozen=True, slots=True)
class Parameters(Mapping[str, float]):
    """Estimates by name, in a fixed order: `fit.parameters["shape"]`."""

    pairs: tuple[tuple[str, float], ...]

    def __getitem__(self, name: str) -> float:
        return dict(self.pairs)[name]

    def __iter__(self) -> Iterator[str]:
        return (name for name, _ in self.pairs)

    def __len__(self) -> int:
        return len(self.pairs)


@dataclass(frozen=True, slots=True, kw_only=True)
class CensoredFit:
    """A fitted distribution: `parameters` are mean, sd (normal), log_mean, log_sd (lognormal), shape, scale (weibull).

    sd and log_sd are maximum likelihood (for a complete sample: with the divisor n). `covariance` is of (location, log
    scale), the inverse of the observed information. `values` and `is_censored` are what was fitted.
    """

    distribution: Distribution
    parameters: Parameters
    log_likelihood: float
    n: int
    n_failed: int
    location: float
    scale: float
    covariance: tuple[tuple[float, float], tuple[float, float]]
    values: tuple[float, ...] = field(repr=False)
    is_censored: tuple[bool, ...] = field(repr=False)

    def quantile(self, p: float) -> float:
        """The value below which the fraction p of the population is estimated to fail."""
        return self._in_unit(self.location + self.scale * _standard_quantile(p, self.distribution))

    def standard_error(self, p: float) -> float:
        """The standard error of `quantile(p)` by the delta method, in the unit of the values."""
        gradient = np.array([1.0, self.scale * _standard_quantile(p, self.distribution)])
        error = float(np.sqrt(gradient @ np.array(self.covariance) @ gradient))
        return error if self.distribution == "normal" else self.quantile(p) * error

    def lower_bound(self, p: float, *, confidence: float) -> float:
        """The likelihood-ratio lower confidence bound of `quantile(p)`: a lower tolerance bound of coverage 1 - p."""
        return self._bound(p, float(special.ndtri(settle_fraction("confidence", confidence))))

    def upper_bound(self, p: float, *, confidence: float) -> float:
        """The likelihood-ratio upper confidence bound of `quantile(p)`: an upper tolerance bound of coverage p."""
        return self._bound(p, -float(special.ndtri(settle_fraction("confidence", confidence))))

    def _bound(self, p: float, deviate: float) -> float:
        w = _standard_quantile(p, self.distribution)
        sample = _standardised(self.values, self.is_censored, self.distribution)
        peak = sample.log_likelihood(1.0 / sample.scale_of(self.scale), sample.location_of(self.location))
        estimate = sample.location_of(self.location) + sample.scale_of(self.scale) * w

        def excess(quantile: float) -> float:
            ratio = 2.0 * max(peak - sample.profile(quantile, w), 0.0)
            return float(np.copysign(np.sqrt(ratio), estimate - quantile)) - deviate

        step = self.standard_error(p) / (
            sample.unit if self.distribution == "normal" else self.quantile(p) * sample.unit
        )
        start = estimate - deviate * step
        return self._in_unit(sample.middle + sample.unit * root_from(excess, start, step=0.1 * step))

    def _in_unit(self, value: float) -> float:
        return value if self.distribution == "normal" else float(np.exp(value))


def censored_fit(values: ArrayLike, censored: ArrayLike, *, distribution: Distribution) -> CensoredFit:
    """Fit a distribution to failures and suspended specimens by maximum likelihood.

    Args:
        values: shape (n,), finite; above 0 for lognormal and weibull; any one unit.
        censored: shape (n,), true where the specimen was stopped at its value without failing.
        distribution: "normal", "lognormal" or "weibull".
    Raises: ValueError naming the argument, its value and the permitted range; where fewer than two specimens failed at
        different values, because the likelihood then has no maximum with a spread.
    """
    if distribution not in DISTRIBUTIONS:
        raise ValueError(f"distribution must be one of {', '.join(map(repr, DISTRIBUTIONS))}; got {distribution!r}")
    sample_values = settle_sample(values)
    is_censored = _settle_flags(censored, sample_values.size)
    if distribution != "normal" and np.any(sample_values <= 0.0):
        first = float(sample_values[sample_values <= 0.0][0])
        raise ValueError(f"values must all be above 0 for the {distribution} distribution; got {first!r}")
    if np.unique(sample_values[~is_censored]).size < 2:
        raise ValueError(
            f"values must include failures at 2 different values at least; {int(np.sum(~is_censored))} of "
            f"{sample_values.size} failed (with fewer, demonstrate by attribute: none failed below the stop)"
        )
    flags, plain = tuple(bool(flag) for flag in is_censored), tuple(float(value) for value in sample_values)
    sample = _standardised(plain, flags, distribution)
    theta, location = sample.maximum()
    scale = sample.unit / theta
    location_in_unit = sample.middle + sample.unit * location
    jacobian = 0.0 if distribution == "normal" else float(np.sum(np.log(sample_values[~is_censored])))
    n_failed = len(sample.failed)
    return CensoredFit(
        distribution=distribution,
        parameters=_parameters(distribution, location_in_unit, scale),
        log_likelihood=sample.log_likelihood(theta, location) - n_failed * float(np.log(sample.unit)) - jacobian,
        n=sample_values.size,
        n_failed=n_failed,
        location=location_in_unit,
        scale=scale,
        covariance=sample.covariance(theta, location),
        values=plain,
        is_censored=flags,
    )


def _parameters(distribution: Distribution, location: float, scale: float) -> Parameters:
    if distribution == "normal":
        return Parameters((("mean", location), ("sd", scale)))
    if distribution == "lognormal":
        return Parameters((("log_mean", location), ("log_sd", scale)))
    return Parameters((("shape", 1.0 / scale), ("scale", float(np.exp(location)))))


def _settle_flags(censored: ArrayLike, n: int) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    flags = np.asarray(censored)
    if flags.shape != (n,):
        raise ValueError(f"censored must have one entry per value, shape ({n},); got shape {flags.shape!r}")
    if flags.dtype.kind != "b" and not (flags.dtype.kind in "iu" and np.all((flags == 0) | (flags == 1))):
        raise ValueError(f"censored must be true or false (or 1 or 0); got {flags.tolist()!r}")
    return flags.astype(np.bool_)


def _standard_quantile(p: float, distribution: Distribution) -> float:
    fraction = settle_fraction("p", p)
    if distribution == "weibull":
        return float(np.log(-np.log1p(-fraction)))
    return float(special.ndtri(fraction))


def _standardised(values: tuple[float, ...], is_censored: tuple[bool, ...], distribution: Distribution) -> _Sample:
    """Values (or logarithms) on a scale of their own, so that the same data in another unit take the same steps."""
    on_scale = np.array(values) if distribution == "normal" else np.log(np.array(values))
    middle, unit = float(np.mean(on_scale)), float(np.std(on_scale))
    reduced = (on_scale - middle) / unit
    censored = np.array(is_censored)
    return _Sample(
        failed=reduced[~censored],
        stopped=reduced[censored],
        is_extreme=distribution == "weibull",
        middle=middle,
        unit=unit,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sample:
    """Failures and stops in units of `unit` from `middle`, with the likelihood of a location-scale family."""

    failed: FloatArray
    stopped: FloatArray
    is_extreme: bool  # smallest extreme value; else normal
    middle: float
    unit: float

    def location_of(self, location: float) -> float:
        return (location - self.middle) / self.unit

    def scale_of(self, scale: float) -> float:
        return scale / self.unit

    def log_likelihood(self, theta: float, location: float) -> float:
        z, stop = theta * (self.failed - location), theta * (self.stopped - location)
        with np.errstate(over="ignore"):  # a trial step may overflow: the likelihood is then minus infinity, and halved
            if self.is_extreme:
                terms = np.sum(z - np.exp(z)) - np.sum(np.exp(stop))
            else:
                terms = np.sum(-0.5 * z**2 - _LOG_SQRT_2_PI) + np.sum(special.log_ndtr(-stop))
        return float(self.failed.size * np.log(theta) + terms)

    def slopes(self, z: FloatArray, stop: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """First and second derivatives by z of log density (failures), then of log survival (stops)."""
        if self.is_extreme:
            return 1.0 - np.exp(z), -np.exp(z), -np.exp(stop), -np.exp(stop)
        hazard = np.exp(-0.5 * stop**2 - _LOG_SQRT_2_PI - special.log_ndtr(-stop))
        return -z, -np.ones_like(z), -hazard, -hazard * (hazard - stop)

    def maximum(self) -> tuple[float, float]:
        """theta and location at the maximum: Newton in (theta, eta), where the log-likelihood is concave."""
        theta, eta = 1.0, 0.0
        best = self.log_likelihood(theta, eta / theta)
        for _ in range(_NEWTON_STEPS):
            gradient, curvature = self._derivatives(theta, eta)
            step = np.linalg.solve(curvature, -gradient)
            size = 1.0
            while True:
                new_theta, new_eta = theta + size * step[0], eta + size * step[1]
                value = self.log_likelihood(new_theta, new_eta / new_theta) if new_theta > 0.0 else -np.inf
                if value >= best - 1e-12 * abs(best):
                    break
                size /= 2.0
            theta, eta, best = float(new_theta), float(new_eta), value
            if np.max(np.abs(step)) <= 1e-13 * (theta + abs(eta)):
                return theta, eta / theta
        raise ArithmeticError(f"the likelihood did not settle; last 1/scale {theta!r}, location/scale {eta!r}")

    def _derivatives(self, theta: float, eta: float) -> tuple[FloatArray, FloatArray]:
        first, second, stop_first, stop_second = self.slopes(theta * self.failed - eta, theta * self.stopped - eta)
        gradient = np.array(
            [
                self.failed.size / theta + np.sum(first * self.failed) + np.sum(stop_first * self.stopped),
                -np.sum(first) - np.sum(stop_first),
            ]
        )
        both = -np.sum(second * self.failed) - np.sum(stop_second * self.stopped)
        by_theta = np.sum(second * self.failed**2) + np.sum(stop_second * self.stopped**2)
        curvature = np.array(
            [[by_theta - self.failed.size / theta**2, both], [both, np.sum(second) + np.sum(stop_second)]]
        )
        return gradient, curvature

    def covariance(self, theta: float, location: float) -> tuple[tuple[float, float], tuple[float, float]]:
        """Of (location, log scale), in the unit of the data: the inverse observed information at the maximum."""
        _, curvature = self._derivatives(theta, theta * location)
        # (theta, eta) = (1/scale, location/scale): their derivatives by location and log scale
        change = np.array([[0.0, -theta], [theta, -theta * location]])
        inverse = np.linalg.inv(-change.T @ curvature @ change) * np.outer([self.unit, 1.0], [self.unit, 1.0])
        return (float(inverse[0, 0]), float(inverse[0, 1])), (float(inverse[1, 0]), float(inverse[1, 1]))

    def profile(self, quantile: float, w: float) -> float:
        """The largest log-likelihood with the quantile of standard deviate w held at `quantile`."""

        def slope(log_theta: float) -> float:  # by theta, in which the likelihood is concave: it falls throughout
            theta = float(np.exp(log_theta))
            z, stop = theta * (self.failed - quantile) + w, theta * (self.stopped - quantile) + w
            with np.errstate(over="ignore"):
                first, _, stop_first, _ = self.slopes(z, stop)
            pull = np.sum(first * (self.failed - quantile)) + np.sum(stop_first * (self.stopped - quantile))
            return float(self.failed.size / theta + pull)

        theta = float(np.exp(root_from(slope, 0.0, step=0.25)))
        return self.log_likelihood(theta, quantile - w / theta)
