"""The one look of all charts, and the frame that puts axes and labels at fixed places in millimetres."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure as Canvas
from matplotlib.font_manager import FontProperties

DOTS_PER_INCH = 220
INK, GREY, PALE = "#1F2A33", "#66727C", "#D9DEE2"
POINT, LIMIT, BOUND = "#2B5573", "#8C2F22", "#7A5600"
TEXT_SIZE: Final = 7.5
SMALLEST_TEXT: Final = 0.75 * TEXT_SIZE  # 5.6 points
LINE_MM = 3.1  # height of a line of that size, with a little air
CHARACTER_MM = 1.5  # generous mean width of a character of that size

STYLE: dict[str, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": TEXT_SIZE,
    "axes.edgecolor": GREY,
    "axes.linewidth": 0.6,
    "axes.labelcolor": INK,
    "axes.labelsize": TEXT_SIZE + 0.5,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "axes.grid": False,
    "grid.color": PALE,
    "grid.linewidth": 0.5,
    "axes.formatter.useoffset": False,
    "xtick.color": GREY,
    "ytick.color": GREY,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "text.color": INK,
    "text.parse_math": False,  # a dollar sign is a dollar sign
    "lines.linewidth": 1.0,
    "hatch.linewidth": 0.6,
}

# What tells reference lines apart without colour: the dash, then the weight.
LINE_LOOKS: dict[str, dict[str, Any]] = {
    "limit": {"color": LIMIT, "linestyle": "-", "linewidth": 1.5},
    "acceptance": {"color": LIMIT, "linestyle": (0, (7, 1.5, 1.5, 1.5)), "linewidth": 1.1},
    "bound": {"color": BOUND, "linestyle": (0, (5, 2)), "linewidth": 1.1},
    "mean": {"color": GREY, "linestyle": (0, (1, 1.5)), "linewidth": 1.1},
}


@dataclass(slots=True)
class Frame:
    """A chart's paper, measured in millimetres from its lower left corner."""

    canvas: Canvas
    width_mm: float
    height_mm: float

    def axes(self, *, left: float, right: float, bottom: float, top: float) -> Axes:
        """Axes with margins in millimetres; on very small charts the margins shrink with the chart."""
        across = min(1.0, 0.7 * self.width_mm / (left + right))
        along = min(1.0, 0.7 * self.height_mm / (bottom + top))
        x, y = left * across / self.width_mm, bottom * along / self.height_mm
        width = 1 - x - right * across / self.width_mm
        height = 1 - y - top * along / self.height_mm
        return self.canvas.add_axes((x, y, width, height))


def text_mm(frame: Frame, text: str, *, size: float = TEXT_SIZE) -> float:
    """The width of the widest line as it will be drawn."""
    renderer = frame.canvas.canvas.get_renderer()  # type: ignore[attr-defined]
    face = FontProperties(size=size)
    lines = [_printable(line) for line in text.split("\n")]
    widths = [renderer.get_text_width_height_descent(line, face, ismath=False)[0] for line in lines]
    return float(max(widths)) / float(renderer.points_to_pixels(72.0)) * 25.4


def fold(text: str, width_mm: float, *, lines: int) -> str:
    """The text in at most so many lines of so many millimetres, cut with an ellipsis if it must be."""
    per_line = max(4, int(width_mm / CHARACTER_MM))
    clean = re.sub(" +", " ", _printable(text)).strip(" ")
    folded = textwrap.wrap(clean, per_line, max_lines=lines, placeholder=" \u2026")
    return "\n".join(line[:per_line] for line in folded)


def _printable(text: str) -> str:
    return "".join(sign if sign.isprintable() or sign == "\u00a0" else " " for sign in text)


def wrapped(frame: Frame, text: str, width_mm: float, *, lines: int, size: float = TEXT_SIZE) -> str:
    """The words of a text in lines as wide as they will be drawn; what is wider or too much is cut with an ellipsis."""
    found: list[str] = []
    for word in fold(text, 400, lines=1).split(" "):
        longer = f"{found[-1]} {word}" if found else word
        if found and text_mm(frame, longer, size=size) <= width_mm:
            found[-1] = longer
        else:
            found.append(word)
    kept = found[:lines]
    if len(found) > lines:
        kept[-1] += " \u2026"
    return "\n".join(cut(frame, line, width_mm, size) for line in kept)


def cut(frame: Frame, text: str, width_mm: float, size: float) -> str:
    """As much of one line as fits, as it will be drawn."""
    line = fold(text, 400, lines=1)
    if text_mm(frame, line, size=size) <= width_mm:
        return line
    kept = line
    while len(kept) > 1 and text_mm(frame, f"{kept}\u2026", size=size) > width_mm:
        kept = kept[:-1]
    return f"{kept}\u2026"


def spread(wanted: Sequence[float], heights: Sequence[float], *, low: float, high: float) -> list[float]:
    """Centres for labels of given heights that keep their order, do not overlap and stay near where they are wanted.

    Labels that collide form a block around the mean of their wishes; blocks that collide merge. If all do not fit
    between `low` and `high`, they are squeezed evenly.
    """
    if not wanted:
        return []
    room = high - low
    scale = min(1.0, room / sum(heights)) if room > 0 else 0.0
    sizes = [height * scale for height in heights]
    order = sorted(range(len(wanted)), key=lambda index: (wanted[index], index))
    blocks: list[tuple[list[int], float]] = []
    for index in order:
        members, bottom = [index], min(max(wanted[index] - sizes[index] / 2, low), high - sizes[index])
        while blocks and blocks[-1][1] + sum(sizes[i] for i in blocks[-1][0]) > bottom:
            members = blocks.pop()[0] + members
            bottom = _bottom_of(members, wanted, sizes, low, high)
        blocks.append((members, bottom))
    centres = [0.0] * len(wanted)
    for members, bottom in blocks:
        for index in members:
            centres[index] = bottom + sizes[index] / 2
            bottom += sizes[index]
    return centres


def _bottom_of(members: list[int], wanted: Sequence[float], sizes: list[float], low: float, high: float) -> float:
    below, bottoms = 0.0, []
    for index in members:
        bottoms.append(wanted[index] - sizes[index] / 2 - below)
        below += sizes[index]
    return min(max(sum(bottoms) / len(bottoms), low), high - below)


def label_lines(axes: Axes, frame: Frame, lines: Sequence[tuple[float, str, str]], *, room_mm: float) -> None:
    """Labels in the right margin at the height of their line, moved apart where they would touch, with a leader.

    Each of `lines` is a height in data units, a text and a colour.
    """
    box = axes.get_position()
    low, high = axes.get_ylim()
    height_mm, width_mm = box.height * frame.height_mm, box.width * frame.width_mm
    texts = [fold(text, room_mm - 5, lines=3) for _, text, _ in lines]
    heights = [(text.count("\n") + 1) * LINE_MM + 0.6 for text in texts]
    wanted = [(value - low) / (high - low) * height_mm for value, _, _ in lines]
    for (_, _, color), text, wish, centre in zip(
        lines, texts, wanted, spread(wanted, heights, low=-4.0, high=height_mm + 4.0), strict=True
    ):
        end = 1 + 3.5 / width_mm
        axes.plot(
            (1.0, end),
            (wish / height_mm, centre / height_mm),
            transform=axes.transAxes,
            clip_on=False,
            color=color,
            lw=0.6,
        )
        axes.text(
            end + 0.8 / width_mm,
            centre / height_mm,
            text,
            transform=axes.transAxes,
            va="center",
            ha="left",
            color=color,
        )
