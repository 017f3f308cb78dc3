"""The one question behind order statistics and attribute testing: how surely do at least m of n values fall outside?

Where a fraction p of the population lies outside, the number outside in a sample of n is binomial; the chance of at
least m is the incomplete beta function I_p(m, n - m + 1). Ties between that chance and the confidence asked for are
settled exactly on the decimals as written: 0.19 is 1 - 0.9^2, though not in binary.
"""

from __future__ import annotations

from fractions import Fraction
from math import comb

from scipy import special

_NEAR_TIE = 1e-12
_LARGEST_SAMPLE = 10**9


def chance_of_at_least(m: int, n: int, *, share_inside: float) -> float:
    """P(at least m of n values fall outside a share `share_inside` of the population)."""
    if m > n:
        return 0.0
    return float(special.betaincc(n - m + 1, m, share_inside))


def is_sure_enough(m: int, n: int, *, share_inside: float, confidence: float) -> bool:
    """Whether that chance reaches `confidence`, exactly where the floats are too close to tell."""
    chance = chance_of_at_least(m, n, share_inside=share_inside)
    if m > n or abs(chance - confidence) > _NEAR_TIE * min(confidence, 1.0 - confidence):
        return chance >= confidence
    inside = as_written(share_inside)
    outside = 1 - inside
    fewer = sum(comb(n, i) * outside**i * inside ** (n - i) for i in range(m))
    return bool(1 - fewer >= as_written(confidence))


def smallest_sample(m: int, *, share_inside: float, confidence: float) -> int:
    """The smallest n of which at least m fall outside with that confidence (the chance grows with n).

    Raises: ValueError where more than a thousand million values would be needed.
    """
    high = m
    while not is_sure_enough(m, high, share_inside=share_inside, confidence=confidence):
        high *= 2
        if high > _LARGEST_SAMPLE:
            raise ValueError(
                f"no sample below {_LARGEST_SAMPLE} is large enough for confidence {confidence!r} of {share_inside!r}"
            )
    low = high // 2  # too few, unless high is still m: then low < m cannot hold m outside
    while high - low > 1:
        middle = (low + high) // 2
        if is_sure_enough(m, middle, share_inside=share_inside, confidence=confidence):
            high = middle
        else:
            low = middle
    return high


def as_written(value: float) -> Fraction:
    """The decimal that a person wrote, not the binary number nearest to it."""
    return Fraction(repr(float(value)))
