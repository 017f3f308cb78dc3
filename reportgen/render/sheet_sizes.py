"""How wide columns, how high rows and how large pages of a sheet are: found out beforehand, since a file only says it.

Widths count digits of the sheet's font (Arial 10), as the file format does.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from reportgen.compose.records import Formatted, Formula, Hyperlink, Sheet, SheetTable, SheetValue

FILTER_BUTTON = 3.0
_NARROWEST, _WIDEST_FITTED, _INDENT = 6.0, 60.0, 1.7
# what fits on A4 and on Letter turned sideways, narrow margins off
_INCHES_PER_CHARACTER, _INCHES_PER_COLUMN, _PRINTABLE_INCHES = 7 / 96, 5 / 96, 10.3
# how far the letters of Arial advance, in widths of a column's character (7 of 96 an inch), by class and rounded up
_NARROW, _WIDE = frozenset("ijlI.,:;'|!()[]/ ft-r"), frozenset("mw%@ABCDEGHKMNOPQRSTUVWXYZ&")
_NARROW_EXTENT, _USUAL_EXTENT, _WIDE_EXTENT = 0.6, 1.06, 1.4
# the heading is set bold in 14 points; a column that was given no width has the usual one
_HEADING_SCALE, _USUAL_WIDTH = 1.5, 8.43
_BREAKABLE = re.compile(r"[^\s-]*-|[^\s-]+|\s+")

WIDE_MARGIN, NARROW_MARGIN = 0.5, 0.3  # inches, on the left and on the right


def wrapped_lines(value: SheetValue, width: float) -> int:
    """How many lines a text takes when it is wrapped: spreadsheet programs do not all find that out by themselves."""
    text = value.text if isinstance(value, Hyperlink) else value if isinstance(value, str) else ""
    room = max(1.0, width - _INDENT)
    if len(text) * _WIDE_EXTENT <= room and "\n" not in text:
        return 1
    return sum(_lines_of(line, room) for line in text.split("\n"))


def _lines_of(text: str, room: float) -> int:
    lines, filled = 1, 0.0
    for piece in _BREAKABLE.findall(text):
        extent = _extent(piece)
        if filled and filled + _extent(piece.rstrip()) > room:
            lines, filled = lines + 1, 0.0
        if extent > room:  # no break in it: it is cut wherever the line ends
            lines += math.ceil(extent / room) - 1
            filled = extent % room
        elif filled or not piece.isspace():
            filled += extent
    return lines


def _extent(text: str) -> float:
    return sum(_NARROW_EXTENT if sign in _NARROW else _WIDE_EXTENT if sign in _WIDE else _USUAL_EXTENT for sign in text)


def column_widths(sheet: Sheet) -> list[float]:
    """Of each column: as wide as its short texts need, else as wide as it was given."""
    count = max((len(table.columns) for table in sheet.tables), default=1)
    return [
        max((_width(table, index) for table in sheet.tables if index < len(table.columns)), default=10.0)
        for index in range(count)
    ]


def _width(table: SheetTable, index: int) -> float:
    column = table.columns[index]
    heading = max(map(len, column.title.split()), default=0) + FILTER_BUTTON
    if column.verdict:
        return max(column.width, heading)
    longest, only_texts, decimals, greatest = 0, True, _decimals(column.number_format), 0.0
    for row in table.rows:
        value = row[index]
        if isinstance(value, Formatted):
            decimals = max(decimals, _decimals(value.number_format))
            value = value.value
        if isinstance(value, Formula):
            value = value.cached
            only_texts = False
        if isinstance(value, Hyperlink):
            value = value.text
        if isinstance(value, str):
            longest = max(longest, len(value))
        elif value is not None:
            only_texts = False
            greatest = max(greatest, abs(value))
    if only_texts:
        widest = column.width if column.wrap else max(_WIDEST_FITTED, column.width)
        return max(_NARROWEST, heading, min(longest * 1.05 + 2.0, widest))
    digits = len(f"{greatest:.0f}") + decimals + 4  # sign, point, and room on either side
    return max(column.width, heading, float(digits))


def _decimals(number_format: str) -> int:
    places = number_format.partition(".")[2]
    return len(places) - len(places.lstrip("0#"))


def heading_lines(title: str, width: float) -> int:
    """How many lines a heading takes beside its filter button; a word that needs the room of the button has it."""
    longest = max(map(_extent, title.split()), default=0.0)
    return wrapped_lines(title, max(width - FILTER_BUTTON, min(longest + _INDENT + 0.1, width)))


def print_scale(page_breaks: Sequence[int], widths: Sequence[float], *, repeated: int = 1) -> int:
    """Percent at which the widest page fits: the columns between two breaks, and the first ones again."""
    starts, ends = (0, *page_breaks), (*page_breaks, len(widths))
    pages = [[*widths[:repeated], *widths[max(start, repeated) : end]] for start, end in zip(starts, ends, strict=True)]
    widest = max(sum(page) * _INCHES_PER_CHARACTER + len(page) * _INCHES_PER_COLUMN for page in pages)
    return max(10, min(100, math.floor(100 * _PRINTABLE_INCHES / widest)))


def columns_beneath(sheet: Sheet, widths: Sequence[float]) -> int:
    """How many columns the heading and the notes run over: what reaches past the print area is cut off on paper."""
    longest = max(_HEADING_SCALE * _extent(sheet.heading), *(_extent(note) for note in sheet.notes), 0.0)
    columns, filled = 0, 0.0
    while filled < longest:
        filled += widths[columns] if columns < len(widths) else _USUAL_WIDTH
        columns += 1
    return columns
