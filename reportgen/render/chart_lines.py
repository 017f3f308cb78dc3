"""Reference lines of charts: named in the right margin where they span all columns; off the scale, an arrow there."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from reportgen.compose.records import Line
from reportgen.render.chart_bounds import draw_bounds
from reportgen.render.chart_style import LINE_LOOKS, Frame, MarginLabel, label_lines, margin_text, text_mm

LABEL_ROOM = 42.0
_BESIDE_MM = 5.5  # of a label: its leader or arrow, and the edge of the paper


def draw_lines(
    axes: Axes,
    frame: Frame,
    lines: Sequence[Line],
    *,
    span: tuple[float, float] | None,
    points: Sequence[tuple[float, float]] = (),
) -> None:
    """Every line of a chart whose axes have their range, which may grow to make room for labels clear of `points`."""
    common = [line for line in lines if line.columns is None and not line.beyond(span)]
    own = [line for line in lines if line.columns is not None and not line.beyond(span)]
    draw_bounds(axes, frame, own, common, points)
    for line in common:
        axes.axhline(line.value, zorder=2.5, **LINE_LOOKS[line.style])
    label_lines(axes, frame, _margin_labels(lines, span), room_mm=LABEL_ROOM - _BESIDE_MM)


def label_room(frame: Frame, lines: Sequence[Line], span: tuple[float, float] | None) -> float:
    """The right margin that the labels of lines common to all columns need."""
    texts = [margin_text(frame, label, LABEL_ROOM - _BESIDE_MM) for label in _margin_labels(lines, span)]
    return max((text_mm(frame, text) + _BESIDE_MM for text in texts), default=6.0)


def _margin_labels(lines: Sequence[Line], span: tuple[float, float] | None) -> list[MarginLabel]:
    """Of the lines common to all columns and of all that lie off the scale, from the lowest to the highest."""
    found = []
    for line in sorted(lines, key=lambda one: one.value):
        beyond = line.beyond(span)
        if line.columns is None or beyond:
            found.append(MarginLabel(line.label, line.value, str(LINE_LOOKS[line.style]["color"]), beyond))
    return found
