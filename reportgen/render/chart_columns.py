"""Names of lots and their numbers under the columns of a chart, and the room that these need."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import takewhile

from matplotlib.axes import Axes

from reportgen.compose.records import Series
from reportgen.render.chart_style import LINE_MM, SMALLEST_TEXT, TEXT_SIZE, Frame, cut_inside, fold, in_lines, text_mm

_MOST_UPRIGHT_MM, _AXIS_MM = 34.0, 3.0
_NARROWEST_COLUMN, _LEAST_UPRIGHT_MM = 9.0, 2.5
_BETWEEN_SHARE, _LEAST_BETWEEN_MM, _MOST_BETWEEN_MM = 0.12, 0.9, 2.5
_SIZES = tuple(TEXT_SIZE + (SMALLEST_TEXT - TEXT_SIZE) * step / 5 for step in range(6))
_USUAL_LINES, _MOST_LINES = 4, 7
_LONG_BEGINNING = 6  # so many signs that all names begin with are left out before anything else is


@dataclass(frozen=True, slots=True)
class ColumnNames:
    """The names as they will stand, their size of type, and the margin below the axes for them."""

    names: tuple[str, ...]
    size: float
    upright: bool
    room_mm: float


def column_names(frame: Frame, series: Sequence[Series], column_mm: float) -> ColumnNames:
    """Across, smaller or in more lines where the columns ask for it; upright where they are too narrow for that.

    Only an upright name may be cut, and then first where it is like the others.
    """
    between = min(_MOST_BETWEEN_MM, max(_LEAST_BETWEEN_MM, _BETWEEN_SHARE * column_mm))
    if column_mm >= _NARROWEST_COLUMN:
        for most_lines in (_USUAL_LINES, _MOST_LINES):
            for size in _SIZES:
                names = _across(frame, series, column_mm - between, size, most_lines)
                if names is not None:
                    lines = max((name.count("\n") + 1 for name in names), default=1)
                    room = _AXIS_MM + 1.06 * LINE_MM * size / TEXT_SIZE * lines
                    return ColumnNames(names, size, upright=False, room_mm=room)
    return _upright(frame, series, column_mm)


def name_columns(axes: Axes, columns: ColumnNames) -> None:
    axes.set_xticks(range(len(columns.names)), columns.names, rotation=90 if columns.upright else 0)
    axes.tick_params(axis="x", length=0, labelsize=columns.size)


def _across(
    frame: Frame, series: Sequence[Series], width_mm: float, size: float, most_lines: int
) -> tuple[str, ...] | None:
    """Every name with its number below, or None where one of them does not fit uncut."""
    found = []
    for one in series:
        name, count = fold(one.label, 400, lines=1), one.count.replace("n = ", "n\u00a0=\u00a0")
        parts = _parts(name, closely=most_lines > _USUAL_LINES)
        named = in_lines(frame, name, parts, width_mm, size)
        counted = in_lines(frame, count, count.split(" "), width_mm, size)
        lines = [line for line in (*named, *counted) if line]
        if len(lines) > most_lines or not _fit(frame, lines, width_mm, size):
            return None
        found.append("\n".join(lines))
    return tuple(found)


def _upright(frame: Frame, series: Sequence[Series], column_mm: float) -> ColumnNames:
    """In as many lines as a column has room for."""
    whole = [fold(", ".join(filter(None, (one.label, one.count))), 400, lines=1) for one in series]
    # where not even upright names fit beside each other, every second or third column is named
    step = math.ceil(_LEAST_UPRIGHT_MM / column_mm)
    largest = TEXT_SIZE * max(SMALLEST_TEXT / TEXT_SIZE, min(1.0, column_mm / LINE_MM))
    for size in (size for size in (largest, *_SIZES) if size <= largest):
        most_lines = max(1, math.floor((column_mm - _LEAST_BETWEEN_MM) / (LINE_MM * size / TEXT_SIZE)))
        folded = [in_lines(frame, name, _parts(name, closely=True), _MOST_UPRIGHT_MM, size) for name in whole]
        fitting = [len(lines) <= most_lines and _fit(frame, lines, _MOST_UPRIGHT_MM, size) for lines in folded]
        if all(fitting):
            break
    names = [
        "\n".join(lines) if fits else cut_inside(frame, own, _MOST_UPRIGHT_MM, size)
        for lines, own, fits in zip(folded, _without_beginning(whole), fitting, strict=True)
    ]
    shown = tuple(name if at % step == 0 else "" for at, name in enumerate(names))
    longest = max((text_mm(frame, name, size=size) for name in shown), default=0.0)
    return ColumnNames(shown, size, upright=True, room_mm=_AXIS_MM + longest)


def _without_beginning(names: Sequence[str]) -> list[str]:
    """Names without the long beginning that all share."""
    alike = takewhile(lambda signs: len(set(signs)) == 1, zip(*names, strict=False)) if len(names) > 1 else ()
    begun = sum(1 for _ in alike)
    return [name if begun < _LONG_BEGINNING else f"\u2026{name[begun:]}" for name in names]


def _fit(frame: Frame, lines: Sequence[str], width_mm: float, size: float) -> bool:
    return all(text_mm(frame, line, size=size) <= width_mm for line in lines)


def _parts(name: str, *, closely: bool) -> list[str]:
    """Where a name may go on in a new line: between words, and `closely` also after hyphens and the like."""
    words = name.split(" ")
    if not closely:
        return words
    return [part for word in words for part in re.findall(r"[^-_/.]+[-_/.]*|[-_/.]+", word)]
