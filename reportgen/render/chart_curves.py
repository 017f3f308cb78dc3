"""Curves of chances over what is true: operating characteristics."""

from __future__ import annotations

from reportgen.compose.records import CurveChart
from reportgen.render.chart_style import GREY, INK, Frame


def draw_curve(frame: Frame, chart: CurveChart) -> None:
    """One line with its marks; the labels of neighbouring marks stand at different heights."""
    axes = frame.axes(left=15, right=8, bottom=13, top=6)
    axes.plot([x for x, _ in chart.points], [y for _, y in chart.points], color=INK, lw=1.6)
    axes.set_ylim(0.0, 1.04)
    axes.set_xlim(chart.points[0][0], chart.points[-1][0])
    axes.grid(axis="both")
    middle = (chart.points[0][0] + chart.points[-1][0]) / 2
    for row, (place, label) in enumerate(chart.marks):
        axes.axvline(place, color=GREY, lw=1.0, ls=(0, (4, 2)))
        side = "right" if place > middle else "left"
        text = f"{label} " if side == "right" else f" {label}"
        axes.text(place, 0.06 + 0.09 * row, text, ha=side, va="bottom")
    axes.set_xlabel(chart.x_axis)
    axes.set_ylabel(chart.y_axis)
