"""How many specimens a claim needs: counted failures, or measured values at an expected distance to the limit."""

from __future__ import annotations

import math
from collections.abc import Callable

from reportgen.acceptance.records import Plan, PlanRow, TwoStage
from reportgen.stats import (
    attribute_acceptance,
    attribute_sample_size,
    one_sided_factor,
    two_sided_factor,
    variable_acceptance,
)
from reportgen.stats.two_sided_power import two_sided_acceptance

MOST_FAILURES = 5
MOST_SPECIMENS = 5_000
_CURVE_POINTS = 81


def attribute_plan_of(*, confidence: float, reliability: float, expected_reliability: float, power: float) -> Plan:
    """The smallest attribute plan, with at most five failures, that demonstrates the claim with the wanted chance.

    Args: expected_reliability: what the production is believed to be; above `reliability`, or no plan has much chance.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    _fraction("power", power)
    rows = []
    for failures in range(MOST_FAILURES + 1):
        n = attribute_sample_size(confidence=confidence, reliability=reliability, failures=failures)
        chance = float(attribute_acceptance(n, failures, reliability=expected_reliability))
        rows.append(PlanRow(n=n, failures=failures, k=None, power=chance))
    chosen = next((row for row in rows if row.power >= power), None)
    shown = chosen or rows[0]
    low = max(1e-6, 1.0 - 4.0 * (1.0 - reliability))
    shares = [low + (1.0 - 1e-9 - low) * at / (_CURVE_POINTS - 1) for at in range(_CURVE_POINTS)]
    return Plan(
        kind="attribute",
        confidence=confidence,
        reliability=reliability,
        expected=(expected_reliability,),
        power=power,
        chosen=chosen,
        rows=tuple(rows),
        curve=tuple(
            (share, float(attribute_acceptance(shown.n, shown.failures or 0, reliability=share))) for share in shares
        ),
        two_stage=_two_stage(confidence, reliability, expected_reliability),
        naive=_stages(rows[0].n, rows[0].n, reliability, expected_reliability),
    )


def variable_plan_of(
    *, confidence: float, reliability: float, below: float | None, above: float | None, power: float
) -> Plan:
    """The smallest n whose normal tolerance bound clears the limits with the wanted chance.

    Args:
        below, above: expected distance of the mean from the lower and upper limit in standard deviations; None for a
            limit that there is not.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    _fraction("power", power)
    if below is None and above is None:
        raise ValueError("below and above are both missing; give the distance to at least one limit")

    def row(n: int) -> PlanRow:
        k, chance = _variable(n, confidence, reliability, below, above)
        return PlanRow(n=n, failures=None, k=k, power=chance)

    chosen = _smallest(row, power)
    sizes = sorted({5, 8, 10, 15, 20, 30, 45, 60, *((chosen.n,) if chosen else ())})
    shown = chosen or row(30)
    shift = max(abs(below or 0.0), abs(above or 0.0), 1.0) / (_CURVE_POINTS - 1) * 2
    moved = [-(_CURVE_POINTS // 2) * shift + at * shift for at in range(_CURVE_POINTS)]
    return Plan(
        kind="variable",
        confidence=confidence,
        reliability=reliability,
        expected=tuple(value for value in (below, above) if value is not None),
        power=power,
        chosen=chosen,
        rows=tuple(row(n) for n in sizes),
        curve=tuple(
            (
                (below if below is not None else above or 0.0) + by,
                _variable(
                    shown.n,
                    confidence,
                    reliability,
                    None if below is None else below + by,
                    None if above is None else (above - by if below is not None else above + by),
                )[1],
            )
            for by in moved
        ),
        two_stage=None,
        naive=None,
    )


def _variable(
    n: int, confidence: float, reliability: float, below: float | None, above: float | None
) -> tuple[float, float]:
    """Factor and chance of a sample of n."""
    if below is not None and above is not None:
        k = float(two_sided_factor(n, confidence=confidence, coverage=reliability))
        return k, two_sided_acceptance(n, k, below=below, above=above)
    k = float(one_sided_factor(n, confidence=confidence, coverage=reliability))
    distance = below if below is not None else above
    share = 0.5 * math.erfc(-(distance or 0.0) / math.sqrt(2.0))
    if not 0.0 < share < 1.0:
        return k, 1.0 if share >= 1.0 else 0.0
    return k, float(variable_acceptance(n, k, reliability=share))


def _smallest(row: Callable[[int], PlanRow], power: float) -> PlanRow | None:
    """The smallest n that reaches the power: doubled until one does, then halved in between (power grows with n)."""
    high = 2
    while row(high).power < power:
        high *= 2
        if high > MOST_SPECIMENS:
            return None
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if row(middle).power >= power else (middle, high)
    return row(high)


def _two_stage(confidence: float, reliability: float, expected: float) -> TwoStage | None:
    """Of the two-stage plans that keep the confidence over both stages, the one with the fewest specimens to expect."""
    risk = 1.0 - confidence
    first = attribute_sample_size(confidence=confidence, reliability=reliability) + 1
    last = attribute_sample_size(confidence=confidence, reliability=reliability, failures=1)
    best: TwoStage | None = None
    fewest = math.inf
    for n in range(first, last + 1):
        left = risk - reliability**n
        one = n * (1.0 - reliability) * reliability ** (n - 1)
        if left <= 0.0:
            continue
        more = max(1, math.ceil(math.log(left / one) / math.log(reliability))) if left < one else 1
        to_expect = n + more * n * (1.0 - expected) * expected ** (n - 1)
        if to_expect < fewest:
            best, fewest = _stages(n, more, reliability, expected), to_expect
    return best


def _stages(first: int, second: int, reliability: float, expected: float) -> TwoStage:
    def passes(share: float) -> float:
        return share**first + first * (1.0 - share) * share ** (first - 1) * share**second

    return TwoStage(first_n=first, second_n=second, confidence=1.0 - passes(reliability), power=passes(expected))


def _fraction(name: str, value: float) -> None:
    if not 0.0 < value < 1.0:
        raise ValueError(f"{name} must be a fraction strictly between 0 and 1; got {value!r}")
