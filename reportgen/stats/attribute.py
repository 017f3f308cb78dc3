"""Attribute (pass or fail) demonstrations: exact sample sizes and reliability bounds, for a process or a finite lot.

For a process the number of failures is binomial (Clopper and Pearson, Biometrika 26 (1934) 404-413, lower bound); with
no failure it is the success-run formula n = ln(1 - confidence) / ln(reliability). For a finite lot that is sampled
without replacement it is hypergeometric, and everything is decided in whole numbers.
Checked: 65 values in rational arithmetic or to 14 digits; NIST/SEMATECH e-Handbook 6.2.3.2 and 7.2.4.1.
"""

from __future__ import annotations

from fractions import Fraction
from math import comb, floor

from scipy import special

from reportgen.stats.arguments import settle_count, settle_fraction
from reportgen.stats.binomial import as_written, chance_of_at_least, smallest_sample

_LARGEST_LOT = 1_000_000


def attribute_sample_size(*, confidence: float, reliability: float, failures: int = 0) -> int:
    """The smallest n that demonstrates `reliability` with `confidence` when at most `failures` of the n fail."""
    return smallest_sample(
        settle_count("failures", failures, minimum=0) + 1,
        share_inside=settle_fraction("reliability", reliability),
        confidence=settle_fraction("confidence", confidence),
    )


def attribute_reliability(n: int, failures: int, *, confidence: float) -> float:
    """The exact binomial lower bound of reliability after `failures` of n; 0 when all fail."""
    size = settle_count("n", n, minimum=1)
    failed = settle_count("failures", failures, minimum=0, maximum=size)
    sure = settle_fraction("confidence", confidence)
    if failed == size:
        return 0.0
    return float(special.betaincinv(size - failed, failed + 1, 1.0 - sure))


def attribute_confidence(n: int, failures: int, *, reliability: float) -> float:
    """The exact confidence with which `failures` of n demonstrate `reliability`; 0 when all fail."""
    size = settle_count("n", n, minimum=1)
    failed = settle_count("failures", failures, minimum=0, maximum=size)
    return chance_of_at_least(failed + 1, size, share_inside=settle_fraction("reliability", reliability))


def attribute_acceptance(n: int, failures: int, *, reliability: float) -> float:
    """The chance that at most `failures` of n fail at a true `reliability` (operating characteristic)."""
    return 1.0 - attribute_confidence(n, failures, reliability=reliability)


def finite_lot_sample_size(lot_size: int, *, confidence: float, reliability: float, failures: int = 0) -> int | None:
    """The smallest n out of a lot of `lot_size` that demonstrates at least `reliability` of the whole lot.

    The lot counts as a whole, tested units included. None where not even testing all of it can: the lot is then so
    small that its worst unacceptable state already has no more failing units than are allowed.

    Raises: ValueError naming the argument, its value and the permitted range.
    Source: hypergeometric chance of at most `failures` when the lot holds the fewest failing units that miss the claim.
    """
    size = settle_count("lot_size", lot_size, minimum=1, maximum=_LARGEST_LOT)
    share, sure = settle_fraction("reliability", reliability), settle_fraction("confidence", confidence)
    allowed = settle_count("failures", failures, minimum=0)
    failing = floor(size * (1 - as_written(share))) + 1
    if failing <= allowed:
        return None
    low, high = allowed, size  # all of a lot with more failing units than allowed shows them
    while high - low > 1:
        middle = (low + high) // 2
        if _chance_of_at_most(allowed, size, failing, middle) <= 1 - as_written(sure):
            high = middle
        else:
            low = middle
    return high


def finite_lot_reliability(lot_size: int, n: int, failures: int, *, confidence: float) -> float:
    """The exact lower bound of the conforming share of a lot of `lot_size`, after `failures` of n tested from it."""
    size = settle_count("lot_size", lot_size, minimum=1, maximum=_LARGEST_LOT)
    tested = settle_count("n", n, minimum=1, maximum=size)
    failed = settle_count("failures", failures, minimum=0, maximum=tested)
    unsure = 1 - as_written(settle_fraction("confidence", confidence))
    low, high = failed, size - tested + failed + 1  # the failing units that the lot may hold, and one too many
    while high - low > 1:
        middle = (low + high) // 2
        if _chance_of_at_most(failed, size, middle, tested) > unsure:
            low = middle
        else:
            high = middle
    return (size - low) / size


def _chance_of_at_most(failures: int, lot_size: int, failing: int, n: int) -> Fraction:
    """P(at most `failures` among n drawn without replacement from a lot with `failing` failing units), exactly."""
    ways = sum(comb(failing, seen) * comb(lot_size - failing, n - seen) for seen in range(min(failures, n) + 1))
    return Fraction(ways, comb(lot_size, n))
