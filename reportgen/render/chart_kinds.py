"""The four kinds of chart, each drawn into a frame."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Patch

from reportgen.compose.records import (
    Bar,
    Emphasis,
    Line,
    ProbabilityChart,
    ReliabilityChart,
    TraceChart,
    TraceCurve,
    ValuesChart,
)
from reportgen.render.chart_style import (
    BOUND,
    CHARACTER_MM,
    GREY,
    INK,
    LINE_LOOKS,
    LINE_MM,
    PALE,
    POINT,
    TEXT_SIZE,
    Frame,
    fold,
    label_lines,
)

_LABEL_ROOM = 42.0
_TICK_ROOM = 14.0
_FEW_CURVES = 6  # so many curves keep looks and labels of their own
_CURVE_DASHES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (6, 2, 1, 2)), (0, (1, 1)), (0, (9, 3)))
_CURVE_COLORS = (POINT, INK, "#5E88A5", "#3F6B4F", GREY, BOUND)
_PIXEL_COLUMNS = 1200  # of a trace: more points than twice as many would fall on the same dots
_MOST_NINES = 5.0
_SMALLEST_NAMES = 0.75  # of the usual type: 5.6 points


def draw_values(frame: Frame, chart: ValuesChart) -> None:
    name = fold(chart.axis, frame.height_mm - 18, lines=2)
    axes = frame.axes(left=15 + LINE_MM * name.count("\n"), right=_LABEL_ROOM, bottom=_TICK_ROOM, top=5)
    every = [value for series in chart.series for value in series.values]
    _set_height(axes, [*every, *(line.value for line in chart.lines)])
    axes.set_xlim(-0.6, max(len(chart.series), 1) - 0.4)
    axes.grid(axis="y")
    _draw_lines(axes, frame, chart.lines)
    points = [
        (index + position, value, is_hollow)
        for index, series in enumerate(chart.series)
        for position, value, is_hollow in zip(
            series.positions, series.values, series.hollow or (False,) * len(series.values), strict=True
        )
    ]
    _draw_points(axes, [(x, y) for x, y, is_hollow in points if not is_hollow], "o", 3.8, POINT, "white", 0.4)
    set_aside = [(x, y) for x, y, is_hollow in points if is_hollow]
    _draw_points(axes, set_aside, "D", 4.4, "white", INK, 0.9)
    axes.set_ylabel(name)
    _name_columns(axes, frame, [series.label for series in chart.series])
    if set_aside:
        axes.text(1, 1.01, "\u25c7 set aside, not in the statistics", transform=axes.transAxes, ha="right", va="bottom")


def draw_probability(frame: Frame, chart: ProbabilityChart) -> None:
    told = "; ".join(text for text in (f"shaded: {chart.band_label}" if chart.band_label else "", chart.note) if text)
    above = fold(told, frame.width_mm - 18, lines=4)
    name = fold(chart.axis, frame.height_mm - 18, lines=2)
    left, top = 15 + LINE_MM * name.count("\n"), 4 + LINE_MM * (above.count("\n") + 1)
    axes = frame.axes(left=left, right=_LABEL_ROOM, bottom=13, top=top)
    heights = [*chart.ordered, *chart.band_lower, *chart.band_upper, *(line.value for line in chart.limits)]
    _set_height(axes, heights)
    axes.grid()
    if chart.band_quantiles:
        axes.fill_between(chart.band_quantiles, chart.band_lower, chart.band_upper, color=PALE, linewidth=0, zorder=1)
        for edge in (chart.band_lower, chart.band_upper):
            axes.plot(chart.band_quantiles, edge, color=GREY, lw=0.7, ls=(0, (3, 2)), zorder=1.5)
    (x0, y0), (x1, y1) = chart.line
    axes.plot((x0, x1), (y0, y1), color=INK, lw=1.1, zorder=2)
    axes.plot(chart.quantiles, chart.ordered, "o", ms=3.6, mfc=POINT, mec="white", mew=0.4, zorder=3)
    _draw_lines(axes, frame, chart.limits)
    axes.set_xlabel(fold(chart.quantile_axis, frame.width_mm - 57, lines=1))
    axes.set_ylabel(name)
    axes.text(0, 1.02, above, transform=axes.transAxes, ha="left", va="bottom")


def draw_traces(frame: Frame, chart: TraceChart) -> None:
    few = len(chart.curves) <= _FEW_CURVES
    axes = frame.axes(left=15, right=_LABEL_ROOM if chart.limits else 6, bottom=13, top=8)
    heights = [force for curve in chart.curves for force in curve.force_n]
    _set_height(axes, [*heights, *(line.value for line in chart.limits)])
    axes.margins(x=0.02)
    axes.grid()
    if chart.window_mm is not None:
        axes.axvspan(*chart.window_mm, facecolor="#EEF1F3", edgecolor=GREY, lw=0.6, ls=(0, (2, 2)), zorder=0.5)
    for index, curve in enumerate(chart.curves):
        look = {"color": _CURVE_COLORS[index], "ls": _CURVE_DASHES[index]} if few else {"color": GREY, "alpha": 0.6}
        axes.plot(*decimated(curve), lw=1.0 if few else 0.5, zorder=2, label=fold(curve.label, 30, lines=1), **look)
    _draw_points(axes, [curve.drop for curve in chart.curves if curve.drop], "v", 5, "white", INK, 0.9)
    _draw_points(axes, [curve.later_peak for curve in chart.curves if curve.later_peak], "s", 5, GREY, INK, 0.9)
    _draw_lines(axes, frame, chart.limits)
    axes.set_xlabel("Displacement [mm]")
    axes.set_ylabel("Force [N]")
    _trace_legend(axes, chart, few=few)


def draw_reliability(frame: Frame, chart: ReliabilityChart) -> None:
    """Nines to the right: 0.9, 0.99 and 0.999 are as far apart as they are different to achieve."""
    axes = frame.axes(left=42, right=_LABEL_ROOM, bottom=13, top=8)
    places = [(_nines(bar.value), _nines(bar.target)) for bar in chart.bars]
    reach = max([1.0, *(max(place) for place in places)]) * 1.06
    for row, (bar, (value, target)) in enumerate(zip(chart.bars, places, strict=True)):
        axes.barh(row, value, height=0.56, zorder=2, **_bar_look(bar.emphasis))
        axes.plot((target, target), (row - 0.4, row + 0.4), color=INK, lw=2.2, zorder=3, solid_capstyle="butt")
    axes.set_xlim(0, reach)
    axes.set_ylim(len(chart.bars) - 0.4, -0.6)
    ticks = [0.0, 0.9, 0.99, 0.999, 0.9999, 0.99999]
    shown = [tick for tick in ticks if _nines(tick) <= reach]
    axes.set_xticks(
        [_nines(tick) for tick in shown], [f"{100 * tick:.3f}".rstrip("0").rstrip(".") + " %" for tick in shown]
    )
    axes.grid(axis="x")
    axes.set_xlabel("Reliability demonstrated (each step leaves a tenth of the failures)")
    axes.set_yticks(range(len(chart.bars)), [fold(bar.label, 39, lines=2) for bar in chart.bars])
    axes.tick_params(axis="y", length=0)
    _bar_texts(axes, frame, chart.bars)
    axes.text(0, 1.01, "\u2503 required reliability", transform=axes.transAxes, ha="left", va="bottom")
    shown_looks = dict.fromkeys(bar.emphasis for bar in chart.bars)
    patches = [Patch(**_bar_look(emphasis), label=str(emphasis)) for emphasis in shown_looks]
    axes.legend(
        handles=patches, loc="lower right", bbox_to_anchor=(1, 1), bbox_transform=axes.transAxes, ncols=len(patches),
        frameon=False, fontsize=TEXT_SIZE, borderaxespad=0.1, handlelength=1.6, columnspacing=1.2,
    )  # fmt: skip


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
    pad = 0.07 * (high - low) or max(abs(high), 1.0) * 0.05
    axes.set_ylim(low - pad, high + pad)


def _draw_lines(axes: Axes, frame: Frame, lines: Sequence[Line]) -> None:
    for line in lines:
        axes.axhline(line.value, zorder=2.5, **LINE_LOOKS[line.style])
    labels = [(line.value, line.label, str(LINE_LOOKS[line.style]["color"])) for line in lines]
    label_lines(axes, frame, labels, room_mm=_LABEL_ROOM)


def _name_columns(axes: Axes, frame: Frame, labels: Sequence[str]) -> None:
    """Lot names under their columns, smaller or upright where the columns are too narrow for them."""
    column_mm = axes.get_position().width * frame.width_mm / max(len(labels), 1)
    if column_mm >= 9:
        room, longest = column_mm - 1, max((len(word) for label in labels for word in label.split()), default=1)
        scale = min(1.0, max(_SMALLEST_NAMES, room / (longest * CHARACTER_MM)))
        names = [fold(label, room / scale + 0.01, lines=3) for label in labels]
        axes.set_xticks(range(len(labels)), names)
        axes.tick_params(axis="x", labelsize=TEXT_SIZE * scale)
    else:
        axes.set_xticks(range(len(labels)), [fold(label, _TICK_ROOM - 2, lines=1) for label in labels], rotation=90)
    axes.tick_params(axis="x", length=0)


def _draw_points(
    axes: Axes, points: Sequence[tuple[float, float]], marker: str, size: float, fill: str, edge: str, width: float
) -> None:
    if points:
        x, y = zip(*points, strict=True)
        axes.plot(x, y, ls="none", marker=marker, ms=size, mfc=fill, mec=edge, mew=width, zorder=4)


def _trace_legend(axes: Axes, chart: TraceChart, *, few: bool) -> None:
    signs = []
    if any(curve.drop is not None for curve in chart.curves):
        signs.append("\u25bd first drop")
    if any(curve.later_peak is not None for curve in chart.curves):
        signs.append("\u25a0 later, higher peak")
    if chart.window_mm is not None:
        signs.append("shaded: search window")
    if not few:
        signs.append(f"{len(chart.curves)} curves")
    axes.text(0, 1.02, "    ".join(signs), transform=axes.transAxes, ha="left", va="bottom")
    if few and chart.curves:
        axes.legend(loc="best", frameon=True, framealpha=0.9, edgecolor=PALE, fontsize=TEXT_SIZE, handlelength=3)


def _nines(reliability: float) -> float:
    if not reliability < 1.0:
        return _MOST_NINES
    return min(-math.log10(1.0 - max(reliability, 0.0)), _MOST_NINES)


def _bar_look(emphasis: Emphasis) -> dict[str, Any]:
    """Filled, hatched, crossed or empty: verdicts differ without colour."""
    return {
        "met": {"facecolor": "#5E88A5", "edgecolor": INK, "linewidth": 0.6},
        "not demonstrated": {"facecolor": "#F3E4C3", "edgecolor": INK, "linewidth": 0.6, "hatch": "////"},
        "not met": {"facecolor": "#E7B9B0", "edgecolor": INK, "linewidth": 0.6, "hatch": "xxxx"},
    }.get(emphasis, {"facecolor": "white", "edgecolor": INK, "linewidth": 0.6})


def _bar_texts(axes: Axes, frame: Frame, bars: Sequence[Bar]) -> None:
    width_mm = axes.get_position().width * frame.width_mm
    for row, bar in enumerate(bars):
        text = fold(bar.text, _LABEL_ROOM - 3, lines=2)
        axes.text(1 + 2 / width_mm, row, text, transform=axes.get_yaxis_transform(), ha="left", va="center")
