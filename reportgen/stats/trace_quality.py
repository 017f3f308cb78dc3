"""Properties of a force-displacement record, each a pure function: offset, slack, stiffness, work, rate, faults.

Forces are N, displacements mm, times s. The points are in the order recorded and a pull is positive.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from reportgen.stats.arguments import (
    settle_count,
    settle_fraction,
    settle_number,
    settle_positive,
    settle_sample,
)
from reportgen.stats.reduction import settle_trace


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
    settle_fraction("lower_fraction", lower)
    settle_fraction("upper_fraction", upper)
    if lower >= upper:
        raise ValueError(f"lower_fraction must be below upper_fraction; got {lower!r} and {upper!r}")
    rise = force[: index + 1]
    # From the last point below the lower force, so that a dip in the slack is not taken for the straight part.
    below = np.flatnonzero(rise < lower * force[index])
    start = int(below[-1]) + 1 if below.size else 0
    chosen = np.arange(start, rise.size)[rise[start:] <= upper * force[index]]
    x, y = displacement[chosen], force[chosen]
    if x.size < 3 or np.ptp(x) == 0:
        return None
    deviations = x - x.mean()
    slope = float(deviations @ (y - y.mean())) / float(deviations @ deviations)
    return slope, float(x.mean()), float(y.mean())


def work_to(displacement_mm: ArrayLike, force_n: ArrayLike, *, index: int) -> float:
    """Work from the first point to the point `index` by the trapezoid rule, in mJ (N mm).

    Args:
        displacement_mm, force_n: shape (n,), n >= 2, finite; the force without its offset. index: 0 to n - 1.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    displacement, force = settle_trace(displacement_mm, force_n)
    settle_count("index", index, minimum=0, maximum=force.size - 1)
    return float(np.trapezoid(force[: index + 1], displacement[: index + 1]))


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
    force = settle_sample(force_n, name="force_n")
    if settle_number("tolerance_n", tolerance_n) < 0:
        raise ValueError(f"tolerance_n must be 0 or more; got {tolerance_n!r}")
    settle_count("least_points", least_points, minimum=2)
    near_capacity = capacity_n is None or force.max() >= 0.98 * settle_positive("capacity_n", capacity_n)
    starts, lengths = _runs(force >= force.max() - tolerance_n)
    longest = int(lengths.argmax())
    return FlatTop(
        maximum_force_n=float(force.max()),
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
    force = settle_sample(force_n, name="force_n")
    settle_count("index", index, minimum=0, maximum=force.size - 1)
    settle_fraction("fraction", fraction)
    peak = settle_positive(f"force_n[{index}]", float(force[index]))
    starts, lengths = _runs(force >= (1 - fraction) * peak)
    around = int(np.searchsorted(starts, index, side="right")) - 1
    return int(lengths[around])


def step_at_peak(force_n: ArrayLike, *, index: int) -> float:
    """The larger change of force between the point `index` and its neighbours: so much of a peak may be missed, in N.

    Args:
        force_n: shape (n,), n >= 2, finite. index: 0 to n - 1.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    force = settle_sample(force_n, name="force_n")
    settle_count("index", index, minimum=0, maximum=force.size - 1)
    around = force[max(index - 1, 0) : index + 2]
    return float(np.abs(np.diff(around)).max())


def backward_travel(displacement_mm: ArrayLike) -> float:
    """The farthest that the displacement goes back behind where it had been, in mm; 0 where it never does.

    Args:
        displacement_mm: shape (n,), n >= 2, finite.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    displacement = settle_sample(displacement_mm, name="displacement_mm")
    return float((np.maximum.accumulate(displacement) - displacement).max())


def pull_rate(time_s: ArrayLike, displacement_mm: ArrayLike) -> float:
    """Rate of travel in mm/min: the least-squares slope between 10 and 90 % of the time, start and stop left out.

    Args:
        time_s, displacement_mm: shape (n,), n >= 2, finite; time goes forward.
    Raises: ValueError naming the argument, its value and the permitted range.
    """
    time = settle_sample(time_s, name="time_s")
    displacement = settle_sample(displacement_mm, name="displacement_mm")
    if time.size != displacement.size:
        raise ValueError(f"time_s and displacement_mm must be of one length; got {time.size} and {displacement.size}")
    duration = time[-1] - time[0]
    if duration <= 0 or np.any(np.diff(time) < 0):
        raise ValueError(f"time_s must go forward; got a record from {float(time[0])!r} to {float(time[-1])!r} s")
    steady = (time >= time[0] + 0.1 * duration) & (time <= time[-1] - 0.1 * duration)
    if np.count_nonzero(steady) < 3 or np.ptp(time[steady]) == 0:
        steady = np.ones(time.size, dtype=bool)
    deviations = time[steady] - time[steady].mean()
    return 60 * float(deviations @ displacement[steady]) / float(deviations @ deviations)


def _runs(inside: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where the runs of True begin, and how long they are."""
    edges = np.diff(np.concatenate(([0], inside.astype(np.int8), [0])))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    return starts, ends - starts
