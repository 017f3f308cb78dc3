"""Variance between and within groups, estimated from mean squares, with confidence intervals."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtri, fdtrc, fdtri

from reportgen.stats.arguments import FloatArray, settle_fraction, settle_sample


@dataclass(frozen=True, slots=True, kw_only=True)
class AnovaLine:
    """One line of an analysis of variance; `f` and `p_value` are None for the error."""

    source: str
    sum_of_squares: float
    df: int
    mean_square: float
    f: float | None = None
    p_value: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """A variance, 0 where its estimate `raw` is negative, with its confidence interval."""

    variance: float
    raw: float
    lower: float
    upper: float
    confidence: float

    @property
    def sd(self) -> float:
        """The standard deviation."""
        return math.sqrt(self.variance)


@dataclass(frozen=True, slots=True, kw_only=True)
class VarianceComponents:
    """One-way data: variance between groups and within groups, and the mean of all values.

    `between` is 0 where its estimate is negative (`between_component.raw` keeps it). `intraclass` is the share of the
    total variance that lies between groups.
    """

    between: float
    within: float
    total: float
    intraclass: float
    between_component: Component
    within_component: Component
    table: tuple[AnovaLine, ...]
    grand_mean: float
    n_groups: int
    n: int
    confidence: float
    method: str


@dataclass(frozen=True, slots=True)
class MeanSquare:
    """A mean square with its degrees of freedom."""

    value: float
    df: int


def variance_components(values: ArrayLike, *, group: Sequence[object], confidence: float = 0.95) -> VarianceComponents:
    """Variance between and within groups by the analysis of variance of a one-way random model.

    Args:
        values: shape (n,), finite. group: n labels; two or more groups, one of them of two or more values.
        confidence: of each interval; the estimates do not depend on it.
    Returns: intervals by the modified large sample method (between) and chi-square (within); with groups of unequal
        size the former takes the mean square of the group means and the harmonic mean of the sizes, an approximation.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: estimates: Searle, Casella and McCulloch, Variance Components, 1992, section 3.6; intervals: Ting, Burdick,
    Graybill, Jeyaratnam and Lu, J. Statistical Computation and Simulation 35 (1990) 135-143. Checked: R 4.2.2, lme4's
    Dyestuff; coverage by simulation.
    """
    sample, codes = settle_labels(values, group=group)
    settle_fraction("confidence", confidence)
    sizes = np.bincount(codes["group"])
    n, k = sample.size, sizes.size
    if k < 2 or n == k:
        raise ValueError(f"group must name at least 2 groups, one of them with 2 values; got {k} groups of {n} values")
    centered = sample - sample.mean()  # readings that differ in late digits only keep them
    means = np.bincount(codes["group"], centered) / sizes
    ss_between = float(sizes @ means**2)
    ss_within = float(np.sum((centered - means[codes["group"]]) ** 2))
    within = MeanSquare(ss_within / (n - k), n - k)
    effective_size = (n - float(np.sum(sizes**2)) / n) / (k - 1)
    raw = (ss_between / (k - 1) - within.value) / effective_size
    harmonic = k / float(np.sum(1 / sizes))
    of_means = MeanSquare(harmonic * float(means.var(ddof=1)), k - 1)
    lower, upper = mean_square_interval([(1 / harmonic, of_means), (-1 / harmonic, within)], confidence=confidence)
    between = Component(variance=max(raw, 0.0), raw=raw, lower=lower, upper=upper, confidence=confidence)
    error = combined([{"within": 1.0}], {"within": within}, confidence=confidence)
    total = between.variance + error.variance
    return VarianceComponents(
        between=between.variance,
        within=error.variance,
        total=total,
        intraclass=between.variance / total if total > 0 else 0.0,
        between_component=between,
        within_component=error,
        table=(
            anova_line("between", ss_between, k - 1, within),
            anova_line("within", ss_within, within.df, None),
        ),
        grand_mean=float(sample.mean()),
        n_groups=k,
        n=n,
        confidence=confidence,
        method="analysis of variance; negative estimates set to 0; modified large sample intervals",
    )


def anova_line(source: str, sum_of_squares: float, df: int, against: MeanSquare | None) -> AnovaLine:
    """A line tested against a mean square; the error has none, and against no variance there is no test."""
    mean_square = sum_of_squares / df
    f = p_value = None
    if against is not None and against.value > 0:
        f = mean_square / against.value
        p_value = float(fdtrc(df, against.df, f))
    return AnovaLine(source=source, sum_of_squares=sum_of_squares, df=df, mean_square=mean_square, f=f, p_value=p_value)


def combined(
    estimators: Sequence[Mapping[str, float]], squares: Mapping[str, MeanSquare], *, confidence: float
) -> Component:
    """The sum of variances, each estimated by coefficients of mean squares: each estimate that is negative adds 0.

    The interval is that of the sum of the estimators as they are.
    """
    estimates = [sum(c * squares[source].value for source, c in each.items()) for each in estimators]
    coefficients = {source: sum(each.get(source, 0.0) for each in estimators) for source in squares}
    terms = [(c, squares[source]) for source, c in coefficients.items()]
    lower, upper = mean_square_interval(terms, confidence=confidence)
    return Component(
        variance=sum(max(estimate, 0.0) for estimate in estimates),
        raw=sum(estimates),
        lower=lower,
        upper=upper,
        confidence=confidence,
    )


def mean_square_interval(terms: Sequence[tuple[float, MeanSquare]], *, confidence: float) -> tuple[float, float]:
    """Modified large sample interval for a sum of coefficient times expected mean square; ends below 0 become 0.

    Exact for a single mean square. Every mean square adds to the width what it would have alone, and each pair of
    opposite sign a term that makes the interval exact where one of the two is all.

    Source: Ting et al. 1990; Burdick, Borror and Montgomery, Design and Analysis of Gauge R&R Studies, 2005, appendix.
    """
    alpha = (1 - confidence) / 2
    estimate = sum(coefficient * square.value for coefficient, square in terms)
    lower = estimate - math.sqrt(max(_squared_reach(terms, alpha, upwards=False), 0.0))
    upper = estimate + math.sqrt(max(_squared_reach(terms, alpha, upwards=True), 0.0))
    return max(lower, 0.0), max(upper, 0.0)


def _squared_reach(terms: Sequence[tuple[float, MeanSquare]], alpha: float, *, upwards: bool) -> float:
    """Upwards is downwards with the signs of all terms exchanged."""
    sign = -1 if upwards else 1
    adding = [(abs(c), square) for c, square in terms if sign * c > 0]
    taking = [(abs(c), square) for c, square in terms if sign * c < 0]
    total = sum((_shrink(square.df, alpha) * c * square.value) ** 2 for c, square in adding)
    total += sum((_grow(square.df, alpha) * c * square.value) ** 2 for c, square in taking)
    for c, square in adding:
        for d, other in taking:
            total += _cross(square.df, other.df, alpha) * c * square.value * d * other.value
    return total


def _shrink(df: int, alpha: float) -> float:
    return 1 - df / float(chdtri(df, alpha))


def _grow(df: int, alpha: float) -> float:
    return df / float(chdtri(df, 1 - alpha)) - 1


def _cross(df_adding: int, df_taking: int, alpha: float) -> float:
    f = float(fdtri(df_adding, df_taking, 1 - alpha))
    return ((f - 1) ** 2 - (_shrink(df_adding, alpha) * f) ** 2 - _grow(df_taking, alpha) ** 2) / f


def settle_labels(values: ArrayLike, **labels: Sequence[object]) -> tuple[FloatArray, dict[str, np.ndarray]]:
    """The values, and for each named list of labels the codes 0, 1, ... in order of first appearance."""
    sample = settle_sample(values)
    codes = {}
    for name, given in labels.items():
        if len(given) != sample.size:
            raise ValueError(f"{name} must hold one label for each value; got {len(given)} for {sample.size}")
        order: dict[object, int] = {}
        codes[name] = np.array([order.setdefault(label, len(order)) for label in given], dtype=np.intp)
    return sample, codes
