"""What the axes of charts show and are called, and where points stand side by side."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence

from reportgen.compose.unbroken import NO_BREAK

# an axis shows a limit as long as what was measured fills this share of it
LEAST_SHARE = 1 / 3
# the widest offset of a point from the middle of its lot's column
SPREAD = 0.36
# of a figure 160 mm wide and 75 mm high, the part for points; and how far two of them must be apart to be two
PLOT_WIDTH_MM, PLOT_HEIGHT_MM, POINT_MM = 103.0, 50.0, 1.6
_STEP_MM = 0.4
# rows of digits from coarse to fine, and how many labels an axis has at least and at most
_ROUND_DIGITS = ("1", "125", ("1", "1.5", "2", "3", "5", "7"), ("1", "1.2", "1.5", "2", "2.5", *"3456789"))
_FEWEST_TICKS, _MOST_TICKS = 4, 8
_MOST_PLACED = 400


def axis_title(name: str, unit: str) -> str:
    """'Deflation time [s]'; a unit that is a word of the name already is not said twice (particles, turns)."""
    begun = name[:1].upper() + name[1:]
    said = {word.strip("(),.").lower() for word in name.split()}
    return f"{begun} [{unit}]" if unit and unit.lower() not in said else begun


def axis_span(
    shown: Sequence[float], wished: Sequence[float], *, least_share: float = LEAST_SHARE
) -> tuple[float, float]:
    """From the lowest to the highest of what must be shown, widened to each wish, nearest first, that leaves it room.

    A limit far from the values would squash them into a line; it is told at the edge instead.
    """
    low, high = min(shown), max(shown)
    extent = high - low
    span = (low, high)
    for wish in sorted(wished, key=lambda one: max(low - one, one - high)):
        wider = (min(span[0], wish), max(span[1], wish))
        if extent == 0 or extent >= least_share * (wider[1] - wider[0]):
            span = wider
    return span


def round_values(low: float, high: float) -> tuple[float, ...]:
    """Round values from `low` to `high`, both above 0, for an axis that does not go in even steps: four to eight of
    them where there are so many, in the coarsest row of digits that has four.
    """
    found: tuple[float, ...] = ()
    for digits in _ROUND_DIGITS:
        first, last = math.floor(math.log10(low)), math.ceil(math.log10(high))
        every = [float(f"{digit}e{power}") for power in range(first, last + 1) for digit in digits]
        found = tuple(value for value in every if low <= value <= high)
        if len(found) >= _FEWEST_TICKS:
            break
    else:
        step = 10 ** math.floor(math.log10((high - low) / _FEWEST_TICKS))
        step = next(step * size for size in (1, 2, 5, 10) if (high - low) / (step * size) <= _MOST_TICKS)
        first, last = math.ceil(low / step), math.floor(high / step)
        found = tuple(float(f"{number * step:.12g}") for number in range(first, last + 1))
    every_nth = math.ceil(len(found) / _MOST_TICKS)
    return found[::every_nth]


def with_unit(number: str, unit: str) -> str:
    """'4.20 N' that no line break parts."""
    return f"{number}{NO_BREAK}{unit}" if unit else number


def side_by_side(values: Sequence[float], *, columns: int, span: tuple[float, float]) -> tuple[float, ...]:
    """Offsets of points in their column, the same on every run: as near its middle as points drawn before allow.

    Points go in the order of their values, so equal ones stand in a row from the middle outwards. A column with no room
    left shares the overlap out evenly.
    """
    if len(values) > _MOST_PLACED:
        return offsets(len(values))
    column_mm = PLOT_WIDTH_MM / max(columns, 1)
    mm_per_unit = PLOT_HEIGHT_MM / ((span[1] - span[0]) or 1.0)
    candidates = _candidates(SPREAD * column_mm)
    placed: list[tuple[float, float]] = []
    heights: list[float] = []
    found = [0.0] * len(values)
    for index in sorted(range(len(values)), key=lambda at: (values[at], at)):
        height = (values[index] - span[0]) * mm_per_unit
        near = placed[bisect_left(heights, height - 2 * POINT_MM) :]
        place = _place(candidates, near, height)
        placed.append((place, height))
        heights.append(height)
        found[index] = round(place / column_mm, 6)
    return tuple(found)


def _candidates(reach_mm: float) -> tuple[float, ...]:
    steps = int(reach_mm / _STEP_MM)
    return (0.0, *(side * at * _STEP_MM for at in range(1, steps + 1) for side in (-1, 1)))


def _place(candidates: Sequence[float], near: Sequence[tuple[float, float]], height: float) -> float:
    """The first candidate that is free, else the one farthest from its nearest neighbour."""
    best, most = 0.0, -1.0
    for candidate in candidates:
        apart = min(((candidate - x) ** 2 + (height - y) ** 2 for x, y in near), default=POINT_MM**2)
        if apart >= POINT_MM**2:
            return candidate
        if apart > most:
            best, most = candidate, apart
    return best


def offsets(count: int) -> tuple[float, ...]:
    """Positions that keep neighbours apart, the same on every run: the base-2 radical inverse of 1, 2, 3..."""
    found = []
    for number in range(1, count + 1):
        share, digit = 0.0, 0.5
        while number:
            share += digit * (number & 1)
            number >>= 1
            digit /= 2
        found.append(round((2 * share - 1) * SPREAD, 6))
    return tuple(found)
