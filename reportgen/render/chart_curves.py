"""Curves of chances over what is true: operating characteristics."""

from __future__ import annotations

from reportgen.compose.records import CurveChart
from reportgen.render.chart_style import GREY, INK, Frame

# of the width: nearer to an edge a label has no room on that side of its mark
_LEFT_EDGE, _RIGHT_EDGE = 0.15, 0.85


def draw_curve(frame: Frame, chart: CurveChart) -> None:
    """One line with its marks; the labels of neighbouring marks stand at different heights."""
    axes = frame.axes(left=15, right=8, bottom=13, top=6)
    axes.plot([x for x, _ in chart.points], [y for _, y in chart.points], color=INK, lw=1.6)
    axes.set_ylim(0.0, 1.04)
    axes.set_xlim(chart.points[0][0], chart.points[-1][0])
    axes.grid(axis="both")
    start, end = chart.points[0][0], chart.points[-1][0]
    # the label of the last mark stands on its far side, where no other mark is, while it has room there
    last = max((place for place, _ in chart.marks), default=end)
    for row, (place, label) in enumerate(chart.marks):
        axes.axvline(place, color=GREY, lw=1.0, ls=(0, (4, 2)))
        share = (place - start) / (end - start)
        side = "left" if share < _LEFT_EDGE or (place == last and share < _RIGHT_EDGE) else "right"
        text = f"{label} " if side == "right" else f" {label}"
        axes.text(place, 0.06 + 0.09 * row, text, ha=side, va="bottom")
    axes.set_xlabel(chart.x_axis)
    axes.set_ylabel(chart.y_axis)
