"""A method's declared rule for reducing a record, settled in N and mm once for all of its records."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reportgen.problems import Problem
from reportgen.project.records import Method
from reportgen.project.records import Reduction as Rule
from reportgen.quantities import convert, unit

# how far the value may move when the drop that counts is halved or doubled, where the method says nothing: this tool's
# own figure, as a share of the value (common practice, no source)
_SENSITIVE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """A method's rule in N and mm, with what the checks compare with; None where nothing is declared."""

    rule: str
    absolute_drop_n: float
    relative_drop: float
    window_mm: tuple[float, float] | None
    baseline_span_mm: float | None
    baseline_n: float
    toe_force_n: float | None
    smoothing_points: int
    minimum_travel_mm: float | None
    sensitivity: float
    rate_mm_per_min: float | None
    rate_tolerance: float | None


def settings_of(method: Method) -> Settings | Problem:
    """The rule of a method, its units settled once for all of its traces."""
    rule = method.reduction
    if rule is None:
        return _rule_fault(method, "reduction", "no rule that makes a value of a record", "'reduction' with its rule")
    for name, kind in _QUANTITIES.items():
        quantity = getattr(rule, name)
        if quantity is not None and unit(quantity.unit).kind not in kind:
            return _rule_fault(method, f"reduction.{name}", str(quantity), f"a {' or a '.join(kind)}")
    if rule.rule == "first_drop" and rule.absolute_drop is None and rule.relative_drop is None:
        found = "nothing that says how large a drop counts"
        return _rule_fault(method, "reduction", found, "absolute_drop, relative_drop or both")
    if rule.smoothing_points is not None and rule.smoothing_points % 2 == 0:
        return _rule_fault(method, "reduction.smoothing_points", repr(rule.smoothing_points), "an odd number of points")
    window = (_mm(rule, "window_from", -np.inf), _mm(rule, "window_to", np.inf))
    if window[0] >= window[1]:
        found = f"a window from {window[0]:g} mm to {window[1]:g} mm"
        return _rule_fault(method, "reduction.window_to", found, "window_from below window_to")
    rate, tolerance = _rate(method)
    by_length = rule.baseline is not None and unit(rule.baseline.unit).kind == "length"
    return Settings(
        rule=rule.rule,
        absolute_drop_n=_in(rule, "absolute_drop", "N") or 0.0,
        relative_drop=rule.relative_drop or 0.0,
        window_mm=None if window == (-np.inf, np.inf) else window,
        baseline_span_mm=_in(rule, "baseline", "mm") if by_length else None,
        baseline_n=0.0 if by_length else _in(rule, "baseline", "N") or 0.0,
        toe_force_n=_in(rule, "toe_force", "N"),
        smoothing_points=rule.smoothing_points or 1,
        minimum_travel_mm=_in(rule, "minimum_travel", "mm"),
        sensitivity=rule.sensitivity or _SENSITIVE,
        rate_mm_per_min=rate,
        rate_tolerance=tolerance,
    )


_QUANTITIES = {
    "absolute_drop": ("force",),
    "window_from": ("length",),
    "window_to": ("length",),
    "baseline": ("length", "force"),
    "toe_force": ("force",),
    "minimum_travel": ("length",),
}


def _in(rule: Rule, name: str, wanted: str) -> float | None:
    quantity = getattr(rule, name)
    return None if quantity is None else convert(quantity.value, from_unit=quantity.unit, to_unit=wanted)


def _mm(rule: Rule, name: str, otherwise: float) -> float:
    value = _in(rule, name, "mm")
    return otherwise if value is None else value


def _rate(method: Method) -> tuple[float | None, float | None]:
    """The pull rate among the method's parameters: the only one that is a speed, with its tolerance."""
    speeds = [p for p in method.parameters if p.unit and unit(p.unit).kind == "speed" and not isinstance(p.value, str)]
    if len(speeds) != 1 or speeds[0].unit is None:
        return None, None
    (speed,) = speeds
    value, tolerance = float(speed.value), speed.tolerance
    return (
        convert(value, from_unit=speeds[0].unit, to_unit="mm/min"),
        None if tolerance is None else convert(tolerance, from_unit=speeds[0].unit, to_unit="mm/min"),
    )


def _rule_fault(method: Method, key: str, found: str, expected: str) -> Problem:
    return Problem(
        place=method.at(key),
        found=found,
        expected=expected,
        mend=f"correct `reduction` of method {method.id}, and raise the revision of the method",
    )
