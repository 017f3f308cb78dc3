"""How many lines the rows of a table take, and how to share its width so that they take few."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from reportgen.render.word_widths import CELL_MARGIN, printed_width

_WASTE = 1.06  # lines end at words: of a text of several lines, so much more is needed than its length
_MOST_ROWS_LOOKED_AT = 40
_STEPS = (16, 32, 64, 128)  # parts of the table's width that move from column to column, the large ones first
_MOST_MOVES = 40  # for each of them
_SMOOTH = 0.01  # weighs fractions of a line, so that several small moves can save a whole one


def lines_of_rows(widths: Sequence[int], rows: Sequence[Sequence[str]], *, size: int) -> list[int]:
    """Lines of type `size` that each row takes in columns of these widths, about."""
    room = np.maximum(np.array(widths, dtype=float) - 2 * CELL_MARGIN, 1.0)
    return [int(count) for count in np.ceil(_lines(_lengths(rows, size), room).max(axis=1))] if rows else []


def pages_of(rows: float, page: int) -> int:
    """On how many pages rows of this height stand, about: what is above them takes much of the first one, and rows
    that do not break and repeated headings a part of the others.
    """
    return 1 + max(0, math.ceil((rows - 0.55 * page) / (0.75 * page)))


def balanced(
    widths: Sequence[int], least: Sequence[float], titles: Sequence[str], rows: Sequence[Sequence[str]], *, size: int
) -> tuple[int, ...]:
    """The widths, with room moved from one column to another as long as that makes the table shorter.

    No column gets narrower than `least`, and the sum stays as it is. Of a long table the first rows are looked at.
    """
    total, count = sum(widths), len(widths)
    lengths = _lengths([titles, *rows[:_MOST_ROWS_LOOKED_AT]], size)
    floor = np.minimum(np.array(least, dtype=float), np.array(widths, dtype=float))
    current = np.array(widths, dtype=float)
    pairs = np.array([(take, give) for take in range(count) for give in range(count) if take != give])
    if not len(pairs):
        return tuple(widths)
    for step in (total / parts for parts in _STEPS):
        moves = np.zeros((len(pairs), count))
        moves[np.arange(len(pairs)), pairs[:, 0]] = -step
        moves[np.arange(len(pairs)), pairs[:, 1]] = step
        for _ in range(_MOST_MOVES):
            tried = current + moves[current[pairs[:, 0]] - step >= floor[pairs[:, 0]]]
            if not len(tried):
                break
            costs = _cost(lengths, tried)
            best = int(costs.argmin())
            if costs[best] >= _cost(lengths, current[np.newaxis])[0] - 1e-9:
                break
            current = tried[best]
    edges = np.rint(np.concatenate(([0.0], np.cumsum(current)))).astype(int)
    edges[-1] = total
    return tuple(int(width) for width in np.diff(edges))


def _cost(lengths: np.ndarray, widths: np.ndarray) -> np.ndarray:
    """By candidate: the lines of all rows together."""
    room = np.maximum(widths - 2 * CELL_MARGIN, 1.0)[:, np.newaxis, :]
    lines = _lines(lengths[np.newaxis], room)
    tallest = np.ceil(lines).max(axis=2)
    summed: np.ndarray = tallest.sum(axis=1) + _SMOOTH * lines.max(axis=2).sum(axis=1)
    return summed


def _lines(lengths: np.ndarray, room: np.ndarray) -> np.ndarray:
    """Lines of cells whose text is so long, in columns with so much room; a text that fits takes one."""
    ratio = lengths / room
    return np.where(ratio <= 1.0, 1.0, ratio * _WASTE)


def _lengths(rows: Sequence[Sequence[str]], size: int) -> np.ndarray:
    return np.array([[printed_width(text, size) for text in row] for row in rows])
