"""The workbook, row by row: text is always text, a formula carries its value, the same input gives the same bytes."""

from __future__ import annotations

import io
import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

import xlsxwriter

from reportgen.compose.records import (
    Formatted,
    Formula,
    Hyperlink,
    Sheet,
    SheetColumn,
    SheetTable,
    SheetValue,
    Workbook,
)
from reportgen.render.sheet_sizes import (
    NARROW_MARGIN,
    WIDE_MARGIN,
    column_widths,
    columns_beneath,
    heading_lines,
    print_scale,
    wrapped_lines,
)
from reportgen.render.word_text import visible

LONGEST_TEXT = 32_767  # what one cell of the format can hold
_FONT = {"font_name": "Arial", "font_size": 10}
_CUT = " [cut: longer than a cell can hold]"
_LINE_POINTS, _HIGHEST_ROW_POINTS, _TITLE_POINTS = 12.75, 409.0, 24.0
# room between a number and the edge of its cell: not every program indents what stands on the right
_SPACE = "_ "
# word and sign tell a verdict; the fill only repeats it, and stays apart in grey print
_VERDICT_SIGNS = {"met": "✔", "not met": "✖", "not demonstrated": "◐", "not tested": "○", "needs recomputing": "↻"}
_VERDICT_FILLS = {
    "met": "#E3EFE6",
    "not met": "#D9B3AE",
    "not demonstrated": "#F3E4BF",
    "not tested": "#ECECEC",
    "needs recomputing": "#D6E0EC",
}
_BREAKS = re.compile("\r\n|[\r\x85\u2028\u2029]")


def workbook_bytes(workbook: Workbook) -> bytes:
    """The file. Rows are written once, in order, so that memory does not grow with their number."""
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(
        buffer,
        {
            "constant_memory": True,
            "strings_to_formulas": False,
            "strings_to_numbers": False,
            "strings_to_urls": False,
            "use_future_functions": True,
            "nan_inf_to_errors": False,
            # widths of columns are counted in digits of this font
            "default_format_properties": _FONT,
        },
    )
    book.set_properties(
        {
            "title": workbook.title,
            "subject": workbook.subject,
            "author": workbook.author,
            "created": datetime.fromisoformat(workbook.created),
        }
    )
    book.set_calc_mode("auto")
    formats = _Formats(book)
    for sheet in workbook.sheets:
        _draw_sheet(book, sheet, formats)
    book.close()
    return buffer.getvalue()


class _Formats:
    """Each format once: the file lists them in the order of first use, which the same workbook repeats."""

    def __init__(self, book: Any) -> None:
        self._book = book
        self._known: dict[tuple[tuple[str, object], ...], Any] = {}

    def get(self, **properties: object) -> Any:
        given = {**_FONT, "valign": "top"} | properties
        key = tuple(sorted(given.items()))
        if key not in self._known:
            self._known[key] = self._book.add_format(given)
        return self._known[key]

    def of(self, column: SheetColumn, value: SheetValue) -> Any:
        properties: dict[str, object] = {"border": 1, "border_color": "#D0CCC2"}
        if column.number_format:
            properties["num_format"] = column.number_format
        if column.wrap:
            properties["text_wrap"] = True
        if isinstance(value, Hyperlink):
            properties |= {"font_color": "#1F4E8C", "underline": 1}
        if isinstance(value, Formatted):
            properties["num_format"] = value.number_format
            value = value.value
        shown = value.cached if isinstance(value, Formula) else value
        is_number = isinstance(shown, float | int) and not isinstance(shown, bool)
        properties["align"] = align = column.align or ("right" if is_number else "left")
        if align == "left":
            properties["indent"] = 1
        elif number_format := properties.get("num_format"):
            properties["num_format"] = f"{number_format}{_SPACE}"
        if isinstance(value, Formula):
            properties["italic"] = True
        return self.get(**properties)


class _Exact(float):
    """A number that is written with all the digits that name it: the library would keep 16 of up to 17."""

    def __format__(self, _: str, /) -> str:
        return repr(float(self)).removesuffix(".0")


def _draw_sheet(book: Any, sheet: Sheet, formats: _Formats) -> None:
    drawn = book.add_worksheet(sheet.title)
    widths = column_widths(sheet)
    _set_page(drawn, sheet, widths)
    for index, width in enumerate(widths):
        drawn.set_column(index, index, width)
    drawn.set_row(0, _TITLE_POINTS)
    drawn.write_string(0, 0, _text(sheet.heading), formats.get(bold=True, font_size=14))
    # where the first columns are repeated on every page, a note in them would be too, cut off at its edge
    column = sheet.repeated_columns if sheet.page_breaks else 0
    for offset, note in enumerate(sheet.notes, start=1):
        drawn.write_string(offset, column, _text(note), formats.get(font_color="#555555"))
    for table in sheet.tables:
        _draw_table(drawn, table, widths, formats)
    _set_view(drawn, sheet, widths)


def _set_page(drawn: Any, sheet: Sheet, widths: Sequence[float]) -> None:
    drawn.set_paper(9)
    if sheet.landscape:
        drawn.set_landscape()
    if sheet.page_breaks:
        drawn.set_print_scale(print_scale(sheet.page_breaks, widths, repeated=sheet.repeated_columns))
        drawn.set_v_pagebreaks(list(sheet.page_breaks))
        drawn.repeat_columns(0, sheet.repeated_columns - 1)
    else:
        drawn.fit_to_pages(1, 0)
    side = NARROW_MARGIN if sheet.page_breaks else WIDE_MARGIN
    drawn.set_margins(left=side, right=side, top=0.6, bottom=0.6)
    drawn.set_footer("&L&8&A&R&8Page &P of &N")
    drawn.hide_gridlines(2)


def _set_view(drawn: Any, sheet: Sheet, widths: Sequence[float]) -> None:
    """What is printed; where one table fills the sheet, its headings stay in sight, repeat on paper and filter."""
    if not sheet.tables:
        return
    final, width = sheet.tables[-1], max(len(table.columns) for table in sheet.tables)
    printed = width if sheet.page_breaks else max(width, columns_beneath(sheet, widths))
    drawn.print_area(0, 0, final.first_row - 1 + max(len(final.rows), 1), printed - 1)
    if len(sheet.tables) == 1:
        drawn.autofilter(final.first_row - 1, 0, final.first_row - 1 + max(len(final.rows), 1), width - 1)
        drawn.freeze_panes(final.first_row, 1)
        drawn.repeat_rows(final.first_row - 1)


def _draw_table(drawn: Any, table: SheetTable, widths: list[float], formats: _Formats) -> None:
    top = table.first_row - 1
    heading = formats.get(
        bold=True, text_wrap=True, bg_color="#2F3B47", font_color="#FFFFFF", border=1, align="left", indent=1
    )
    titles = (heading_lines(column.title, width) for column, width in zip(table.columns, widths, strict=False))
    _set_height(drawn, top, max(titles, default=1))
    for index, column in enumerate(table.columns):
        drawn.write_string(top, index, _text(column.title), heading)
    wrapped = [index for index, column in enumerate(table.columns) if column.wrap]
    for offset, row in enumerate(table.rows, start=1):
        if wrapped:
            _set_height(drawn, top + offset, max(wrapped_lines(row[index], widths[index]) for index in wrapped))
        for index, (column, value) in enumerate(zip(table.columns, row, strict=True)):
            _write(drawn, top + offset, index, value, formats.of(column, value))
    for index, column in enumerate(table.columns):
        if column.verdict and table.rows:
            _mark_verdicts(drawn, top + 1, top + len(table.rows), index, formats)


def _set_height(drawn: Any, row: int, lines: int) -> None:
    if lines > 1:
        drawn.set_row(row, min(_LINE_POINTS * lines + 2, _HIGHEST_ROW_POINTS))


def _write(drawn: Any, row: int, index: int, value: SheetValue, style: Any) -> None:
    match value:
        case Formatted(value=number):
            _write(drawn, row, index, number, style)
        case None:
            drawn.write_blank(row, index, None, style)
        case Formula(text=text, cached=cached):
            drawn.write_formula(row, index, f"={text}", style, cached)
        case Hyperlink(text=text, sheet=sheet, cell=cell):
            target = "internal:'" + sheet.replace("'", "''") + f"'!{cell}"
            drawn.write_url(row, index, target, style, _text(text))
        case bool():
            drawn.write_string(row, index, "yes" if value else "no", style)
        case str():
            drawn.write_string(row, index, _text(value), style)
        case float():
            drawn.write_number(row, index, _Exact(value), style)
        case _:
            drawn.write_number(row, index, value, style)


def _mark_verdicts(drawn: Any, first: int, last: int, index: int, formats: _Formats) -> None:
    for verdict, fill in _VERDICT_FILLS.items():
        rule: Mapping[str, object] = {
            "type": "cell",
            "criteria": "==",
            "value": f'"{verdict}"',
            "format": formats.get(
                bg_color=fill,
                bold=verdict != "met",
                num_format=f'General;General;General;"{_VERDICT_SIGNS[verdict]} "@',
            ),
        }
        drawn.conditional_format(first, index, last, index, rule)


def _text(text: str) -> str:
    """Text that any spreadsheet program takes as text: signs that hide or break are shown, the too long told as cut."""
    shown = visible(_BREAKS.sub("\n", text))
    return shown if len(shown) <= LONGEST_TEXT else shown[: LONGEST_TEXT - len(_CUT)] + _CUT
