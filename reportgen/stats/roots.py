"""One guarded root search for the equations of this package that have one unknown and a monotone left side."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import numpy as np

_WIDENINGS = 200
_REFINEMENTS = 200
_SECANTS, _FARTHEST_SECANT = 9, 1.0


def root_from(function: Callable[[float], float], start: float, *, step: float) -> float:
    """The root of a monotone function, found by walking from `start` in growing steps until its sign changes.

    Raises: ArithmeticError where no change of sign is met, or the function has no value.
    """
    here, value = start, function(start)
    if value == 0.0:
        return start
    ahead = function(start + step)
    direction = step if (ahead - value) * value < 0.0 else -step
    for _ in range(_WIDENINGS):
        there = here + direction
        beyond = function(there)
        if not math.isfinite(beyond):
            break
        if (beyond > 0.0) != (value > 0.0):
            return root_between(function, here, there)
        here, value, direction = there, beyond, 2.0 * direction
    raise ArithmeticError(f"no root was met walking from {start!r}: stopped at {here!r}, where the value is {value!r}")


def root_of_nearly_straight(function: Callable[[float], float], start: float, *, step: float) -> float | None:
    """The root near `start` to rounding error, by secants; None where they do not settle within a few steps.

    None is no fault: a function that bends, or a start far from the root, is a case for `root_between`.
    """
    roots = roots_of_nearly_straight(
        lambda x, _: np.array([function(value) for value in x.tolist()]), np.array([start]), step=step
    )
    return None if np.isnan(roots[0]) else float(roots[0])


def roots_of_nearly_straight(
    function: Callable[[np.ndarray, np.ndarray], np.ndarray], start: np.ndarray, *, step: float
) -> np.ndarray:
    """`root_of_nearly_straight` of many equations of one form at once; NaN where it would give None.

    Args:
        function: given values of the unknown and the positions of the equations that they belong to, the left sides.
        start: shape (m,).
    """
    roots = np.full(start.shape, np.nan)
    at, before, there = np.arange(start.size), start, start + step
    at_before, at_there = function(before, at), function(there, at)
    for _ in range(_SECANTS):
        with np.errstate(divide="ignore", invalid="ignore"):
            ahead = there - at_there * (there - before) / (at_there - at_before)
        ahead = np.where(at_there == 0.0, there, ahead)
        # the next step would be about as long as the product of the last two, times the bend, which is below one here
        last = np.abs(ahead - there) * np.minimum(1.0, np.abs(ahead - before)) <= 4e-16 * np.abs(there)
        is_near = np.abs(ahead - start[at]) < _FARTHEST_SECANT  # not where it is nan
        settled = (at_there == 0.0) | (is_near & last)
        roots[at[settled]] = ahead[settled]
        left = ~settled & is_near
        at, before, at_before, there = at[left], there[left], at_there[left], ahead[left]
        if not at.size:
            break
        at_there = function(there, at)
    return roots


def root_between(function: Callable[[float], float], low: float, high: float) -> float:
    """The root between two points of opposite sign, to rounding error.

    Source: Ridders, IEEE Transactions on Circuits and Systems 26 (1979) 979-980.

    Raises: ArithmeticError where the signs do not differ.
    """
    low, high = min(low, high), max(low, high)
    at_low, at_high = function(low), function(high)
    if at_low == 0.0 or at_high == 0.0:
        return low if at_low == 0.0 else high
    if not at_low * at_high < 0.0:
        raise ArithmeticError(f"no change of sign between {low!r} ({at_low!r}) and {high!r} ({at_high!r})")
    previous = math.inf
    for _ in range(_REFINEMENTS):
        middle = low + (high - low) / 2.0
        at_middle = function(middle)
        if at_middle == 0.0:
            return middle
        ratio = at_middle / math.sqrt(at_middle * at_middle - at_low * at_high)
        guess = middle + (middle - low) * math.copysign(ratio, (at_low - at_high) * at_middle)
        at_guess = function(guess)
        if at_guess == 0.0 or abs(guess - previous) <= 2e-16 * abs(guess):
            return guess
        previous = guess
        points = sorted(((low, at_low), (middle, at_middle), (guess, at_guess), (high, at_high)))
        for left, right in itertools.pairwise(points):
            if left[1] * right[1] < 0.0:
                (low, at_low), (high, at_high) = left, right
                break
    return previous
