"""Names of lots and their numbers under the columns of a chart, and the room that these need."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes

from reportgen.compose.records import Series
from reportgen.render.chart_style import LINE_MM, SMALLEST_TEXT, TEXT_SIZE, Frame, cut, text_mm, wrapped

_MOST_UPRIGHT_MM, _AXIS_MM = 34.0, 3.0
_NARROWEST_COLUMN, _LEAST_UPRIGHT_MM = 9.0, 2.5


@dataclass(frozen=True, slots=True)
class ColumnNames:
    """The names as they will stand, their size of type, and the margin below the axes for them."""

    names: tuple[str, ...]
    size: float
    upright: bool
    room_mm: float


def column_names(frame: Frame, series: Sequence[Series], column_mm: float) -> ColumnNames:
    """Across, smaller where the columns ask for it; upright where they are too narrow for that."""
    if column_mm < _NARROWEST_COLUMN:
        size = TEXT_SIZE * max(SMALLEST_TEXT / TEXT_SIZE, min(1.0, column_mm / LINE_MM))
        one_line = [", ".join(filter(None, (one.label, one.count))) for one in series]
        # where not even upright names fit beside each other, every second or third column is named
        step = math.ceil(_LEAST_UPRIGHT_MM / column_mm)
        names = tuple(
            cut(frame, name, _MOST_UPRIGHT_MM, size) if at % step == 0 else "" for at, name in enumerate(one_line)
        )
        longest = max((text_mm(frame, name, size=size) for name in names), default=0.0)
        return ColumnNames(names, size, upright=True, room_mm=_AXIS_MM + longest)
    words = {word for one in series for word in (*one.label.split(), *_whole(one.count).rsplit(" ", 1))}
    longest = max((text_mm(frame, word) for word in words), default=1.0)
    scale = min(1.0, max(SMALLEST_TEXT / TEXT_SIZE, (column_mm - 1) / max(longest, 1.0)))
    room = max(column_mm - 2.5, min(longest * scale + 0.1, column_mm - 0.9))
    names = tuple(_folded(frame, one, room, TEXT_SIZE * scale) for one in series)
    lines = max((name.count("\n") + 1 for name in names), default=1)
    return ColumnNames(names, TEXT_SIZE * scale, upright=False, room_mm=_AXIS_MM + 1.06 * LINE_MM * scale * lines)


def name_columns(axes: Axes, columns: ColumnNames) -> None:
    axes.set_xticks(range(len(columns.names)), columns.names, rotation=90 if columns.upright else 0)
    axes.tick_params(axis="x", length=0, labelsize=columns.size)


def _folded(frame: Frame, series: Series, width_mm: float, size: float) -> str:
    """The name in two lines at most, and the number below it where it may take two (no result yet)."""
    name = wrapped(frame, series.label, width_mm, lines=2, size=size)
    count = _whole(series.count)
    below = wrapped(frame, count, width_mm, lines=4 - name.count("\n"), size=size) if count else ""
    return "\n".join(filter(None, (name, below)))


def _whole(count: str) -> str:
    return count.replace("n = ", "n\u00a0=\u00a0")
