"""The one look of all charts, and the frame that puts axes and labels at fixed places in millimetres."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from matplotlib.axes import Axes
from matplotlib.figure import Figure as Canvas
from matplotlib.font_manager import FontProperties

DOTS_PER_INCH = 220
INK, GREY, PALE = "#1F2A33", "#66727C", "#D9DEE2"
POINT, LIMIT, BOUND = "#2B5573", "#8C2F22", "#7A5600"
TEXT_SIZE: Final = 7.5
SMALLEST_TEXT: Final = 0.75 * TEXT_SIZE  # 5.6 points
LINE_MM = 3.1  # height of a line of that size, with a little air
_LEADER_MM, _PAPER_EDGE_MM = 3.5, 1.2
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
        return self.canvas.add_axes(self._place(left, right, bottom, top))

    def move(self, axes: Axes, *, left: float, right: float, bottom: float, top: float) -> None:
        """Axes to other margins, once these are known."""
        axes.set_position(self._place(left, right, bottom, top))

    def _place(self, left: float, right: float, bottom: float, top: float) -> tuple[float, float, float, float]:
        across = min(1.0, 0.7 * self.width_mm / (left + right))
        along = min(1.0, 0.7 * self.height_mm / (bottom + top))
        x, y = left * across / self.width_mm, bottom * along / self.height_mm
        return x, y, 1 - x - right * across / self.width_mm, 1 - y - top * along / self.height_mm


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


def in_lines(frame: Frame, text: str, parts: Sequence[str], width_mm: float, size: float) -> list[str]:
    """The text in as few lines as its parts, which follow one another in it, allow; a part is never parted."""
    lines, begin, end = [""], 0, 0
    for part in parts:
        start = text.index(part, end)
        end = start + len(part)
        longer = text[begin:end]
        if lines[-1] and text_mm(frame, longer, size=size) > width_mm:
            begin, longer = start, part
            lines.append("")
        lines[-1] = longer
    return lines


def cut(frame: Frame, text: str, width_mm: float, size: float) -> str:
    """As much of one line as fits, as it will be drawn."""
    line = fold(text, 400, lines=1)
    if text_mm(frame, line, size=size) <= width_mm:
        return line
    kept = line
    while len(kept) > 1 and text_mm(frame, f"{kept}\u2026", size=size) > width_mm:
        kept = kept[:-1]
    return f"{kept}\u2026"


def cut_inside(frame: Frame, text: str, width_mm: float, size: float) -> str:
    """As much of the beginning and of the end of one line as fits, the end the longer."""
    line = fold(text, 400, lines=1)
    return next((one for one in _shorter(line) if text_mm(frame, one, size=size) <= width_mm), "\u2026")


def name_in_lines(frame: Frame, text: str, width_mm: float, *, lines: int) -> str:
    """A name in so many lines; what is too much is left out inside, as its end tells it from others."""
    for one in _shorter(fold(text, 400, lines=1)):
        found = in_lines(frame, one, one.split(" "), width_mm, TEXT_SIZE)
        if len(found) <= lines and all(text_mm(frame, line) <= width_mm for line in found):
            return "\n".join(line.strip(" ") for line in found)
    return "\u2026"


def _shorter(line: str) -> Iterator[str]:
    """The line, then its beginning and its end with ever more left out between them, the end the longer."""
    yield line
    for kept in range(len(line) - 1, 1, -1):
        yield f"{line[: kept // 3]}\u2026{line[len(line) - kept + kept // 3 :]}"


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


@dataclass(frozen=True, slots=True)
class MarginLabel:
    """A label in the right margin: of a line at the height `value`, or of one off the scale on the side `beyond`."""

    text: str
    value: float
    color: str
    beyond: Literal["", "above", "below"] = ""


def margin_text(frame: Frame, label: MarginLabel, width_mm: float) -> str:
    if not label.beyond:
        return wrapped(frame, label.text, width_mm, lines=3)
    return f"{wrapped(frame, f'{label.text},', width_mm, lines=3)}\noff the scale"


def label_lines(axes: Axes, frame: Frame, labels: Sequence[MarginLabel], *, room_mm: float) -> None:
    """Labels at the height of their line, moved apart where they would touch, with a leader.

    Lines off the scale, which have no height here, are told at the end of the margin on their side, each with an arrow
    that points to where its line lies.
    """
    box = axes.get_position()
    low, high = axes.get_ylim()
    height_mm, width_mm = box.height * frame.height_mm, box.width * frame.width_mm
    ends = {
        "below": _PAPER_EDGE_MM - box.y0 * frame.height_mm,
        "above": (1 - box.y0) * frame.height_mm - _PAPER_EDGE_MM,
    }
    texts = [margin_text(frame, label, room_mm) for label in labels]
    heights = [(text.count("\n") + 1) * LINE_MM + 0.6 for text in texts]
    wanted = [ends[one.beyond] if one.beyond else (one.value - low) / (high - low) * height_mm for one in labels]
    centres = spread(wanted, heights, low=ends["below"], high=ends["above"])
    for label, text, wish, centre in zip(labels, texts, wanted, centres, strict=True):
        if label.beyond:
            _draw_arrow(axes, centre, label, width_mm=width_mm, height_mm=height_mm)
        else:
            axes.plot(
                (1.0, 1 + _LEADER_MM / width_mm), (wish / height_mm, centre / height_mm), transform=axes.transAxes,
                clip_on=False, color=label.color, lw=0.6,
            )  # fmt: skip
        axes.text(
            1 + (_LEADER_MM + 0.8) / width_mm, centre / height_mm, text, transform=axes.transAxes, va="center",
            ha="left", color=label.color,
        )  # fmt: skip


def _draw_arrow(axes: Axes, centre: float, label: MarginLabel, *, width_mm: float, height_mm: float) -> None:
    """Beside its label and as high as two lines of it."""
    up = 1 if label.beyond == "above" else -1
    x, tail, tip = 1 + _LEADER_MM / 2 / width_mm, centre - up * 1.9, centre + up * 1.1
    shared: dict[str, Any] = {"transform": axes.transAxes, "clip_on": False, "color": label.color, "gid": "arrow"}
    axes.plot((x, x), (tail / height_mm, tip / height_mm), lw=1.1, solid_capstyle="butt", **shared)
    axes.plot((x,), (tip / height_mm,), ls="none", marker="^" if up > 0 else "v", ms=4.5, mew=0.0, **shared)
