"""A force-displacement record to the value that the method's declared rule gives.

Corrections come first (offset of force, slack), then the rule on what is left, then the checks of the record.
"""

from __future__ import annotations

import math
import re

import numpy as np

from reportgen.lab.records import ReducedTrace, Trace
from reportgen.lab.remarks import NEAR_PEAK, Remarks
from reportgen.lab.rule import Settings
from reportgen.lab.traces import Record
from reportgen.problems import Problem
from reportgen.stats import (
    Reduction,
    ThresholdSensitivity,
    baseline_offset,
    first_drop_and_sensitivity,
    pull_rate,
    pull_shape,
    slack,
    smoothed,
    smoothing_effect,
)

# the straight part of the rise, as shares of the reported force (common practice, no source)
_STIFF_FROM, _STIFF_TO = 0.2, 0.8
# points kept of a record for its figure: enough for any print, few enough to hold a thousand records in memory
_KEPT_POINTS = 2_000
_MOST_DIGITS = 5
# how the statistics name a window without points
_WINDOW = re.compile(r"window_mm \((-?[\d.e+]+|-inf), (-?[\d.e+]+|inf)\)")


def reduced(
    record: Record,
    settings: Settings,
    *,
    protocol: str,
    specimen: str,
    sha256: str,
    capacity_n: float | None,
    resolution_n: float | None,
) -> ReducedTrace | Problem:
    """Applies the rule to one record."""
    force, displacement = record.force_n, record.displacement_mm
    baseline = settings.baseline_n
    if settings.baseline_span_mm is not None:
        baseline = baseline_offset(displacement, force, span_mm=settings.baseline_span_mm).offset_n
    if baseline:
        force = force - baseline
    slack_mm = 0.0
    if settings.toe_force_n is not None and force.max() >= settings.toe_force_n:
        slack_mm = slack(displacement, force, toe_force_n=settings.toe_force_n)
        displacement = displacement - (displacement[0] + slack_mm)
    try:
        reduction, sensitivity, effect = _by_rule(displacement, force, settings)
    except ValueError as error:
        return _cannot_reduce(record, str(error))
    index = reduction.index
    rate, time_fault = _measured_rate(record)
    shape = pull_shape(
        displacement,
        force,
        index=index,
        near_fraction=NEAR_PEAK,
        lower_fraction=_STIFF_FROM,
        upper_fraction=_STIFF_TO,
    )
    remarks = Remarks(record, settings, reduction, shape, force, displacement)
    remarks.about_the_drop(sensitivity)
    remarks.about_the_cell(capacity_n, resolution_n)
    remarks.about_sampling()
    remarks.about_the_pull(rate, time_fault)
    remarks.about_the_start()
    kept_displacement, kept_force = _thinned(displacement, force, index, reduction)
    trace = Trace(
        protocol=protocol,
        specimen=specimen,
        displacement_mm=kept_displacement,
        force_n=kept_force,
        time_s=None,
        place=record.place,
        sha256=sha256,
    )
    return ReducedTrace(
        trace=trace,
        reduction=reduction,
        baseline_n=baseline,
        slack_mm=slack_mm,
        smoothing_effect_n=effect,
        stiffness_n_per_mm=shape.stiffness_n_per_mm,
        work_to_drop_mj=shape.work_mj,
        pull_rate_mm_per_min=rate,
        remarks=tuple(remarks.found),
        force_decimals=_decimals(reduction.force_n, record.force_decimals, resolution_n),
    )


def _decimals(force_n: float, of_column: int, resolution_n: float | None) -> int:
    """Those of the record's force column; no more than the force cell resolves, nor than five digits of the value.

    Machines export six decimals and more whatever they resolve: printed, such digits would claim what nobody measured.
    """
    digits = _MOST_DIGITS - 1 - math.floor(math.log10(abs(force_n))) if force_n else _MOST_DIGITS - 1
    resolved = math.ceil(-math.log10(resolution_n) - 1e-9) if resolution_n else of_column
    return max(0, min(of_column, digits, resolved))


def _by_rule(
    displacement: np.ndarray, force: np.ndarray, settings: Settings
) -> tuple[Reduction, ThresholdSensitivity | None, float]:
    """The reduction on the (possibly smoothed) force, how it depends on the drop, and what the smoothing did to it."""
    if settings.rule == "maximum":
        return _maximum(displacement, force, settings), None, 0.0
    points = settings.smoothing_points
    smooth = force if points == 1 or points > force.size else smoothed(force, points=points)
    reduction, sensitivity = first_drop_and_sensitivity(
        displacement,
        smooth,
        absolute_drop_n=settings.absolute_drop_n,
        relative_drop=settings.relative_drop,
        window_mm=settings.window_mm,
    )
    if smooth is force:
        return reduction, sensitivity, 0.0
    effect = smoothing_effect(
        displacement,
        force,
        points=points,
        absolute_drop_n=settings.absolute_drop_n,
        relative_drop=settings.relative_drop,
        window_mm=settings.window_mm,
    )
    return reduction, sensitivity, effect


def _maximum(displacement: np.ndarray, force: np.ndarray, settings: Settings) -> Reduction:
    """The rule 'maximum': the highest force inside the window; no drop is looked for."""
    low, high = settings.window_mm or (-np.inf, np.inf)
    inside = np.flatnonzero((displacement >= low) & (displacement <= high))
    if inside.size == 0:
        raise ValueError(f"the window of {low} to {high} mm holds no point of the trace")
    index = int(inside[np.argmax(force[inside])])
    maximum = int(force.argmax())
    return Reduction(
        force_n=float(force[index]),
        displacement_mm=float(displacement[index]),
        index=index,
        dropped=True,
        drop_force_n=None,
        drop_displacement_mm=None,
        drop_index=None,
        later_higher_peak=bool(maximum > index and force[maximum] > force[index]),
        later_force_n=float(force[maximum]) if maximum > index else None,
        later_displacement_mm=float(displacement[maximum]) if maximum > index else None,
        maximum_force_n=float(force[maximum]),
        maximum_displacement_mm=float(displacement[maximum]),
        maximum_index=maximum,
        absolute_drop_n=0.0,
        relative_drop=0.0,
        window_mm=(low, high),
        n_points=int(force.size),
    )


def _in_words(why: str) -> str:
    """The refusal of the statistic, with the window as people write it: 'from 9 mm on', not '(9.0, inf)'."""
    found = _WINDOW.search(why)
    if found is None:
        return why
    low, high = found[1], found[2]
    ends = [f"from {low} mm"] if low != "-inf" else []
    ends += [f"to {high} mm"] if high != "inf" else (["on"] if ends else [])
    return why.replace(found[0], f"the window {' '.join(ends)}").replace("the trace", "the record")


def _cannot_reduce(record: Record, why: str) -> Problem:
    return Problem(
        place=record.place,
        found=f"a record to which the method's rule cannot be applied: {_in_words(why)}",
        expected="a record that reaches into the window of the rule",
        mend="check that it is the right file; if the pull failed, write yes in column excluded of the result "
        "file and its cause beside it",
    )


def _measured_rate(record: Record) -> tuple[float | None, bool]:
    if record.time_s is None:
        return None, False
    try:
        return pull_rate(record.time_s, record.displacement_mm), False
    except ValueError:
        return None, True


def _thinned(
    displacement: np.ndarray, force: np.ndarray, index: int, reduction: Reduction
) -> tuple[np.ndarray, np.ndarray]:
    """The record for its figure: lowest and highest force of each stretch, and the points that are marked."""
    if force.size <= _KEPT_POINTS:
        return displacement, force
    stretch = -(-force.size // (_KEPT_POINTS // 2 - 4))
    whole = force.size // stretch * stretch
    blocks = force[:whole].reshape(-1, stretch)
    starts = np.arange(0, whole, stretch)
    kept = np.zeros(force.size, dtype=bool)
    kept[starts + blocks.argmin(axis=1)] = True
    kept[starts + blocks.argmax(axis=1)] = True
    kept[[0, index, reduction.maximum_index, force.size - 1, reduction.drop_index or 0]] = True
    positions = kept.nonzero()[0]  # once for both: choosing by a mask finds them anew each time
    return displacement[positions], force[positions]
