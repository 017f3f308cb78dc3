"""What is remarkable about one record: each check finds nothing, or one remark with its number.

The figures that the checks compare with are this tool's own: common practice, no source. They decide no verdict; each
remark carries its number, so that a reader can judge.
"""

from __future__ import annotations

import numpy as np

from reportgen.lab.records import Quality, TraceRemark
from reportgen.lab.rule import Settings
from reportgen.lab.traces import Record
from reportgen.stats import PullShape, Reduction, ThresholdSensitivity, flat_top

NEAR_PEAK, _LEAST_POINTS_NEAR_PEAK = 0.05, 5
_COARSE_STEP = 0.02
_LARGE_OFFSET = 0.01
_BACKWARD_SHARE = 0.005
_FLAT_POINTS_AT_CAPACITY = 5
_FLAT_POINTS_ANYWHERE = 20


class Remarks:
    """The checks of one record; what they found is in `found`."""

    def __init__(
        self,
        record: Record,
        settings: Settings,
        reduction: Reduction,
        shape: PullShape,
        force: np.ndarray,
        displacement: np.ndarray,
    ) -> None:
        self.settings, self.reduction, self.shape = settings, reduction, shape
        self.force, self.displacement = force, displacement
        self.time_filed = record.time_s is not None
        self.place = record.place
        self.found: list[TraceRemark] = []

    def _tell(self, kind: Quality, number: float, unit: str, message: str) -> None:
        self.found.append(TraceRemark(kind=kind, number=float(number), unit=unit, message=message, place=self.place))

    def about_the_drop(self, sensitivity: ThresholdSensitivity | None) -> None:
        """`sensitivity` is None where the rule looks for no drop."""
        value = self.reduction.force_n
        if sensitivity is None:
            return
        if not self.reduction.dropped:
            message = f"the pull ended without a drop; the value is at least {value:.4g} N"
            self._tell(Quality.NO_DROP, value, "N", message)
        elif value > 0:
            change = sensitivity.largest_change_n
            if change > self.settings.sensitivity * value:
                message = (
                    f"the value moves by {change:.4g} N when the drop that counts is halved or doubled, which is more "
                    f"than {self.settings.sensitivity:.0%} of {value:.4g} N"
                )
                self._tell(Quality.SENSITIVE, change, "N", message)

    def about_the_cell(self, capacity_n: float | None, resolution_n: float | None) -> None:
        least = _FLAT_POINTS_ANYWHERE if capacity_n is None else _FLAT_POINTS_AT_CAPACITY
        tolerance = resolution_n or 0.0
        top = flat_top(self.force, tolerance_n=tolerance, least_points=least, capacity_n=capacity_n)
        if top.is_saturated:
            of = "" if capacity_n is None else f" of a load cell of {capacity_n:.4g} N"
            message = (
                f"{top.n_points} points in a row at the highest force{of}: the load cell may have been at its limit"
            )
            self._tell(Quality.SATURATED, top.maximum_force_n, "N", message)

    def about_sampling(self) -> None:
        index, value = self.reduction.index, self.reduction.force_n
        if value <= 0:
            return
        near = self.shape.points_near_peak
        if near < _LEAST_POINTS_NEAR_PEAK:
            message = f"{near} points within {NEAR_PEAK:.0%} of the peak, fewer than {_LEAST_POINTS_NEAR_PEAK}"
            self._tell(Quality.FEW_POINTS, near, "points", message)
        step = float(self.force[index] - self.force[index - 1]) / value if index else 0.0
        if step > _COARSE_STEP:
            message = f"the force rose by {step:.1%} in the last step to the peak: so much of it may have been missed"
            self._tell(Quality.COARSE_SAMPLING, step, "1", message)

    def about_the_pull(self, rate: float | None, time_fault: bool) -> None:
        declared, tolerance = self.settings.rate_mm_per_min, self.settings.rate_tolerance
        if time_fault:
            self._tell(Quality.RATE, float("nan"), "mm/min", "the time of the record does not go forward: no pull rate")
        elif rate is not None and declared is not None and tolerance is not None and abs(rate - declared) > tolerance:
            message = f"pulled at {rate:.4g} mm/min; the method says {declared:g} ± {tolerance:g} mm/min"
            self._tell(Quality.RATE, rate, "mm/min", message)
        travel = float(self.displacement.max() - self.displacement.min())
        least = self.settings.minimum_travel_mm
        if least is not None and travel < least:
            message = f"{travel:.4g} mm of travel; the method asks for {least:g} mm"
            self._tell(Quality.SHORT_TRAVEL, travel, "mm", message)
        back = self.shape.backward_travel_mm
        if back > _BACKWARD_SHARE * travel:
            message = f"the displacement goes back by {back:.4g} mm, more than {_BACKWARD_SHARE:.1%} of the travel"
            self._tell(Quality.NOT_MONOTONE, back, "mm", message)

    def about_the_start(self) -> None:
        """The force of the first point, before any travel: a cell that was not zeroed shifts every value."""
        offset, value = float(self.force[0]), self.reduction.force_n
        if value > 0 and abs(offset) > _LARGE_OFFSET * value:
            message = (
                f"the force starts at {offset:.4g} N, more than {_LARGE_OFFSET:.0%} of the value, and no baseline of "
                "the method takes it away"
            )
            self._tell(Quality.OFFSET, offset, "N", message)
