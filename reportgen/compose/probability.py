"""Probability plots: ordered values on the scale that the approach looks at, with its fit and a band around it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from reportgen.acceptance.records import Evaluation
from reportgen.compose.chart_axes import axis_span, axis_title, round_values
from reportgen.compose.chart_lines import (
    FOR_INFORMATION,
    SIDES,
    bound_line,
    drawn,
    limit_lines,
    notes_on,
    off_the_scale,
)
from reportgen.compose.charts import sources_of
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Figure, Line, ProbabilityChart
from reportgen.compose.sentences import group_name
from reportgen.compose.wording import counted, name_of
from reportgen.project.records import LotRule
from reportgen.rounding import significant
from reportgen.stats import box_cox_interval
from reportgen.stats.plotting_positions import normal_plot, weibull_plot

BAND_CONFIDENCE = 0.95
# more than of values by lot: here the eye is to tell a bend from a straight line
LEAST_SHARE = 0.45
HOW_PLOTS_ARE_DRAWN = (
    "In the probability plots the values stand at exact median ranks. The band holds the middle 95 % of each order "
    "statistic under the fitted distribution (beta distribution of the ranks), with the parameters of the fit taken as "
    "known; it is therefore approximate, guides the eye and decides nothing."
)
_LEAST_N = {"box_cox": 5}
_LEAST_BASE = 1e-3
_ROUNDING = 1e-12  # of the largest value: differences that small come from computing with means


@dataclass(frozen=True, slots=True)
class _Scale:
    """How values become heights of a plot: the name of the plot, its axis, and the function; None off its range.

    back: from a height to its value, where they differ; the axis is then labeled with values all the same.
    has_lines: whether limits and bounds have heights on it.
    """

    name: str
    axis: str
    of: Callable[[float], float | None]
    note: str = ""
    back: Callable[[float], float] | None = None
    has_lines: bool = True


def looked_at(evaluation: Evaluation) -> str:
    """The approach whose distribution a plot can show: the one used, or the declared one that the check rejected."""
    assumes_none = evaluation.approach_used in {"", "distribution_free"}
    return evaluation.approach if assumes_none else evaluation.approach_used


def can_be_plotted(evaluation: Evaluation) -> bool:
    """Whether a probability plot shows what the approach looks at: never for censored samples."""
    values = [one.value for one in evaluation.values if one.value is not None]
    approach = looked_at(evaluation)
    if any(one.censored for one in evaluation.values) or len(set(values)) < 2:
        return False
    if len(values) < _LEAST_N.get(approach, 3):
        return False
    if approach == "between_lot" and not _within_lots(evaluation):
        return False
    if approach in {"lognormal", "weibull", "box_cox"}:
        return min(values) > 0
    return approach in {"normal", "between_lot"}


def _within_lots(evaluation: Evaluation) -> list[float]:
    """The values, each less the mean of its lot, as the model of lots looks at them; none where they are all equal."""
    lots: dict[str, list[float]] = {}
    for one in evaluation.values:
        if one.value is not None:
            lots.setdefault(one.lot, []).append(one.value)
    found = [value - math.fsum(own) / len(own) for own in lots.values() for value in own]
    largest = max((abs(value) for own in lots.values() for value in own), default=0.0)
    return found if found and max(found) - min(found) > _ROUNDING * largest else []


def probability_figure(dossier: Dossier, evaluation: Evaluation, *, anchor: str) -> Figure | None:
    """The values against the quantiles of what the approach assumes; None where it would mislead."""
    if not can_be_plotted(evaluation):
        return None
    values = [one.value for one in evaluation.values if one.value is not None]
    name = name_of(dossier.project.design_input(evaluation.design_input))
    scale = _scale(evaluation, values, name)
    plan, approach = dossier.project.protocol(evaluation.protocol).analysis_plan, looked_at(evaluation)
    if approach == "between_lot" or (approach == "normal" and plan.lots is LotRule.BETWEEN_LOT):
        values = _within_lots(evaluation)
        scale = _scale_within_lots(evaluation, name)
    if scale is None or not values:
        return None
    chart = _chart(dossier, evaluation, values, scale)
    outside = sum(
        not low <= value <= high
        for value, low, high in zip(chart.ordered, chart.band_lower, chart.band_upper, strict=True)
    )
    where = (
        "all points lie inside the band"
        if not outside
        else f"{counted(outside, 'point')} of {len(values)} outside the band"
    )
    kind = "Weibull" if looked_at(evaluation) == "weibull" else "normal"
    shown = drawn(chart.limits, chart.span)
    outside_scale = off_the_scale(chart.limits, chart.span)
    lines = f"Lines: {'; '.join(line.label for line in shown)}." if shown else ""
    told = " ".join(filter(None, (lines, outside_scale)))
    information = f", {FOR_INFORMATION}" if evaluation.standing else ""
    what = name if scale.has_lines else f"{name}, each less the mean of its lot,"
    within = "" if scale.has_lines else " within lots"
    return Figure(
        anchor=anchor, key=f"{evaluation.key}/probability_plot", chart=chart,
        caption=f"{scale.name} of {name}{within}, {group_name(evaluation)}{information} ({evaluation.design_input})",
        alt=f"Ordered values of {what} against {kind} quantiles, n = {len(values)}: {where}. {told}".strip(),
        height_mm=70.0, source=sources_of((evaluation,)),
        note=" ".join(notes_on((evaluation,), chart.limits, chart.span)),
    )  # fmt: skip


def _chart(dossier: Dossier, evaluation: Evaluation, values: list[float], scale: _Scale) -> ProbabilityChart:
    if looked_at(evaluation) == "weibull":
        weibull = weibull_plot(values, confidence=BAND_CONFIDENCE)
        quantiles, ordered = weibull.quantiles, weibull.ordered
        lower, upper = weibull.band_lower, weibull.band_upper
        centre, slope, quantile_axis = math.log(weibull.scale), 1 / weibull.shape, "ln(−ln(1 − rank))"
    else:
        heights = [height for value in values if (height := scale.of(value)) is not None]
        normal = normal_plot(heights, confidence=BAND_CONFIDENCE)
        quantiles, ordered = normal.quantiles, normal.ordered
        lower, upper = normal.band_lower, normal.band_upper
        centre, slope, quantile_axis = normal.mean, normal.sd, "Standard normal quantile"
    first, last = quantiles[0], quantiles[-1]
    lines = _lines(dossier, evaluation, scale) if scale.has_lines else ()
    shown = [*ordered, *lower, *upper, *(line.value for line in lines if line.style == "bound")]
    span = axis_span(shown, [line.value for line in lines if line.style != "bound"], least_share=LEAST_SHARE)
    return ProbabilityChart(
        axis=scale.axis,
        quantiles=quantiles,
        ordered=ordered,
        line=((first, centre + first * slope), (last, centre + last * slope)),
        band_quantiles=quantiles,
        band_lower=lower,
        band_upper=upper,
        band_label="pointwise 95 % band",
        limits=lines,
        span=span,
        note="; ".join(filter(None, ("points: exact median ranks", scale.note))),
        quantile_axis=quantile_axis,
        ticks=_ticks(scale, span),
    )


def _ticks(scale: _Scale, span: tuple[float, float]) -> tuple[tuple[float, str], ...]:
    """Round values at their heights; none where the heights are the values."""
    if scale.back is None:
        return ()
    try:
        low, high = scale.back(span[0]), scale.back(span[1])
    except OverflowError:
        return ()
    if not 0 < low < high:
        return ()
    at = ((scale.of(value), value) for value in round_values(low, high))
    return tuple((height, f"{value:.12g}") for height, value in at if height is not None)


def _scale(evaluation: Evaluation, values: list[float], name: str) -> _Scale | None:
    approach, unit = looked_at(evaluation), evaluation.unit
    if approach in {"lognormal", "weibull"}:
        plot = "Lognormal probability plot" if approach == "lognormal" else "Weibull probability plot"
        return _Scale(
            plot,
            axis_title(name, unit),
            lambda value: math.log(value) if value > 0 else None,
            "values on a logarithmic scale",
            math.exp,
        )
    if approach != "box_cox":
        return _Scale("Normal probability plot", axis_title(name, unit), lambda value: value)
    try:
        # any claim will do: the power is estimated from the values alone
        fitted = box_cox_interval(values, confidence=0.5, coverage=0.5, side="lower")
    except ValueError:
        return None  # no power brings the values near normal: the plan's steps say so
    power, centre = dict(fitted.parameters)["power"], math.exp(math.fsum(map(math.log, values)) / len(values))
    return _Scale(
        "Normal probability plot after the Box-Cox transformation",
        axis_title(name, unit),
        lambda value: _power(value / centre, power),
        f"values on the transformed scale, power {significant(power, 3)}",
        lambda height: centre * _powered_back(height, power),
    )


def _scale_within_lots(evaluation: Evaluation, name: str) -> _Scale:
    """For values less the mean of their lot, which neither limits nor bounds can be compared with."""
    return _Scale(
        "Normal probability plot",
        axis_title(f"{name} less lot mean", evaluation.unit),
        lambda value: value,
        "each value less the mean of its lot",
        has_lines=False,
    )


def _power(scaled: float, power: float) -> float | None:
    """The Box-Cox transform of a value whose sample has the geometric mean 1."""
    if scaled <= 0:
        return None
    return math.log(scaled) if power == 0 else math.expm1(power * math.log(scaled)) / power


def _powered_back(height: float, power: float) -> float:
    """The scaled value of a height; of heights that no value has, the smallest positive one there is room for."""
    if power == 0:
        return math.exp(height)
    base = 1 + power * height
    return math.exp(math.log(base) / power) if base > _LEAST_BASE else math.exp(math.log(_LEAST_BASE) / power)


def _lines(dossier: Dossier, evaluation: Evaluation, scale: _Scale) -> tuple[Line, ...]:
    """Limits and bounds at their heights on the scale of the plot; what has none there is left out."""
    bounds = [bound_line(dossier, evaluation, side) for side in SIDES]
    lines = [*limit_lines(dossier, evaluation), *(line for line in bounds if line is not None)]
    return tuple(replace(line, value=height) for line in lines if (height := scale.of(line.value)) is not None)
