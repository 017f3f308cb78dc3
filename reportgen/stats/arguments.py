"""Settles what a caller hands in, once and in one wording, so that the arithmetic after it runs undisturbed.

Everything here raises `ValueError` naming the argument, its value and the permitted range. Text and booleans are
refused although numpy would turn them into numbers: a column of "12,4" or of true/false is a mistake in the input.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reportgen.stats.records import Side

FloatArray = NDArray[np.float64]

SIDES: tuple[Side, ...] = ("lower", "upper", "both")


def settle_sample(values: ArrayLike, *, name: str = "values", minimum: int = 2) -> FloatArray:
    """A one-dimensional array of at least `minimum` finite numbers, as a copy in float64."""
    array = settle_numbers(name, values)
    if array.ndim != 1:
        raise ValueError(f"{name} must be one-dimensional, one number per specimen; got shape {array.shape!r}")
    if array.size < minimum:
        raise ValueError(f"{name} must hold at least {minimum} numbers; got {array.size}")
    return array


def settle_positive_sample(values: ArrayLike, *, minimum: int = 2) -> FloatArray:
    """A sample of numbers above zero, not all equal: what a logarithm or a power can be taken of."""
    sample = settle_spread(values, minimum=minimum)
    if np.any(sample <= 0.0):
        raise ValueError(f"values must all be above 0 for this distribution; got {float(sample[sample <= 0.0][0])!r}")
    return sample


def settle_spread(values: ArrayLike, *, minimum: int = 2) -> FloatArray:
    """A sample whose values are not all equal: without spread every bound would be the value itself."""
    sample = settle_sample(values, minimum=minimum)
    if np.ptp(sample) == 0.0:
        raise ValueError(
            f"values must not all be equal; got {sample.size} times {float(sample[0])!r} "
            "(the spread is below what was resolved, so no interval can be computed from it)"
        )
    return sample


def settle_unequal(values: ArrayLike, *, minimum: int) -> FloatArray:
    """A sample for a check that looks at deviations: its values are not all equal."""
    sample = settle_sample(values, minimum=minimum)
    if (sample == sample[0]).all():
        raise ValueError(f"values: all {sample.size} are {float(sample[0])!r}; expected values that are not all equal")
    return sample


def settle_groups(groups: Sequence[ArrayLike], *, minimum_groups: int = 2, minimum: int = 1) -> tuple[FloatArray, ...]:
    """One array per lot: at least `minimum_groups` lots, each with at least `minimum` finite numbers."""
    settled = tuple(
        settle_sample(group, name=f"groups[{position}]", minimum=minimum) for position, group in enumerate(groups)
    )
    if len(settled) < minimum_groups:
        raise ValueError(f"groups must hold at least {minimum_groups} lots; got {len(settled)}")
    return settled


def settle_fraction(name: str, value: float) -> float:
    """A probability strictly between 0 and 1."""
    number = settle_number(name, value)
    if not 0.0 < number < 1.0:
        raise ValueError(f"{name} must be a fraction strictly between 0 and 1; got {value!r}{_percent_hint(number)}")
    return number


def settle_fractions(name: str, values: ArrayLike) -> FloatArray:
    """Probabilities strictly between 0 and 1, of any shape."""
    array = settle_numbers(name, values)
    outside = array[~((array > 0.0) & (array < 1.0))]
    if outside.size:
        first = float(outside.flat[0])
        raise ValueError(f"{name} must be a fraction strictly between 0 and 1; got {first!r}{_percent_hint(first)}")
    return array


def settle_count(name: str, value: int, *, minimum: int, maximum: int | None = None) -> int:
    """A whole number from `minimum` to `maximum` (no upper end where None)."""
    number = settle_number(name, value)
    if not number.is_integer() or number < minimum or (maximum is not None and number > maximum):
        span = f"of at least {minimum}" if maximum is None else f"from {minimum} to {maximum}"
        raise ValueError(f"{name} must be a whole number {span}; got {value!r}")
    return int(number)


def settle_counts(name: str, values: ArrayLike, *, minimum: int) -> FloatArray:
    """Whole numbers of at least `minimum`, of any shape; float64 because the arithmetic that follows is."""
    array = settle_numbers(name, values)
    outside = array[(array < minimum) | (array != np.floor(array))]
    if outside.size:
        raise ValueError(f"{name} must be a whole number of at least {minimum}; got {float(outside.flat[0])!r}")
    return array


def settle_side(side: Side, *, allowed: tuple[Side, ...] = SIDES) -> Side:
    """One of the allowed sides."""
    if side not in allowed:
        raise ValueError(f"side must be one of {', '.join(map(repr, allowed))}; got {side!r}")
    return side


def settle_positive(name: str, value: float) -> float:
    """A finite number above zero."""
    number = settle_number(name, value)
    if number <= 0.0:
        raise ValueError(f"{name} must be above 0; got {value!r}")
    return number


def settle_number(name: str, value: float) -> float:
    """One finite number."""
    if (type(value) is float or type(value) is int) and math.isfinite(value):
        return float(value)
    array = settle_numbers(name, value)
    if array.ndim != 0:
        raise ValueError(f"{name} must be a single number; got an array of shape {array.shape!r}")
    return float(array)


def settle_numbers(name: str, values: ArrayLike) -> FloatArray:
    """Finite numbers of any shape in float64; an array that is that already is passed on, not copied."""
    if type(values) is np.ndarray and values.dtype == np.float64 and values.size and np.isfinite(values).all():
        return values
    try:
        array = np.asarray(values)
    except ValueError:  # numpy's wording for ragged nesting says nothing of the argument
        raise ValueError(f"{name} must be numbers in a regular array; got rows of unequal length") from None
    if array.size == 0 and array.dtype.kind == "f":
        return array.astype(np.float64)
    if array.dtype.kind not in "iuf":
        raise ValueError(f"{name} must be numbers; got {_first_that_is_no_number(values)!r}")
    settled = array.astype(np.float64)
    unusable = settled[~np.isfinite(settled)]
    if unusable.size:
        raise ValueError(f"{name} must be finite; got {float(unusable.flat[0])!r}")
    return settled


def _first_that_is_no_number(values: ArrayLike) -> object:
    items: list[object] = np.asarray(values, dtype=object).ravel().tolist()  # object: keeps each item as it was given
    return next((item for item in items if isinstance(item, bool) or not isinstance(item, (int, float))), items[0])


def _percent_hint(value: float) -> str:
    return f" (a percentage? write {value / 100:g})" if math.isfinite(value) and 1.0 < value < 100.0 else ""
