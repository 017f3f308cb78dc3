"""Do several lots look like one population? Tests of equal distribution, equal spread and equal level.

Every test takes `groups`, one array per lot, and answers with a `Check`; small p-values speak against alike lots.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtrc, fdtrc, loggamma

from reportgen.stats.arguments import FloatArray, settle_fraction, settle_groups
from reportgen.stats.records import Check, PairComparison
from reportgen.stats.studentized_range import range_quantile, range_survival

Groups = Sequence[ArrayLike]


def k_sample_anderson_darling(groups: Groups) -> Check:
    """Anderson-Darling test that two or more lots come from one population, whatever its shape; ties by midranks.

    Args:
        groups: two or more lots of one or more finite values; not all values equal, at least 4 in all.
    Returns: `statistic` is A2akN itself (the composites handbook divides it by the number of lots less one).
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Scholz and Stephens, JASA 82 (1987) 918-924, equation 7, variance of equation 4. The p-value is that of the
    limiting distribution, computed by inverting its characteristic function (not read from a table), after matching
    mean and variance to the sample sizes; for lots of 5 it can be 0.01 away from the permutation value.
    """
    lots = settle_groups(groups)
    _refuse_equal_values(lots)
    n = sum(lot.size for lot in lots)
    if n < 4:
        raise ValueError(f"groups must hold at least 4 values in all; got {n}")
    between = len(lots) - 1
    statistic = _midrank_a2(lots)
    standardized = (statistic - between) / math.sqrt(_a2_variance(tuple(lot.size for lot in lots)))
    limiting_variance = 2 * (math.pi**2 / 3 - 3)
    p_value = _limiting_survival(between + math.sqrt(between * limiting_variance) * standardized, between)
    return Check(
        name="k-sample Anderson-Darling",
        statistic=statistic,
        p_value=p_value,
        df=(float(between),),
        n=n,
        method="midranks (A2akN); p from the limiting distribution, standardized by the exact variance",
    )


def _midrank_a2(lots: tuple[FloatArray, ...]) -> float:
    pooled = np.concatenate(lots)
    n = pooled.size
    distinct, multiplicity = np.unique(pooled, return_counts=True)
    below = np.cumsum(multiplicity) - multiplicity / 2
    spread = below * (n - below) - n * multiplicity / 4
    total = 0.0
    for lot in lots:
        ordered = np.sort(lot)
        left, right = np.searchsorted(ordered, distinct, "left"), np.searchsorted(ordered, distinct, "right")
        total += float(np.sum(multiplicity * (n * (left + right) / 2 - lot.size * below) ** 2 / spread)) / lot.size
    return (n - 1) / n**2 * total


def _a2_variance(sizes: tuple[int, ...]) -> float:
    n, k = sum(sizes), len(sizes)
    inverse_sizes = sum(1 / size for size in sizes)
    inverses = 1 / np.arange(1.0, n)
    harmonic = np.cumsum(inverses)
    h = float(harmonic[-1])
    g = float(np.sum((h - harmonic) * inverses[::-1]))  # sum over i < j < n of 1 / ((n - i) j)
    a = (4 * g - 6) * (k - 1) + (10 - 6 * g) * inverse_sizes
    b = (2 * g - 4) * k**2 + 8 * h * k + (2 * g - 14 * h - 4) * inverse_sizes - 8 * h + 4 * g - 6
    c = (6 * h + 2 * g - 2) * k**2 + (4 * h - 4 * g + 6) * k + (2 * h - 6) * inverse_sizes + 4 * h
    d = (2 * h + 6) * k**2 - 4 * h * k
    return (a * n**3 + b * n**2 + c * n + d) / ((n - 1.0) * (n - 2.0) * (n - 3.0))


def _limiting_survival(x: float, multiplicity: int) -> float:
    """P(Q > x), Q the sum over j = 1, 2, ... of chi-square(multiplicity) / (j (j + 1)); its mean is the multiplicity.

    Its moment generating function M(s) is (Gamma(1 - a) Gamma(2 + a))^(multiplicity / 2), a = (sqrt(1 + 8 s) - 1) / 2.
    The contour integral of M(s) exp(-s x) / (2 pi i s) is P(Q > x) if it passes between the poles at 0 and 1, and
    -P(Q < x) if it passes below 0. Above the mean a parabola opening to the right makes the integrand fall as a
    Gaussian; below it a straight line, on which M alone falls fast enough. The trapezoid rule then gives 11 digits or
    more for up to a hundred lots.
    """
    if x <= 0:
        return 1.0
    above_mean = x >= multiplicity
    width = 1 / math.sqrt(multiplicity)  # about the reciprocal of the standard deviation
    nearness = max(width, min(abs(x - multiplicity) / multiplicity, 1.0)) / 2
    if above_mean:
        crossing, bend, reach = nearness, 1 / multiplicity, math.sqrt(60 * multiplicity / x)
    else:
        crossing, bend, reach = -nearness, 0.0, (80 / (math.pi * multiplicity) + 4) ** 2 / width
    step = 0.05
    u = np.arange(-math.ceil(reach / step), math.ceil(reach / step) + 1) * step
    s = crossing + bend * u**2 + 1j * width * u
    a = (np.sqrt(1 + 8 * s) - 1) / 2
    log_moment = multiplicity / 2 * (loggamma(1 - a) + loggamma(2 + a))
    integrand = np.exp(log_moment - s * x) / s * (2 * bend * u + 1j * width)
    integral = float((np.sum(integrand) * step / (2j * math.pi)).real)
    return min(max(integral if above_mean else 1 + integral, 0.0), 1.0)


def one_way_anova(groups: Groups) -> Check:
    """One-way analysis of variance: equal means, if spreads are equal and lots normal.

    Args:
        groups: two or more lots of one or more finite values, one of them at least two; not all lots constant.
    Returns: `df` is (between, within).
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Fisher's F. Checked: NIST StRD certified values, R 4.2.2.
    """
    lots = settle_groups(groups)
    return _f_check("one-way ANOVA", lots, "F of the lot means, equal spreads assumed", magnitude=_magnitude(lots))


def levene(groups: Groups) -> Check:
    """Levene's test of equal spread, deviations from the lot MEAN.

    Args:
        groups: two or more lots of two or more finite values, one of three or more; deviations differ in some lot.
    Returns: `df` is (between, within).
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Levene 1960. Checked: USEPA 2009 example 11-2, R 4.2.2.
    """
    return _spread_check("Levene", groups, np.mean, "deviations from the lot mean")


def brown_forsythe(groups: Groups) -> Check:
    """Levene's test with deviations from the lot MEDIAN, which keeps its level when lots are skewed.

    Args:
        groups: two or more lots of two or more finite values, one of three or more; deviations differ in some lot.
    Returns: `df` is (between, within).
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Brown and Forsythe, JASA 69 (1974) 364-367. Checked: NIST/SEMATECH e-Handbook 1.3.5.10, R 4.2.2.
    """
    return _spread_check("Brown-Forsythe", groups, np.median, "deviations from the lot median")


def _spread_check(name: str, groups: Groups, center: Callable[[FloatArray], np.floating], method: str) -> Check:
    lots = settle_groups(groups, minimum=2)
    deviations = tuple(np.abs(lot - center(lot)) for lot in lots)
    return _f_check(name, deviations, method, magnitude=_magnitude(lots))


def _magnitude(lots: tuple[FloatArray, ...]) -> float:
    return float(max(np.abs(lot).max() for lot in lots))


def _f_check(name: str, lots: tuple[FloatArray, ...], method: str, *, magnitude: float) -> Check:
    n, between = sum(lot.size for lot in lots), len(lots) - 1
    within = n - len(lots)
    if within < 1:
        raise ValueError(f"groups must hold a lot of at least 2 values; got {len(lots)} lots of one value each")
    # Deviations are taken from the common mean first: readings such as 107.8681568 else lose their last digits.
    centered = tuple(lot - np.concatenate(lots).mean() for lot in lots)
    grand = float(np.concatenate(centered).mean())
    ss_between = sum(lot.size * (float(lot.mean()) - grand) ** 2 for lot in centered)
    ss_within = sum(float(np.sum((lot - lot.mean()) ** 2)) for lot in centered)
    # Deviations of a lot of two are alike but for rounding, which would make a statistic of 1e32 out of nothing.
    if ss_within <= n * (8 * np.finfo(float).eps * magnitude) ** 2:
        raise ValueError(
            f"groups leave no spread within lots for the {name} test; expected values that differ, "
            "and for a test of spread a lot of 3 or more"
        )
    statistic = (ss_between / between) / (ss_within / within)
    return Check(
        name=name,
        statistic=statistic,
        p_value=float(fdtrc(between, within, statistic)),
        df=(float(between), float(within)),
        n=n,
        method=method,
    )


def welch_anova(groups: Groups) -> Check:
    """Welch's analysis of variance: equal means, spreads may differ.

    Args:
        groups: two or more lots of two or more finite values, none of them constant.
    Returns: `df` is (between, approximate within); the second is not whole.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Welch, Biometrika 38 (1951) 330-336 (an approximation). Checked: R 4.2.2 oneway.test.
    """
    lots = _varying_lots(groups, "Welch")
    k = len(lots)
    weights = np.array([lot.size / lot.var(ddof=1) for lot in lots])
    means = np.array([lot.mean() for lot in lots])
    shares = weights / weights.sum()
    center = float(shares @ means)
    imbalance = float(np.sum((1 - shares) ** 2 / np.array([lot.size - 1 for lot in lots])))
    between = float(weights @ (means - center) ** 2) / (k - 1)
    statistic = between / (1 + 2 * (k - 2) / (k**2 - 1) * imbalance)
    within = (k**2 - 1) / (3 * imbalance)
    return Check(
        name="Welch ANOVA",
        statistic=statistic,
        p_value=float(fdtrc(k - 1, within, statistic)),
        df=(float(k - 1), within),
        n=sum(lot.size for lot in lots),
        method="F of the weighted lot means, spreads may differ",
    )


def bartlett(groups: Groups) -> Check:
    """Bartlett's test of equal variances; sensitive to lots that are not normal.

    Args:
        groups: two or more lots of two or more finite values, none of them constant.
    Returns: `df` is (lots less one,).
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Bartlett 1937 (chi-square approximation). Checked: NIST/SEMATECH e-Handbook 1.3.5.7, R 4.2.2.
    """
    lots = _varying_lots(groups, "Bartlett")
    df = np.array([lot.size - 1 for lot in lots])
    variances = np.array([lot.var(ddof=1) for lot in lots])
    pooled = float(df @ variances) / float(df.sum())
    correction = 1 + (float(np.sum(1 / df)) - 1 / float(df.sum())) / (3 * (len(lots) - 1))
    statistic = max(-float(df @ np.log(variances / pooled)) / correction, 0.0)
    return Check(
        name="Bartlett",
        statistic=statistic,
        p_value=float(chdtrc(len(lots) - 1, statistic)),
        df=(float(len(lots) - 1),),
        n=sum(lot.size for lot in lots),
        method="chi-square approximation",
    )


def kruskal_wallis(groups: Groups) -> Check:
    """Kruskal-Wallis rank test of equal level, corrected for ties.

    Args:
        groups: two or more lots of one or more finite values; not all values equal.
    Returns: `df` is (lots less one,).
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Kruskal and Wallis, JASA 47 (1952) 583-621 (chi-square approximation). Checked: R 4.2.2 kruskal.test.
    """
    lots = settle_groups(groups)
    _refuse_equal_values(lots)
    _, position, multiplicity = np.unique(np.concatenate(lots), return_inverse=True, return_counts=True)
    n = position.size
    ranks = (np.cumsum(multiplicity) - (multiplicity - 1) / 2)[position]
    deviations = np.split(ranks - (n + 1) / 2, np.cumsum([lot.size for lot in lots])[:-1])
    # Dividing by the ranks' own variance is the correction for ties.
    statistic = sum(float(part.sum()) ** 2 / part.size for part in deviations) / float(ranks.var(ddof=1))
    return Check(
        name="Kruskal-Wallis",
        statistic=statistic,
        p_value=float(chdtrc(len(lots) - 1, statistic)),
        df=(float(len(lots) - 1),),
        n=n,
        method="tie-corrected, chi-square approximation",
    )


def games_howell(groups: Groups, *, confidence: float = 0.95) -> tuple[PairComparison, ...]:
    """Games-Howell comparison of every pair of lots, spreads and sizes may differ.

    Args:
        groups: two or more lots of two or more finite values, none of them constant.
        confidence: of all intervals together; the p-values do not depend on it.
    Returns: pairs in the order (0, 1), (0, 2), ...; `statistic` is the signed Welch t = difference / its standard error
        (times sqrt(2) in size it is the studentized range), `df` Welch's.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Games and Howell, J. Educational Statistics 1 (1976) 113-125. Checked: pingouin, scipy's studentized range.
    """
    settle_fraction("confidence", confidence)
    lots = _varying_lots(groups, "Games-Howell")
    return tuple(_compare(lots, first, second, confidence) for first, second in combinations(range(len(lots)), 2))


def _compare(lots: tuple[FloatArray, ...], first: int, second: int, confidence: float) -> PairComparison:
    a, b = lots[first], lots[second]
    share_a, share_b = float(a.var(ddof=1)) / a.size, float(b.var(ddof=1)) / b.size
    error = math.sqrt(share_a + share_b)
    df = (share_a + share_b) ** 2 / (share_a**2 / (a.size - 1) + share_b**2 / (b.size - 1))
    difference = float(a.mean() - b.mean())
    statistic = difference / error
    half_width = range_quantile(confidence, k=len(lots), df=df) * error / math.sqrt(2)
    return PairComparison(
        first=first,
        second=second,
        difference=difference,
        statistic=statistic,
        df=df,
        p_value=range_survival(abs(statistic) * math.sqrt(2), k=len(lots), df=df),
        lower=difference - half_width,
        upper=difference + half_width,
        confidence=confidence,
    )


def _varying_lots(groups: Groups, test: str) -> tuple[FloatArray, ...]:
    lots = settle_groups(groups, minimum=2)
    for position, lot in enumerate(lots):
        if np.ptp(lot) == 0:
            raise ValueError(
                f"groups[{position}] holds {lot.size} times {float(lot[0])!r}; the {test} test needs spread in each lot"
            )
    return lots


def _refuse_equal_values(lots: tuple[FloatArray, ...]) -> None:
    if np.ptp(np.concatenate(lots)) == 0:
        raise ValueError(f"groups: all values are {float(lots[0][0])!r}; expected values that are not all equal")
