"""From a force-displacement record to the force that a method reports: the highest before the first real drop."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reportgen.stats.arguments import FloatArray, settle_count, settle_number, settle_numbers, settle_sample

WHOLE_TRACE = (-math.inf, math.inf)

# "At least 0.5 N" must hold for a fall from 4.6 to 4.1, which binary fractions make 0.4999999999999998.
_ROUNDING = 1e-12

_BLOCK = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class Reduction:
    """The force at the first real drop of a trace, where it is, and what else a reader must know of the trace.

    `force_n` at `displacement_mm` and position `index` is the highest force inside the window before the first real
    drop. Where `dropped` is false no drop was found there: `force_n` is then the highest force inside the window, and
    the true value is at least that (a censored result). `drop_*` is the first point at which the fall counts.
    `later_higher_peak` tells that a force above `force_n` follows after the drop (or after the window, when none was
    found): `later_force_n` and `later_displacement_mm` are the highest force there, None at the end of the trace.
    `maximum_*` is the highest force of the whole trace, the window disregarded.
    """

    force_n: float
    displacement_mm: float
    index: int
    dropped: bool
    drop_force_n: float | None
    drop_displacement_mm: float | None
    drop_index: int | None
    later_higher_peak: bool
    later_force_n: float | None
    later_displacement_mm: float | None
    maximum_force_n: float
    maximum_displacement_mm: float
    maximum_index: int
    absolute_drop_n: float
    relative_drop: float
    window_mm: tuple[float, float]
    n_points: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ThresholdSensitivity:
    """The value when the fall that counts is halved and doubled; `largest_change_n` is the larger move of the two."""

    force_n: float
    halved_force_n: float
    doubled_force_n: float
    largest_change_n: float


def first_drop(
    displacement_mm: ArrayLike,
    force_n: ArrayLike,
    *,
    absolute_drop_n: float,
    relative_drop: float,
    window_mm: float | tuple[float, float] | None,
) -> Reduction:
    """The highest force before the first real drop of a pull, and the later peak that must not be taken for it.

    A drop is real where the force is below the highest force so far by at least `absolute_drop_n` AND by at least
    `relative_drop` of that highest force. Only points inside the window count, for the peak and for the fall alike.

    Args:
        displacement_mm, force_n: shape (n,), n >= 2, finite, in the order recorded; a pull is positive.
        absolute_drop_n: 0 or more; larger than the noise of the record from crest to trough.
        relative_drop: 0 or more, below 1; not both may be 0.
        window_mm: (from, to), both included; a single number is the `to` of a window open at the start; None: all.
    Raises: ValueError naming the argument, its value and the permitted range; also where no point is in the window.
    Source: the project's own definition, after common practice. Checked: traces of known truth, and the maximum that
    the testing machine reported for 24 published puncture records.
    """
    displacement, force = settle_trace(displacement_mm, force_n)
    searched = _searched(displacement, force, _settle_window(window_mm))
    thresholds = _settle_thresholds(absolute_drop_n, relative_drop)
    return _reduction(displacement, force, searched, thresholds, searched.first_fall(*thresholds))


def threshold_sensitivity(
    displacement_mm: ArrayLike,
    force_n: ArrayLike,
    *,
    absolute_drop_n: float,
    relative_drop: float,
    window_mm: float | tuple[float, float] | None,
) -> ThresholdSensitivity:
    """How far the value of `first_drop` moves when both thresholds are halved and when they are doubled.

    Args: as of `first_drop`. A relative drop that would reach 1 on doubling is taken half-way to 1 instead.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    displacement, force = settle_trace(displacement_mm, force_n)
    searched = _searched(displacement, force, _settle_window(window_mm))
    thresholds = _settle_thresholds(absolute_drop_n, relative_drop)
    return _sensitivity(searched, thresholds, searched.first_fall(*thresholds))


def first_drop_and_sensitivity(
    displacement_mm: ArrayLike,
    force_n: ArrayLike,
    *,
    absolute_drop_n: float,
    relative_drop: float,
    window_mm: float | tuple[float, float] | None,
) -> tuple[Reduction, ThresholdSensitivity]:
    """Both in one go, which costs little more than `first_drop` alone: for a folder of a thousand records.

    Args and Raises: as of `first_drop`.
    """
    displacement, force = settle_trace(displacement_mm, force_n)
    searched = _searched(displacement, force, _settle_window(window_mm))
    thresholds = _settle_thresholds(absolute_drop_n, relative_drop)
    drop = searched.first_fall(*thresholds)
    reduction = _reduction(displacement, force, searched, thresholds, drop)
    return reduction, _sensitivity(searched, thresholds, drop)


def _reduction(
    displacement: FloatArray,
    force: FloatArray,
    searched: _Searched,
    thresholds: tuple[float, float],
    drop: int | None,
) -> Reduction:
    before = searched.force if drop is None else searched.force[: drop + 1]
    index = int(searched.positions[int(before.argmax())])
    drop_index = None if drop is None else int(searched.positions[drop])
    last_searched = int(searched.positions[before.size - 1])
    later = last_searched + 1 + int(force[last_searched + 1 :].argmax()) if last_searched + 1 < force.size else None
    maximum = int(force.argmax())
    return Reduction(
        force_n=float(force[index]),
        displacement_mm=float(displacement[index]),
        index=index,
        dropped=drop_index is not None,
        drop_force_n=None if drop_index is None else float(force[drop_index]),
        drop_displacement_mm=None if drop_index is None else float(displacement[drop_index]),
        drop_index=drop_index,
        later_higher_peak=later is not None and bool(force[later] > force[index]),
        later_force_n=None if later is None else float(force[later]),
        later_displacement_mm=None if later is None else float(displacement[later]),
        maximum_force_n=float(force[maximum]),
        maximum_displacement_mm=float(displacement[maximum]),
        maximum_index=maximum,
        absolute_drop_n=thresholds[0],
        relative_drop=thresholds[1],
        window_mm=searched.window,
        n_points=force.size,
    )


def _sensitivity(searched: _Searched, thresholds: tuple[float, float], drop: int | None) -> ThresholdSensitivity:
    """A smaller fall comes no later than the declared one, and a larger one no sooner: each looks at its part only."""
    absolute, relative = thresholds
    declared_n = searched.highest_before(drop)
    halved = searched.highest_before(searched.first_fall(absolute / 2, relative / 2, end=drop))
    doubled = declared_n
    if drop is not None:
        twice = absolute * 2, min(relative * 2, (1 + relative) / 2)
        doubled = searched.highest_before(searched.first_fall(*twice, begin=drop))
    return ThresholdSensitivity(
        force_n=declared_n,
        halved_force_n=halved,
        doubled_force_n=doubled,
        largest_change_n=max(abs(halved - declared_n), abs(doubled - declared_n)),
    )


def smoothed(force_n: ArrayLike, *, points: int) -> FloatArray:
    """Moving average over an odd number of points; the window shrinks towards both ends, so that no point is made up.

    Args:
        force_n: shape (n,), n >= 2, finite. points: odd, 1 (nothing changes) to n.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    force = settle_sample(force_n, name="force_n")
    settle_count("points", points, minimum=1, maximum=force.size)
    if points % 2 == 0:
        raise ValueError(f"points must be an odd number, so that the average has a middle; got {points!r}")
    sums = np.concatenate(([0.0], np.cumsum(force - force[0])))
    centers = np.arange(force.size)
    reach = np.minimum(np.minimum(centers, force.size - 1 - centers), points // 2)
    averages = (sums[centers + reach + 1] - sums[centers - reach]) / (2 * reach + 1)
    return np.asarray(force[0] + averages, dtype=np.float64)


def smoothing_effect(
    displacement_mm: ArrayLike,
    force_n: ArrayLike,
    *,
    points: int,
    absolute_drop_n: float,
    relative_drop: float,
    window_mm: float | tuple[float, float] | None,
) -> float:
    """The value of `first_drop` on the smoothed trace less the value on the trace as recorded, in N.

    Args: as of `first_drop` and `smoothed`.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    displacement, force = settle_trace(displacement_mm, force_n)
    values = [
        first_drop(
            displacement, each, absolute_drop_n=absolute_drop_n, relative_drop=relative_drop, window_mm=window_mm
        ).force_n
        for each in (smoothed(force, points=points), force)
    ]
    return values[0] - values[1]


def settle_trace(displacement_mm: ArrayLike, force_n: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Two arrays of one length, at least two points, all finite; float64 arrays are taken as they are, not copied."""
    displacement, force = settle_axis("displacement_mm", displacement_mm), settle_axis("force_n", force_n)
    if displacement.size != force.size:
        raise ValueError(
            f"displacement_mm and force_n must be of one length; got {displacement.size} and {force.size} points"
        )
    return displacement, force


def settle_axis(name: str, values: ArrayLike) -> FloatArray:
    """One of these arrays by itself."""
    if (
        type(values) is np.ndarray
        and values.dtype == np.float64
        and values.ndim == 1
        and values.size >= 2
        and np.isfinite(values).all()
    ):
        return values
    return settle_sample(values, name=name)


def _settle_thresholds(absolute_drop_n: float, relative_drop: float) -> tuple[float, float]:
    absolute = settle_number("absolute_drop_n", absolute_drop_n)
    relative = settle_number("relative_drop", relative_drop)
    if absolute < 0:
        raise ValueError(f"absolute_drop_n must be 0 or more; got {absolute_drop_n!r}")
    if not 0 <= relative < 1:
        raise ValueError(f"relative_drop must be a fraction of 0 or more and below 1; got {relative_drop!r}")
    if absolute == 0 and relative == 0:
        raise ValueError("absolute_drop_n and relative_drop are both 0, so every fall would count; give at least one")
    return absolute, relative


def _settle_window(window_mm: float | tuple[float, float] | None) -> tuple[float, float]:
    if window_mm is None:
        return WHOLE_TRACE
    if not isinstance(window_mm, (tuple, list, np.ndarray)):
        return -math.inf, settle_number("window_mm", window_mm)
    if len(window_mm) != 2:
        raise ValueError(f"window_mm must be (from, to) or one number; got {window_mm!r}")
    ends = [end if abs(end) == math.inf else float(settle_numbers("window_mm", end)) for end in window_mm]
    if ends[0] >= ends[1]:
        raise ValueError(f"window_mm must run from a smaller to a larger displacement; got {window_mm!r}")
    return float(ends[0]), float(ends[1])


@dataclass(frozen=True, slots=True, eq=False)
class _Searched:
    """The part of a record inside the window, with the extremes of its blocks: found once, searched several times.

    The running maximum of every point is the costly part, so blocks are ruled out first: what a fall leaves, highest -
    needed, grows with the highest force, so a block whose lowest force is above that of its own end holds no fall.
    """

    window: tuple[float, float]
    positions: range | NDArray[np.intp]
    force: FloatArray
    highest: FloatArray  # so far, at the end of each block
    fallen: FloatArray  # from there to the lowest force of the block

    def highest_before(self, drop: int | None) -> float:
        return float((self.force if drop is None else self.force[: drop + 1]).max())

    def first_fall(self, absolute: float, relative: float, *, begin: int = 0, end: int | None = None) -> int | None:
        """The first position where the force is below the highest so far by both amounts, None where it never is.

        Looked for from `begin` (or a little before) to `end` (or a little after it).
        """
        needed = np.maximum(self.highest * relative, absolute) * (1 - 2 * _ROUNDING)
        suspects = (self.fallen >= needed).nonzero()[0]
        last = suspects.size if end is None else int(suspects.searchsorted(end // _BLOCK, side="right"))
        block, blocks = begin // _BLOCK, 4
        while (next_suspect := int(suspects.searchsorted(block))) < last:
            block = int(suspects[next_suspect])
            before = float(self.highest[block - 1]) if block else -math.inf
            span = self.force[block * _BLOCK : (block + blocks) * _BLOCK]
            fall = _first_fall_within(span, before, absolute, relative)
            if fall is not None:
                return block * _BLOCK + fall
            block += blocks
            blocks *= 2  # many suspects without a fall: a steep rise, soon settled in few long spans
        return None


def _searched(displacement: FloatArray, force: FloatArray, window: tuple[float, float]) -> _Searched:
    positions, inside = _inside(displacement, force, window)
    starts = np.arange(0, inside.size, _BLOCK)
    highest = np.maximum.accumulate(np.maximum.reduceat(inside, starts))
    return _Searched(window, positions, inside, highest, highest - np.minimum.reduceat(inside, starts))


def _inside(
    displacement: FloatArray, force: FloatArray, window: tuple[float, float]
) -> tuple[range | NDArray[np.intp], FloatArray]:
    """The positions inside the window and the forces there."""
    if window == WHOLE_TRACE:
        return range(force.size), force
    inside = (displacement >= window[0]) & (displacement <= window[1])
    count = int(np.count_nonzero(inside))
    if count == 0:
        raise ValueError(
            f"window_mm {window!r} holds no point of the trace, which runs from {float(displacement.min())!r} to "
            f"{float(displacement.max())!r} mm"
        )
    first = int(inside.argmax())
    if inside[first : first + count].all():  # in one piece, unless the displacement goes back: no copy needed
        return range(first, first + count), force[first : first + count]
    positions = np.flatnonzero(inside)
    return positions, force[positions]


def _first_fall_within(force: FloatArray, before: float, absolute: float, relative: float) -> int | None:
    highest = np.maximum.accumulate(force)
    np.maximum(highest, before, out=highest)
    needed = highest * (relative * (1 - _ROUNDING))
    # The smallest positive number stands for an absolute amount of 0: a point at the maximum itself is no fall.
    np.maximum(needed, max(absolute * (1 - _ROUNDING), 5e-324), out=needed)
    highest -= force
    falls = highest >= needed
    first = int(falls.argmax())
    return first if falls[first] else None
