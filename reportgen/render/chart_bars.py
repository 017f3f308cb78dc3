"""Bars of demonstrated reliability: 0.9, 0.99 and 0.999 stand as far apart as they are different to achieve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from reportgen.compose.records import Bar, ReliabilityChart
from reportgen.render.chart_style import GREY, INK, LINE_MM, TEXT_SIZE, Frame, fold, name_in_lines, text_mm

_LEAST_LEFT, _MOST_LEFT, _LEAST_RIGHT, _MOST_RIGHT = 24.0, 56.0, 16.0, 42.0
_MOST_NINES = 5.0
_BETWEEN_TICKS_MM = 2.0
_TICKS = (0.0, 0.9, 0.99, 0.999, 0.9999, 0.99999)
_NOT_COUNTED = "for information, does not count"
# filled, hatched, crossed, dotted, empty: they differ without colour
_LOOKS: dict[str, dict[str, Any]] = {
    "met": {"facecolor": "#5E88A5", "edgecolor": INK, "linewidth": 0.6},
    "not demonstrated": {"facecolor": "#F3E4C3", "edgecolor": INK, "linewidth": 0.6, "hatch": "////"},
    "not met": {"facecolor": "#E7B9B0", "edgecolor": INK, "linewidth": 0.6, "hatch": "xxxx"},
    _NOT_COUNTED: {"facecolor": "white", "edgecolor": INK, "linewidth": 0.6, "hatch": "...."},
    "not tested": {"facecolor": "white", "edgecolor": GREY, "linewidth": 0.8, "linestyle": (0, (1, 1.5))},
}


def draw_reliability(frame: Frame, chart: ReliabilityChart) -> None:
    texts = [fold(bar.text, _MOST_RIGHT - 3, lines=2) for bar in chart.bars]
    right = min(_MOST_RIGHT, max([_LEAST_RIGHT, *(text_mm(frame, text) + 4 for text in texts)]))
    kinds = [kind for kind in _LOOKS if kind in {_kind(bar) for bar in chart.bars}]
    rows = _legend_rows(frame, kinds)
    left = min(
        _MOST_LEFT, max([_LEAST_LEFT, *(text_mm(frame, fold(bar.label, 400, lines=1)) + 4 for bar in chart.bars)])
    )
    top = 4 + (LINE_MM + 1.2) * len(rows)
    axes = frame.axes(left=left, right=right, bottom=13, top=top)
    pitch = (frame.height_mm - 13 - top) / max(len(chart.bars), 1)
    most_lines = 2 if pitch > 2.2 * LINE_MM else 1
    labels = [name_in_lines(frame, bar.label, left - 3, lines=most_lines) for bar in chart.bars]
    places = [(nines(bar.value), nines(bar.target)) for bar in chart.bars]
    reach = max([1.0, *(max(place) for place in places)]) * 1.06
    for row, (bar, (value, target)) in enumerate(zip(chart.bars, places, strict=True)):
        # a bar of what is to come shows how far it must reach
        width = target if _kind(bar) == "not tested" else value
        axes.barh(row, width, height=0.56, zorder=2, **_LOOKS[_kind(bar)])
        axes.plot((target, target), (row - 0.4, row + 0.4), color=INK, lw=2.2, zorder=3, solid_capstyle="butt")
        if value >= _MOST_NINES:
            axes.plot((value + 0.13,), (row,), ls="none", marker=">", ms=3.5, color=INK, zorder=3)
    axes.set_xlim(0, reach)
    axes.set_ylim(len(chart.bars) - 0.4, -0.6)
    _set_ticks(axes, frame, reach)
    axes.grid(axis="x")
    axes.set_xlabel("Demonstrated reliability [%], each step a tenth of the failures")
    axes.set_yticks(range(len(chart.bars)), labels)
    axes.tick_params(axis="y", length=0)
    width_mm = axes.get_position().width * frame.width_mm
    for row, text in enumerate(texts):
        axes.text(1 + 2 / width_mm, row, text, transform=axes.get_yaxis_transform(), ha="left", va="center")
    _draw_legend(frame, rows)


def nines(reliability: float) -> float:
    if not reliability < 1.0:
        return _MOST_NINES
    return min(-math.log10(1.0 - max(reliability, 0.0)), _MOST_NINES)


def _kind(bar: Bar) -> str:
    if bar.emphasis == "not tested":
        return "not tested"
    return str(bar.emphasis) if bar.counts and bar.emphasis in _LOOKS else _NOT_COUNTED


def _set_ticks(axes: Axes, frame: Frame, reach: float) -> None:
    """Percentages where they have room: each keeps its distance from the one before."""
    mm_per_nine = axes.get_position().width * frame.width_mm / reach
    shown: list[tuple[float, str]] = []
    end = -math.inf
    for tick in _TICKS:
        place, text = nines(tick), f"{100 * tick:.3f}".rstrip("0").rstrip(".")
        half = text_mm(frame, text) / 2
        if place <= reach and place * mm_per_nine - half >= end + _BETWEEN_TICKS_MM:
            shown.append((place, text))
            end = place * mm_per_nine + half
    axes.set_xticks([place for place, _ in shown], [text for _, text in shown])


def _legend_rows(frame: Frame, kinds: Sequence[str]) -> list[list[tuple[Any, str]]]:
    """The signs in as many rows as their width needs."""
    required = Line2D((), (), ls="none", marker="|", ms=9, mew=2.2, color=INK)
    signs: list[tuple[Any, str]] = [(required, "required reliability")]
    signs += [(Patch(**_LOOKS[kind]), kind) for kind in kinds]
    rows: list[list[tuple[Any, str]]] = []
    used = math.inf
    for sign in signs:
        width = text_mm(frame, sign[1]) + 9
        if used + width > frame.width_mm - 6:
            rows.append([])
            used = 0.0
        rows[-1].append(sign)
        used += width
    return rows


def _draw_legend(frame: Frame, rows: Sequence[Sequence[tuple[Any, str]]]) -> None:
    for at, row in enumerate(rows):
        y = 1 - (1.2 + at * (LINE_MM + 1.2)) / frame.height_mm
        frame.canvas.legend(
            [sign for sign, _ in row], [name for _, name in row], loc="upper left",
            bbox_to_anchor=(3 / frame.width_mm, y), ncols=len(row), frameon=False, fontsize=TEXT_SIZE,
            borderaxespad=0.0, borderpad=0.0, handlelength=1.6, handletextpad=0.5, columnspacing=1.2,
        )  # fmt: skip
