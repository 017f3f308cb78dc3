"""Bounds over some of the columns of a chart, each labelled beside its line where nothing else is drawn."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.patheffects import withStroke

from reportgen.compose.records import Line
from reportgen.render.chart_style import LINE_LOOKS, LINE_MM, SMALLEST_TEXT, TEXT_SIZE, Frame, fold, text_mm

_HALF_COLUMN = 0.44
_GAP_MM = 0.5
_STEP_MM, _FARTHEST_MM = 0.5, 4.0
_POINT_MM = 1.0
_RULE_MM = 0.3
# between the labels of neighbouring columns: a part of the column, but neither less nor more than so much
_BETWEEN_SHARE, _LEAST_BETWEEN_MM, _MOST_BETWEEN_MM, _AIR_MM = 0.17, 0.6, 3.0, 0.2
_MOST_STRIPS = 0.25  # of the height of the axes


@dataclass(frozen=True, slots=True)
class Box:
    """A part of the paper in millimetres from the lower left corner of the axes."""

    left: float
    bottom: float
    right: float
    top: float

    def meets(self, other: Box) -> bool:
        return (
            self.left < other.right and other.left < self.right and self.bottom < other.top and other.bottom < self.top
        )


@dataclass(frozen=True, slots=True)
class Paper:
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


@dataclass(frozen=True, slots=True)
class _Label:
    """What stands at a line: the label, its value with the unit, or the number alone, across or upright."""

    text: str
    size: float
    upright: bool
    width: float
    height: float


def draw_bounds(
    axes: Axes, frame: Frame, own: Sequence[Line], common: Sequence[Line], points: Sequence[tuple[float, float]]
) -> None:
    """Each over its columns, with its label. Where one finds no free place beside its line, the axis grows by a strip.

    The strip lies above all that is drawn, or below it for lower bounds, and holds all labels of that side. Where this
    would leave the values too little room, the lines go without labels: tables tell their values.
    """
    paper = Paper(axes, frame)
    labels = _labels(own, paper)
    placed = _placed(own, labels, common, points, paper, strips=(0.0, 0.0))
    lost = [line for line, label, box in zip(own, labels, placed, strict=True) if label is not None and box is None]
    if lost:
        placed = [None] * len(own)
        strips = (_strip(own, labels, lost, upper=False), _strip(own, labels, lost, upper=True))
        if sum(strips) <= _MOST_STRIPS * paper.height:
            placed = _placed_with_strips(own, labels, common, points, paper, strips)
    for line in own:
        axes.plot(_ends(line), (line.value, line.value), zorder=2.5, **LINE_LOOKS[line.style])
    for line, label, box in zip(own, labels, placed, strict=True):
        if label is not None and box is not None:
            _write(axes, paper, label, box, str(LINE_LOOKS[line.style]["color"]))


def what_is_dashed(frame: Frame, lines: Sequence[Line], column_mm: float) -> str:
    """'dashed: lower bound', where the labels beside the lines have room for values only; '' where they say it."""
    names = []
    for line in lines:
        if line.columns is not None and not _fits_whole(frame, line, column_mm):
            names.append(line.label.removesuffix(line.short).strip())
    found = [name for name in dict.fromkeys(names) if name]
    return f"dashed: {' and '.join(found)}" if found else ""


def _is_upper(line: Line) -> bool:
    return line.label.startswith("upper")


def _strip(own: Sequence[Line], labels: Sequence[_Label | None], lost: Sequence[Line], *, upper: bool) -> float:
    """Room for one row of the labels of one side, if one of them has no other place."""
    if not any(_is_upper(line) is upper for line in lost):
        return 0.0
    heights = [label.height for line, label in zip(own, labels, strict=True) if label and _is_upper(line) is upper]
    return max(heights) + 2 * _GAP_MM


def _placed_with_strips(
    own: Sequence[Line],
    labels: Sequence[_Label | None],
    common: Sequence[Line],
    points: Sequence[tuple[float, float]],
    paper: Paper,
    strips: tuple[float, float],
) -> list[Box | None]:
    """As placed once the axis has grown; with the other strip as well where that leaves a label no place there."""
    low, high = paper.axes.get_ylim()
    both = (_strip(own, labels, own, upper=False), _strip(own, labels, own, upper=True)) if all(labels) else strips
    for chosen in (strips, both):
        per_mm = (high - low) / (paper.height - sum(chosen))
        paper.axes.set_ylim(low - chosen[0] * per_mm, high + chosen[1] * per_mm)
        placed = _placed(own, labels, common, points, paper, strips=chosen)
        if not any(label is not None and box is None for label, box in zip(labels, placed, strict=True)):
            break
    return placed


def _ends(line: Line) -> tuple[float, float]:
    first, last = line.columns or (0, 0)
    return first - _HALF_COLUMN, last + _HALF_COLUMN


def _room(line: Line, column_mm: float, *, between: float | None = None) -> float:
    """What a label may take of the columns of its line."""
    first, last = line.columns or (0, 0)
    usual = min(_MOST_BETWEEN_MM, max(_LEAST_BETWEEN_MM, _BETWEEN_SHARE * column_mm))
    return (last - first + 1) * column_mm - (usual if between is None else between)


def _fits_whole(frame: Frame, line: Line, column_mm: float) -> bool:
    return text_mm(frame, line.label) <= _room(line, column_mm)


def _labels(own: Sequence[Line], paper: Paper) -> list[_Label | None]:
    """All across, or all upright where one has no room across."""
    across = [_across(line, paper) for line in own]
    return across if all(across) else [_upright(line, paper) for line in own]


def _across(line: Line, paper: Paper) -> _Label | None:
    """The most that has room: the whole label, its value, the number alone, whose unit the axis names."""
    column_mm = paper.x(1) - paper.x(0)
    number = _number(line)
    for size, texts in ((TEXT_SIZE, (line.label, line.short, number)), (SMALLEST_TEXT, (number,))):
        room = _room(line, column_mm) if size == TEXT_SIZE else _room(line, column_mm, between=_LEAST_BETWEEN_MM)
        for text in texts:
            shown = fold(text, 400, lines=1)
            width = text_mm(paper.frame, shown, size=size)
            if shown and width <= room:
                return _Label(shown, size, upright=False, width=width, height=LINE_MM * size / TEXT_SIZE)
    return None


def _upright(line: Line, paper: Paper) -> _Label | None:
    number, room = _number(line), _room(line, paper.x(1) - paper.x(0), between=_AIR_MM)
    for size in (TEXT_SIZE, SMALLEST_TEXT):
        if number and LINE_MM * size / TEXT_SIZE <= room:
            high = text_mm(paper.frame, number, size=size)
            return _Label(number, size, upright=True, width=LINE_MM * size / TEXT_SIZE, height=high)
    return None


def _number(line: Line) -> str:
    return fold(line.short.partition("\u00a0")[0], 400, lines=1)


def _placed(
    own: Sequence[Line],
    labels: Sequence[_Label | None],
    common: Sequence[Line],
    points: Sequence[tuple[float, float]],
    paper: Paper,
    *,
    strips: tuple[float, float],
) -> list[Box | None]:
    """A free place for each label; in a strip where no other is."""
    dots = [Box(x - _POINT_MM, y - _POINT_MM, x + _POINT_MM, y + _POINT_MM) for x, y in _on(paper, points)]
    taken = [Box(0, paper.y(one.value) - _RULE_MM, paper.width, paper.y(one.value) + _RULE_MM) for one in common]
    for line in own:
        (left, right), at = _ends(line), paper.y(line.value)
        taken.append(Box(paper.x(left), at - _RULE_MM, paper.x(right), at + _RULE_MM))
    inside = (strips[0], paper.height - strips[1])
    found: list[Box | None] = []
    for line, label in zip(own, labels, strict=True):
        box = None
        if label is not None and strips[_is_upper(line)]:
            box = _in_strip(line, label, inside, paper)
        elif label is not None:
            box = _free_place(line, label, dots, taken, inside, paper)
        found.append(box)
        taken += [] if box is None else [box]
    return found


def _on(paper: Paper, points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    return [(paper.x(x), paper.y(y)) for x, y in points]


def _free_place(
    line: Line, label: _Label, dots: Sequence[Box], taken: Sequence[Box], inside: tuple[float, float], paper: Paper
) -> Box | None:
    """As near the line as it can stand without covering anything: first on the side away from the values.

    Between a label and its line lies no other line.
    """
    at = paper.y(line.value)
    steps = math.floor((_FARTHEST_MM - _GAP_MM) / _STEP_MM)
    for step in range(steps + 1):
        away = _GAP_MM + step * _STEP_MM
        sides = [at - away - label.height, at + away]
        for bottom in reversed(sides) if _is_upper(line) else sides:
            for start in _starts(line, label, paper):
                box = Box(start, bottom, start + label.width, bottom + label.height)
                if bottom < inside[0] or box.top > inside[1]:
                    continue
                reach = Box(start, min(bottom, at + _RULE_MM), box.right, max(box.top, at - _RULE_MM))
                if not any(reach.meets(other) for other in taken) and not any(box.meets(dot) for dot in dots):
                    return box
    return None


def _starts(line: Line, label: _Label, paper: Paper) -> list[float]:
    """In the middle of the line, at its ends, and between."""
    left, right = (paper.x(end) for end in _ends(line))
    spare = right - left - label.width
    if spare <= 0:
        return [left + spare / 2]
    return [left + spare * share for share in (0.5, 0.0, 1.0, 0.25, 0.75)]


def _in_strip(line: Line, label: _Label, inside: tuple[float, float], paper: Paper) -> Box:
    start = _starts(line, label, paper)[0]
    bottom = inside[1] + _GAP_MM if _is_upper(line) else inside[0] - _GAP_MM - label.height
    return Box(start, bottom, start + label.width, bottom + label.height)


def _write(axes: Axes, paper: Paper, label: _Label, box: Box, color: str) -> None:
    axes.text(
        (box.left + box.right) / 2 / paper.width,
        (box.bottom + box.top) / 2 / paper.height,
        label.text,
        transform=axes.transAxes,
        ha="center",
        va="center",
        rotation=90 if label.upright else 0,
        color=color,
        fontsize=label.size,
        zorder=5,
        gid="own line",
        # white behind the letters, so that no line of the grid strikes them through
        path_effects=[withStroke(linewidth=2.0, foreground="white")],
    )
