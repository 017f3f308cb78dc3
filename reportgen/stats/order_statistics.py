"""Distribution-free tolerance intervals from order statistics, and the sample sizes they need.

`order` counts in from each bounded end: 1 is the extreme value, 2 the one next to it. An interval bounded on both
sides runs from the order-th smallest to the order-th largest, so it needs as many values as a one-sided bound of twice
that order. The confidence moves in steps, and for a discrete population it is at least what is stated.

Source: Wilks, Ann. Math. Stat. 12 (1941) 91-96: the share beyond an order statistic is beta distributed.
Checked: 54 values in rational arithmetic or to 14 digits; NIST/SEMATECH e-Handbook 7.2.6.4; EnvStats (Millard 2013).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from reportgen.stats.arguments import settle_count, settle_fraction, settle_sample, settle_side
from reportgen.stats.binomial import chance_of_at_least, is_sure_enough, smallest_sample
from reportgen.stats.records import Interval, Side


def order_statistic_sample_size(*, confidence: float, coverage: float, order: int = 1, side: Side) -> int:
    """The smallest n at which the order-th value from each bounded end holds `coverage` with `confidence`."""
    return smallest_sample(
        _values_beyond(settle_count("order", order, minimum=1), side),
        share_inside=settle_fraction("coverage", coverage),
        confidence=settle_fraction("confidence", confidence),
    )


def order_statistic_confidence(n: int, *, coverage: float, order: int = 1, side: Side) -> float:
    """The exact confidence that the order-th value from each bounded end of n values holds `coverage`."""
    beyond = _settle_beyond(n, order, side)
    return chance_of_at_least(beyond, int(n), share_inside=settle_fraction("coverage", coverage))


def order_statistic_coverage(n: int, *, confidence: float, order: int = 1, side: Side) -> float:
    """The exact coverage that the order-th value from each bounded end of n values holds with `confidence`."""
    beyond = _settle_beyond(n, order, side)
    return float(special.betaincinv(int(n) - beyond + 1, beyond, 1.0 - settle_fraction("confidence", confidence)))


def order_statistic_largest_order(n: int, *, confidence: float, coverage: float, side: Side) -> int:
    """The largest order that still holds `coverage` with `confidence`; 0 where even the extreme values do not."""
    size = settle_count("n", n, minimum=1)
    sure, share = settle_fraction("confidence", confidence), settle_fraction("coverage", coverage)
    per_order = _values_beyond(1, side)
    low, high = 0, size // per_order + 1
    while high - low > 1:
        middle = (low + high) // 2
        if is_sure_enough(per_order * middle, size, share_inside=share, confidence=sure):
            low = middle
        else:
            high = middle
    return low


def order_statistic_interval(values: ArrayLike, *, confidence: float, coverage: float, side: Side) -> Interval:
    """Distribution-free tolerance interval between order statistics, as narrow as the confidence allows.

    It assumes only that the values are independent draws from one population. `achieved_confidence` is the exact
    confidence of the order used; the order itself is in `parameters`.

    Args:
        values: shape (n,), finite; any one unit, which the result keeps.
        confidence, coverage: fractions, each strictly between 0 and 1.
        side: the side that is bounded; the open side of the result is None.
    Raises: ValueError naming the argument, its value and the permitted range; where n is too small, with the n needed.
    """
    sample = np.sort(settle_sample(values))
    n = sample.size
    order = order_statistic_largest_order(n, confidence=confidence, coverage=coverage, side=side)
    if order == 0:
        needed = order_statistic_sample_size(confidence=confidence, coverage=coverage, side=side)
        raise ValueError(
            f"values must hold at least {needed} numbers for a distribution-free interval with confidence "
            f"{confidence!r} and coverage {coverage!r}, side {side!r}; got {n}"
        )
    return Interval(
        lower=None if side == "upper" else float(sample[order - 1]),
        upper=None if side == "lower" else float(sample[n - order]),
        k=None,
        n=n,
        mean=float(np.mean(sample)),
        sd=float(np.std(sample, ddof=1)),
        confidence=confidence,
        coverage=coverage,
        side=side,
        method="order statistics, distribution-free, exact",
        achieved_confidence=order_statistic_confidence(n, coverage=coverage, order=order, side=side),
        parameters=(("order", float(order)),),
    )


def _values_beyond(order: int, side: Side) -> int:
    return 2 * order if settle_side(side) == "both" else order


def _settle_beyond(n: int, order: int, side: Side) -> int:
    size = settle_count("n", n, minimum=1)
    beyond = _values_beyond(settle_count("order", order, minimum=1), side)
    if beyond > size:
        raise ValueError(
            f"order must leave a value inside: at most {size * order // beyond} for n={n!r}; got {order!r}"
        )
    return beyond
