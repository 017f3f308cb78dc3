"""Properties of a force-displacement record, each a pure function: offset, slack, stiffness, work, rate, faults.

Forces are N, displacements mm, times s. The points are in the order recorded and a pull is positive.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from reportgen.stats.arguments import (
    FloatArray,
    settle_count,
    settle_fraction,
    settle_number,
    settle_positive,
)
from reportgen.stats.reduction import settle_axis, settle_trace


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline:
    """The force at the start, before the specimen is pulled: its median, its standard deviation (the noise), points."""

    offset_n: float
    noise_n: float
    n_points: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatTop:
    """The longest run of consecutive points at the highest force. A real peak is touched once or twice."""

    maximum_force_n: float
    n_points: int
    first_index: int
    is_saturated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PullShape:
    """What a record looks like around the reported force and on the way there; the fields as their functions."""

    points_near_peak: int
    backward_travel_mm: float
    stiffness_n_per_mm: float | None
    work_mj: float


def baseline_offset(displacement_mm: ArrayLike, force_n: ArrayLike, *, span_mm: float) -> Baseline:
    """Force before the pull, over the points of the first `span_mm` of travel.

    Args:
        displacement_mm, force_n: shape (n,), n >= 2, finite. span_mm: above 0.
    Returns: the median, which a single early spike cannot move; `noise_n` is 0 where only one point lies in the span.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    displacement, force = settle_trace(displacement_mm, force_n)
    beyond = displacement > displacement[0] + settle_positive("span_mm", span_mm)
    end = int(beyond.argmax()) if beyond.any() else displacement.size
    start = force[:end]
    noise = float(start.std(ddof=1)) if start.size > 1 else 0.0
    return Baseline(offset_n=float(np.median(start)), noise_n=noise, n_points=start.size)


def slack(displacement_mm: ArrayLike, force_n: ArrayLike, *, toe_force_n: float) -> float:
    """Travel from the first point until the force first reaches `toe_force_n`, interpolated between points.

    Args:
        displacement_mm, force_n: shape (n,), n >= 2, finite; the force without its offset. toe_force_n: above 0.
    Returns: mm to subtract from displacements that shall begin where the specimen takes load; 0 if it does at once.
    Raises: ValueError naming the argument, its value and the permitted range; also where the force is never reached.
    """
    displacement, force = settle_trace(displacement_mm, force_n)
    toe = settle_positive("toe_force_n", toe_force_n)
    reached = force >= toe
    first = int(reached.argmax())
    if not reached[first]:
        raise ValueError(f"toe_force_n must be reached by the trace; got {toe!r} with at most {float(force.max())!r} N")
    if first == 0:
        return 0.0
    share = (toe - force[first - 1]) / (force[first] - force[first - 1])
    at_toe = displacement[first - 1] + share * (displacement[first] - displacement[first - 1])
    return float(at_toe - displacement[0])


def toe_correction(
    displacement_mm: ArrayLike, force_n: ArrayLike, *, index: int, lower_fraction: float, upper_fraction: float
) -> float | None:
    """The displacement at which the straight part, prolonged backwards, meets zero force: the corrected zero of travel.

    Args: as of `stiffness`; the force without its offset.
    Returns: mm on the scale of `displacement_mm`; None where `stiffness` is None or not above 0.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: the construction of toe compensation in ASTM D638-14, annex A1 (clause from memory).
    """
    line = _straight_part(displacement_mm, force_n, index=index, lower=lower_fraction, upper=upper_fraction)
    if line is None or line[0] <= 0:
        return None
    slope, mean_displacement, mean_force = line
    return mean_displacement - mean_force / slope


def stiffness(
    displacement_mm: ArrayLike, force_n: ArrayLike, *, index: int, lower_fraction: float, upper_fraction: float
) -> float | None:
    """Least-squares slope of the rise to the point `index`, between two fractions of its force, in N/mm.

    Args:
        displacement_mm, force_n: shape (n,), n >= 2, finite.
        index: position of the force whose rise is meant (of `first_drop`). lower_fraction < upper_fraction, in (0, 1).
    Returns: None where fewer than three points or no travel lies between the two forces.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    line = _straight_part(displacement_mm, force_n, index=index, lower=lower_fraction, upper=upper_fraction)
    return None if line is None else line[0]


def _straight_part(
    displacement_mm: ArrayLike, force_n: ArrayLike, *, index: int, lower: float, upper: float
) -> tuple[float, float, float] | None:
    displacement, force = settle_trace(displacement_mm, force_n)
    settle_count("index", index, minimum=0, maximum=force.size - 1)
    _settle_stretch(lower, upper)
    return _line(displacement, force, index=index, lower=lower, upper=upper)


def _line(
    displacement: FloatArray, force: FloatArray, *, index: int, lower: float, upper: float
) -> tuple[float, float, float] | None:
    """Slope, mean displacement and mean force of the straight part, of settled arguments."""
    peak = force[index]
    # From the last point below the lower force, so that a dip in the slack is not taken for the straight part.
    below = force[index::-1] < lower * peak
    last_below = int(below.argmax())
    start = index - last_below + 1 if below[last_below] else 0
    chosen = (force[start : index + 1] <= upper * peak).nonzero()[0]
    chosen += start
    x, y = displacement[chosen], force[chosen]
    if x.size < 3 or x.max() == x.min():
        return None
    mean_x, mean_y = x.sum() / x.size, y.sum() / y.size
    deviations = x - mean_x
    slope = float(deviations @ (y - mean_y)) / float(deviations @ deviations)
    return slope, float(mean_x), float(mean_y)


def work_to(displacement_mm: ArrayLike, force_n: ArrayLike, *, index: int) -> float:
    """Work from the first point to the point `index` by the trapezoid rule, in mJ (N mm).

    Args:
        displacement_mm, force_n: shape (n,), n >= 2, finite; the force without its offset. index: 0 to n - 1.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    displacement, force = settle_trace(displacement_mm, force_n)
    settle_count("index", index, minimum=0, maximum=force.size - 1)
    return _work(displacement, force, index=index)


def _work(displacement: FloatArray, force: FloatArray, *, index: int) -> float:
    travelled = displacement[1 : index + 1] - displacement[:index]
    return float((travelled * (force[1 : index + 1] + force[:index])).sum()) / 2


def flat_top(force_n: ArrayLike, *, tolerance_n: float, least_points: int, capacity_n: float | None = None) -> FlatTop:
    """Does the record end in a flat top, as a load cell at its limit or a clipped amplifier leaves it?

    Args:
        force_n: shape (n,), n >= 2, finite.
        tolerance_n: points this near the highest force count as equal to it; 0 or more (the resolution of the record).
        least_points: how many consecutive points make a flat top, 2 or more.
        capacity_n: of the load cell; where given, the highest force must also be at least 98 % of it (common practice,
            no source: cells clip a little below or above their nominal capacity).
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    force = settle_axis("force_n", force_n)
    if settle_number("tolerance_n", tolerance_n) < 0:
        raise ValueError(f"tolerance_n must be 0 or more; got {tolerance_n!r}")
    settle_count("least_points", least_points, minimum=2)
    maximum = float(force.max())
    near_capacity = capacity_n is None or maximum >= 0.98 * settle_positive("capacity_n", capacity_n)
    starts, lengths = _runs(force >= maximum - tolerance_n)
    longest = int(lengths.argmax())
    return FlatTop(
        maximum_force_n=maximum,
        n_points=int(lengths[longest]),
        first_index=int(starts[longest]),
        is_saturated=bool(near_capacity and lengths[longest] >= least_points),
    )


def points_near_peak(force_n: ArrayLike, *, index: int, fraction: float) -> int:
    """How many consecutive points around the point `index` are at least (1 - fraction) of its force.

    A peak resting on one or two points may be an artefact, or missed between points.

    Args:
        force_n: shape (n,), n >= 2, finite. index: 0 to n - 1, force there above 0. fraction: in (0, 1).
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    force = settle_axis("force_n", force_n)
    settle_count("index", index, minimum=0, maximum=force.size - 1)
    settle_fraction("fraction", fraction)
    settle_positive(f"force_n[{index}]", float(force[index]))
    return _near(force, index=index, fraction=fraction)


def _near(force: FloatArray, *, index: int, fraction: float) -> int:
    lower = force < (1 - fraction) * force[index]
    after, before = lower[index:], lower[index::-1]
    ends = (int(side.argmax()) for side in (after, before))
    reach = [end if side[end] else side.size for end, side in zip(ends, (after, before), strict=True)]
    return sum(reach) - 1


def step_at_peak(force_n: ArrayLike, *, index: int) -> float:
    """The larger change of force between the point `index` and its neighbours: so much of a peak may be missed, in N.

    Args:
        force_n: shape (n,), n >= 2, finite. index: 0 to n - 1.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    force = settle_axis("force_n", force_n)
    settle_count("index", index, minimum=0, maximum=force.size - 1)
    around = force[max(index - 1, 0) : index + 2]
    return float(np.abs(np.diff(around)).max())


def pull_shape(
    displacement_mm: ArrayLike,
    force_n: ArrayLike,
    *,
    index: int,
    near_fraction: float,
    lower_fraction: float,
    upper_fraction: float,
) -> PullShape:
    """`points_near_peak`, `backward_travel`, `stiffness` and `work_to` in one go, for a folder of a thousand records.

    Args and Raises: as of these four; a force at `index` that is not above 0 has no points near it.
    """
    displacement, force = settle_trace(displacement_mm, force_n)
    settle_count("index", index, minimum=0, maximum=force.size - 1)
    settle_fraction("near_fraction", near_fraction)
    _settle_stretch(lower_fraction, upper_fraction)
    line = _line(displacement, force, index=index, lower=lower_fraction, upper=upper_fraction)
    return PullShape(
        points_near_peak=_near(force, index=index, fraction=near_fraction) if force[index] > 0 else 0,
        backward_travel_mm=_backward(displacement),
        stiffness_n_per_mm=None if line is None else line[0],
        work_mj=_work(displacement, force, index=index),
    )


def backward_travel(displacement_mm: ArrayLike) -> float:
    """The farthest that the displacement goes back behind where it had been, in mm; 0 where it never does.

    Args:
        displacement_mm: shape (n,), n >= 2, finite.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    displacement = settle_axis("displacement_mm", displacement_mm)
    return _backward(displacement)


def _backward(displacement: FloatArray) -> float:
    if (displacement[1:] >= displacement[:-1]).all():  # as nearly always: the running maximum is ten times slower
        return 0.0
    return float((np.maximum.accumulate(displacement) - displacement).max())


def pull_rate(time_s: ArrayLike, displacement_mm: ArrayLike) -> float:
    """Rate of travel in mm/min: the least-squares slope between 10 and 90 % of the time, start and stop left out.

    Args:
        time_s, displacement_mm: shape (n,), n >= 2, finite; time goes forward.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    time = settle_axis("time_s", time_s)
    displacement = settle_axis("displacement_mm", displacement_mm)
    if time.size != displacement.size:
        raise ValueError(f"time_s and displacement_mm must be of one length; got {time.size} and {displacement.size}")
    duration = time[-1] - time[0]
    if duration <= 0 or not (time[1:] >= time[:-1]).all():
        raise ValueError(f"time_s must go forward; got a record from {float(time[0])!r} to {float(time[-1])!r} s")
    first, end = time.searchsorted(time[0] + 0.1 * duration), time.searchsorted(time[-1] - 0.1 * duration, side="right")
    if end - first < 3 or time[first] == time[end - 1]:
        first, end = 0, time.size
    deviations = time[first:end] - time[first:end].sum() / (end - first)
    return 60 * float(deviations @ displacement[first:end]) / float(deviations @ deviations)


def _settle_stretch(lower: float, upper: float) -> None:
    settle_fraction("lower_fraction", lower)
    settle_fraction("upper_fraction", upper)
    if lower >= upper:
        raise ValueError(f"lower_fraction must be below upper_fraction; got {lower!r} and {upper!r}")


def _runs(inside: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where the runs of True begin, and how long they are; at least one point is True."""
    positions = inside.nonzero()[0]
    last = (positions[1:] > positions[:-1] + 1).nonzero()[0]  # of each run but the last, among the positions
    starts = positions[np.concatenate(([0], last + 1))]
    return starts, positions[np.concatenate((last, [positions.size - 1]))] - starts + 1
