"""Individual values, probability plots and traces, each drawn into a frame."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from reportgen.compose.records import ProbabilityChart, TraceChart, TraceCurve, ValuesChart
from reportgen.render.chart_bounds import what_is_dashed
from reportgen.render.chart_columns import column_names, name_columns
from reportgen.render.chart_lines import draw_lines, label_room
from reportgen.render.chart_style import (
    BOUND,
    GREY,
    INK,
    LINE_MM,
    PALE,
    POINT,
    TEXT_SIZE,
    Frame,
    cut_inside,
    fold,
    text_mm,
    wrapped,
)
from reportgen.render.chart_ticks import number_heights, room_for_numbers

_SET_ASIDE = "\u25c7 set aside, not in the statistics"
_BESIDE_COLUMNS = 0.1  # of a column, left free at each end of the axis
_LEGEND_NAME_MM = 40.0
_FEW_CURVES = 6  # so many curves keep looks and labels of their own
_CURVE_DASHES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (6, 2, 1, 2)), (0, (1, 1)), (0, (9, 3)))
_CURVE_COLORS = (POINT, INK, "#5E88A5", "#3F6B4F", GREY, BOUND)
_PIXEL_COLUMNS = 1200  # of a trace: more points than twice as many would fall on the same dots


def draw_values(frame: Frame, chart: ValuesChart) -> None:
    name = wrapped(frame, chart.axis, frame.height_mm - 20, lines=3, size=TEXT_SIZE + 0.5)
    right, count = label_room(frame, chart.lines, chart.span), max(len(chart.series), 1)
    axes = frame.axes(left=15, right=right, bottom=13, top=5)
    every = [value for series in chart.series for value in series.values]
    _set_height(axes, chart.span or [*every, *(line.value for line in chart.lines)])
    number_heights(axes, frame)
    left = room_for_numbers(axes, frame, name)
    column_mm = (frame.width_mm - left - right) / (count + 2 * _BESIDE_COLUMNS)
    columns = column_names(frame, chart.series, column_mm)
    hollow = any(any(series.hollow) for series in chart.series)
    told = (what_is_dashed(frame, chart.lines, column_mm), _SET_ASIDE if hollow else "", chart.note)
    above = wrapped(frame, "; ".join(filter(None, told)), frame.width_mm - left - 2, lines=2)
    top = 5 + LINE_MM * above.count("\n")
    frame.move(axes, left=left, right=right, bottom=columns.room_mm, top=top)
    number_heights(axes, frame)
    axes.set_xlim(-0.5 - _BESIDE_COLUMNS, count - 0.5 + _BESIDE_COLUMNS)
    axes.grid(axis="y")
    points = [
        (index + position, value, is_hollow)
        for index, series in enumerate(chart.series)
        for position, value, is_hollow in zip(
            series.positions, series.values, series.hollow or (False,) * len(series.values), strict=True
        )
    ]
    _draw_points(axes, [(x, y) for x, y, is_hollow in points if not is_hollow], "o", 3.8, POINT, "white", 0.4)
    _draw_points(axes, [(x, y) for x, y, is_hollow in points if is_hollow], "D", 4.4, "white", INK, 0.9)
    draw_lines(axes, frame, chart.lines, span=chart.span, points=[(x, y) for x, y, _ in points])
    axes.set_ylabel(name)
    name_columns(axes, columns)
    _tell_above(axes, frame, above)


def draw_probability(frame: Frame, chart: ProbabilityChart) -> None:
    told = "; ".join(text for text in (f"shaded: {chart.band_label}" if chart.band_label else "", chart.note) if text)
    name = wrapped(frame, chart.axis, frame.height_mm - 20, lines=3, size=TEXT_SIZE + 0.5)
    above = wrapped(frame, told, frame.width_mm - 18, lines=4)
    right, top = label_room(frame, chart.limits, chart.span), 4 + LINE_MM * (above.count("\n") + 1)
    axes = frame.axes(left=15, right=right, bottom=13, top=top)
    heights = [*chart.ordered, *chart.band_lower, *chart.band_upper, *(line.value for line in chart.limits)]
    _set_height(axes, chart.span or heights)
    number_heights(axes, frame, chart.ticks)
    frame.move(axes, left=room_for_numbers(axes, frame, name), right=right, bottom=13, top=top)
    axes.grid()
    if chart.band_quantiles:
        axes.fill_between(chart.band_quantiles, chart.band_lower, chart.band_upper, color=PALE, linewidth=0, zorder=1)
        for edge in (chart.band_lower, chart.band_upper):
            axes.plot(chart.band_quantiles, edge, color=GREY, lw=0.7, ls=(0, (3, 2)), zorder=1.5)
    (x0, y0), (x1, y1) = chart.line
    axes.plot((x0, x1), (y0, y1), color=INK, lw=1.1, zorder=2)
    axes.plot(chart.quantiles, chart.ordered, "o", ms=3.6, mfc=POINT, mec="white", mew=0.4, zorder=3)
    draw_lines(axes, frame, chart.limits, span=chart.span)
    axes.set_xlabel(fold(chart.quantile_axis, frame.width_mm - 57, lines=1))
    axes.set_ylabel(name)
    _tell_above(axes, frame, above)


def draw_traces(frame: Frame, chart: TraceChart) -> None:
    few = len(chart.curves) <= _FEW_CURVES
    names = [cut_inside(frame, curve.label, _LEGEND_NAME_MM, TEXT_SIZE) for curve in chart.curves] if few else []
    per_row = _entries_per_row(frame, names)
    rows = math.ceil(len(names) / per_row)
    right, top = label_room(frame, chart.limits, None), 7 + (LINE_MM + 0.6) * rows
    axes = frame.axes(left=15, right=right, bottom=13, top=top)
    heights = [force for curve in chart.curves for force in curve.force_n]
    _set_height(axes, [*heights, *(line.value for line in chart.limits)])
    number_heights(axes, frame)
    left = room_for_numbers(axes, frame, "Force [N]")
    frame.move(axes, left=left, right=right, bottom=13, top=top)
    axes.margins(x=0.02)
    axes.grid()
    if chart.window_mm is not None:
        axes.axvspan(*chart.window_mm, facecolor="#EEF1F3", edgecolor=GREY, lw=0.6, ls=(0, (2, 2)), zorder=0.5)
    handles: list[Any] = []
    for index, curve in enumerate(chart.curves):
        look = {"color": _CURVE_COLORS[index], "ls": _CURVE_DASHES[index]} if few else {"color": GREY, "alpha": 0.6}
        (drawn,) = axes.plot(*decimated(curve), lw=1.0 if few else 0.5, zorder=2, **look)
        handles.append(drawn)
    _draw_points(axes, [curve.drop for curve in chart.curves if curve.drop], "v", 5, "white", INK, 0.9)
    _draw_points(axes, [curve.later_peak for curve in chart.curves if curve.later_peak], "s", 5, GREY, INK, 0.9)
    draw_lines(axes, frame, chart.limits, span=None)
    axes.set_xlabel("Displacement [mm]")
    axes.set_ylabel("Force [N]")
    _tell_above(axes, frame, _trace_signs(chart, few=few))
    for row in range(rows):
        part = slice(row * per_row, (row + 1) * per_row)
        frame.canvas.legend(
            handles[part], names[part], loc="upper left", ncols=per_row, frameon=False, fontsize=TEXT_SIZE,
            bbox_to_anchor=(left / frame.width_mm, 1 - (1.5 + row * (LINE_MM + 0.6)) / frame.height_mm),
            borderaxespad=0.0, borderpad=0.0, handlelength=3, columnspacing=1.4,
        )  # fmt: skip


def _entries_per_row(frame: Frame, names: Sequence[str]) -> int:
    """So many entries of a legend, a line of 11 mm and a name each, stand beside each other above the plot."""
    widest = max((text_mm(frame, name) for name in names), default=1.0) + 14
    return max(1, int((frame.width_mm - 18) / widest))


def decimated(curve: TraceCurve) -> tuple[np.ndarray, np.ndarray]:
    """The curve without points that would fall on the same dots: of each narrow strip, its lowest and highest point."""
    x, y = np.asarray(curve.displacement_mm, dtype=float), np.asarray(curve.force_n, dtype=float)
    if len(x) <= 4 * _PIXEL_COLUMNS:
        return x, y
    edges = np.linspace(0, len(x), _PIXEL_COLUMNS + 1).astype(int)
    kept = {0, len(x) - 1}
    for start, stop in itertools.pairwise(edges):
        kept.update((start + int(np.argmin(y[start:stop])), start + int(np.argmax(y[start:stop]))))
    index = np.array(sorted(kept))
    return x[index], y[index]


def _set_height(axes: Axes, values: Sequence[float]) -> None:
    finite = [value for value in values if math.isfinite(value)]
    low, high = (min(finite), max(finite)) if finite else (0.0, 1.0)
    pad = 0.09 * (high - low) or max(abs(high), 1.0) * 0.05
    axes.set_ylim(low - pad, high + pad)


def _draw_points(
    axes: Axes, points: Sequence[tuple[float, float]], marker: str, size: float, fill: str, edge: str, width: float
) -> None:
    if points:
        x, y = zip(*points, strict=True)
        axes.plot(x, y, ls="none", marker=marker, ms=size, mfc=fill, mec=edge, mew=width, zorder=4)


def _tell_above(axes: Axes, frame: Frame, text: str) -> None:
    """What signs and shades mean, just above the plot."""
    gap = 0.8 / (axes.get_position().height * frame.height_mm)
    axes.text(0, 1 + gap, text, transform=axes.transAxes, ha="left", va="bottom")


def _trace_signs(chart: TraceChart, *, few: bool) -> str:
    signs = []
    if any(curve.drop is not None for curve in chart.curves):
        signs.append("\u25bd first drop")
    if any(curve.later_peak is not None for curve in chart.curves):
        signs.append("\u25a0 later, higher peak")
    if chart.window_mm is not None:
        signs.append("shaded: search window")
    if not few:
        signs.append(f"{len(chart.curves)} curves")
    return "    ".join(signs)
