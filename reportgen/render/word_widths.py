"""How wide the columns of a table are: as asked, as far as their words allow."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Sequence
from functools import lru_cache

CELL_MARGIN = 80  # on each side, in twentieths of a point
_BREAKS = re.compile(r"[ \t\r\n]+")
_BREAKS_OF_LONG = re.compile(r"(?<=[-/])")
_LONGEST_WHOLE = 14  # ids and dates of so many characters are not broken at their hyphens
_MOST_OF_TABLE = 0.34  # of the width, for a word that cannot have all it needs
BOLD, _SOME_BOLD = 1.13, 1.04  # '[particles]' is 12 % wider in bold

# Advance widths in thousandths of the type size, read from Liberation Sans, which has those of Arial (a test compares).
_EM = {
    **dict.fromkeys("'ijl|", 222),
    **dict.fromkeys(" !,./:;I[\\]ft\u00a0", 278),
    **dict.fromkeys('()-`r{}"*', 333),
    **dict.fromkeys("Jcksvxyz", 500),
    **dict.fromkeys("#$0123456789?L_abdeghnopqu\u2013", 556),
    **dict.fromkeys("+<=>~\u00d7\u00b5", 584),
    **dict.fromkeys("FTZ", 611),
    **dict.fromkeys("&ABEKPSVXY", 667),
    **dict.fromkeys("CDHNRUw", 722),
    **dict.fromkeys("GOQ", 778),
    **dict.fromkeys("Mm", 833),
    **dict.fromkeys("%W", 944),
    **dict.fromkeys("\u2014\u2026@", 1000),
}
_OTHER = 700


@lru_cache(maxsize=4096)
def printed_width(text: str, size: int) -> float:
    """The width of one line of text, in the unit of `size` (the type size)."""
    return sum(_EM.get(sign, _OTHER) for sign in text) * size / 1000


def column_widths(
    asked: Sequence[float], titles: Sequence[str], rows: Sequence[Sequence[str]], total: int, *, size: int
) -> tuple[int, ...]:
    """Widths in twentieths of a point that add up to `total`.

    Each column gets the width asked for relative to the others, but no less than its longest word, and no more than
    its longest line as long as another column could use the room.
    """
    least = least_widths(titles, rows, total, size=size)
    if sum(least) >= total:
        return _rounded([width * total / sum(least) for width in least], total)
    most = [_longest_line(title, (row[index] for row in rows), size) for index, title in enumerate(titles)]
    most = [max(wide, narrow) for wide, narrow in zip(most, least, strict=True)]
    if sum(most) <= total:
        most = [float(total)] * len(most)
    weights = [max(weight, 1e-6) for weight in asked]
    low, high = 0.0, total / min(weights)
    for _ in range(60):  # halving the interval until it is far below one unit
        middle = (low + high) / 2
        if sum(_clamped(weights, least, most, middle)) < total:
            low = middle
        else:
            high = middle
    return _rounded(_clamped(weights, least, most, high), total)


def least_widths(titles: Sequence[str], rows: Sequence[Sequence[str]], total: int, *, size: int) -> list[float]:
    """What each column needs so that no word breaks; where not all of them can have that, very long words may."""
    needed = whole_words(titles, rows, size=size)
    if sum(needed) <= total:
        return needed
    return [min(width, total * _MOST_OF_TABLE) for width in needed]


def whole_words(titles: Sequence[str], rows: Sequence[Sequence[str]], *, size: int) -> list[float]:
    """What each column needs so that no word breaks, whether or not all of them can have it."""
    needed = []
    for index, title in enumerate(titles):
        words = [printed_width(word, size) * BOLD for word in _BREAKS.split(title)]
        words += [printed_width(piece, size) * _SOME_BOLD for row in rows for piece in _pieces(row[index])]
        needed.append(max(words, default=0.0) * 1.02 + 2 * CELL_MARGIN + 10)
    return needed


def _pieces(text: str) -> list[str]:
    pieces = []
    for word in _BREAKS.split(text):
        pieces += [word] if len(word) <= _LONGEST_WHOLE else _BREAKS_OF_LONG.split(word)
    return pieces


def _longest_line(title: str, texts: Iterable[str], size: int) -> float:
    lines = [printed_width(title, size) * BOLD]
    lines += [printed_width(line, size) * _SOME_BOLD for text in texts for line in text.split("\n")]
    return max(lines) * 1.02 + 2 * CELL_MARGIN + 10


def _clamped(weights: Sequence[float], least: Sequence[float], most: Sequence[float], share: float) -> list[float]:
    return [min(max(weight * share, low), high) for weight, low, high in zip(weights, least, most, strict=True)]


def _rounded(widths: Sequence[float], total: int) -> tuple[int, ...]:
    edges = [round(edge) for edge in itertools.accumulate(widths, initial=0.0)]
    edges[-1] = total
    return tuple(right - left for left, right in itertools.pairwise(edges))
