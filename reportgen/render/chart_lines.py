"""Reference lines of charts, each over the columns it belongs to, labelled in place; off the scale, an arrow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.patheffects import withStroke

from reportgen.compose.records import Line
from reportgen.render.chart_style import (
    LINE_LOOKS,
    LINE_MM,
    SMALLEST_TEXT,
    TEXT_SIZE,
    Frame,
    fold,
    label_lines,
    text_mm,
)

LABEL_ROOM = 42.0
_HALF_COLUMN = 0.44
_GAP_MM = 0.5
_POINT_MM = 0.8
_OFF_THE_SCALE = {"above": "\u2191", "below": "\u2193"}


@dataclass(frozen=True, slots=True)
class _Box:
    """A part of the paper in millimetres from the lower left corner of the axes."""

    left: float
    bottom: float
    right: float
    top: float

    def meets(self, other: _Box) -> bool:
        return (
            self.left < other.right and other.left < self.right and self.bottom < other.top and other.bottom < self.top
        )


@dataclass(frozen=True, slots=True)
class _Paper:
    """From data to millimetres inside the axes."""

    axes: Axes
    frame: Frame

    @property
    def width(self) -> float:
        return self.axes.get_position().width * self.frame.width_mm

    @property
    def height(self) -> float:
        return self.axes.get_position().height * self.frame.height_mm

    def x(self, value: float) -> float:
        low, high = self.axes.get_xlim()
        return (value - low) / (high - low) * self.width

    def y(self, value: float) -> float:
        low, high = self.axes.get_ylim()
        return (value - low) / (high - low) * self.height


def draw_lines(
    axes: Axes,
    frame: Frame,
    lines: Sequence[Line],
    *,
    span: tuple[float, float] | None,
    points: Sequence[tuple[float, float]] = (),
) -> None:
    """Every line of a chart whose axes have their range. Labels inside keep clear of `points` where they can."""
    common = [line for line in lines if line.columns is None and not line.beyond(span)]
    own = [line for line in lines if line.columns is not None and not line.beyond(span)]
    for line in common:
        axes.axhline(line.value, zorder=2.5, **LINE_LOOKS[line.style])
    labels = [(line.value, line.label, str(LINE_LOOKS[line.style]["color"])) for line in common]
    label_lines(axes, frame, [*labels, *_arrows(axes, frame, lines, span)], room_mm=LABEL_ROOM)
    _draw_own(axes, frame, own, common, points)


def label_room(frame: Frame, lines: Sequence[Line], span: tuple[float, float] | None) -> float:
    """The right margin that the labels of lines common to all columns need."""
    labels = [line.label for line in lines if line.columns is None and not line.beyond(span)]
    if any(line.beyond(span) for line in lines):
        return LABEL_ROOM
    return min(LABEL_ROOM, max((text_mm(frame, label) + 7 for label in labels), default=6.0))


def _arrows(
    axes: Axes, frame: Frame, lines: Sequence[Line], span: tuple[float, float] | None
) -> list[tuple[float, str, str]]:
    """An arrowhead beside the edge for the lines off the scale; gives the labels that stand there."""
    found = []
    width_mm = _Paper(axes, frame).width
    for line in sorted(lines, key=lambda one: one.value):
        where = line.beyond(span)
        if not where:
            continue
        color = str(LINE_LOOKS[line.style]["color"])
        place, sign = (1.0, "^") if where == "above" else (0.0, "v")
        axes.plot(
            (1 + 1.75 / width_mm,), (place,), ls="none", marker=sign, ms=5, color=color, transform=axes.transAxes,
            clip_on=False, zorder=5,
        )  # fmt: skip
        edge = axes.get_ylim()[1 if where == "above" else 0]
        found.append((edge, f"{_OFF_THE_SCALE[where]} {line.label}, off the scale", color))
    return found


def _draw_own(
    axes: Axes, frame: Frame, own: Sequence[Line], common: Sequence[Line], points: Sequence[tuple[float, float]]
) -> None:
    """Lines over some of the columns, each with its value as near as it can stand without covering anything."""
    paper = _Paper(axes, frame)
    taken = [_around(paper.x(x), paper.y(y)) for x, y in points]
    rules = [_Box(0, paper.y(line.value) - 0.3, paper.width, paper.y(line.value) + 0.3) for line in common]
    for line in own:
        left, right = _ends(line)
        axes.plot((left, right), (line.value, line.value), zorder=2.5, **LINE_LOOKS[line.style])
        at = paper.y(line.value)
        rules.append(_Box(paper.x(left), at - 0.3, paper.x(right), at + 0.3))
    labels: list[_Box] = []
    for line in own:
        text, size = _fitting(line, paper)
        if text:
            box = min(_places(line, text, size, paper), key=lambda place: _cost(place, taken, rules, labels, paper))
            labels.append(box)
            axes.text(
                (box.left + box.right) / 2 / paper.width,
                (box.bottom + box.top) / 2 / paper.height,
                text,
                transform=axes.transAxes,
                ha="center",
                va="center",
                color=str(LINE_LOOKS[line.style]["color"]),
                fontsize=size,
                linespacing=1.0,
                zorder=5,
                gid="own line",
                # white behind the letters, so that no line of the grid strikes them through
                path_effects=[withStroke(linewidth=2.0, foreground="white")],
            )


def _ends(line: Line) -> tuple[float, float]:
    first, last = line.columns or (0, 0)
    return first - _HALF_COLUMN, last + _HALF_COLUMN


def _around(x: float, y: float) -> _Box:
    return _Box(x - _POINT_MM, y - _POINT_MM, x + _POINT_MM, y + _POINT_MM)


def _fitting(line: Line, paper: _Paper) -> tuple[str, float]:
    """The label, else its value in one line or two, no wider than the columns of the line, and its size of type."""
    first, last = line.columns or (0, 0)
    room = paper.x(last + 0.5) - paper.x(first - 0.5) - 0.4
    for size in (TEXT_SIZE, SMALLEST_TEXT):
        for text in (line.label, line.short, line.short.replace("\u00a0", "\n")):
            shown = "\n".join(fold(part, 400, lines=1) for part in text.split("\n"))
            if shown and text_mm(paper.frame, shown, size=size) <= room:
                return shown, size
    return "", TEXT_SIZE


def _places(line: Line, text: str, size: float, paper: _Paper) -> list[_Box]:
    """Below and above the line, in its middle and at its ends: first on the side away from the values."""
    left, right = (paper.x(end) for end in _ends(line))
    width, height = text_mm(paper.frame, text, size=size), LINE_MM * (text.count("\n") + 1)
    at = paper.y(line.value)
    starts = ((left + right - width) / 2, left, right - width)
    bottoms = [at - _GAP_MM - height, at + _GAP_MM]
    if line.label.startswith("upper"):
        bottoms.reverse()
    return [_Box(start, bottom, start + width, bottom + height) for bottom in bottoms for start in starts]


def _cost(
    place: _Box, points: Sequence[_Box], rules: Sequence[_Box], labels: Sequence[_Box], paper: _Paper
) -> tuple[int, int]:
    """Covered labels and lines first, covered points then."""
    outside = place.bottom < 0 or place.top > paper.height + 4
    covered = sum(place.meets(other) for other in (*labels, *rules)) + 10 * outside
    return covered, sum(place.meets(point) for point in points)
