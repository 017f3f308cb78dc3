"""What of a sheet reaches the paper."""

from __future__ import annotations

import io

import openpyxl
from openpyxl.utils import range_boundaries

from reportgen.compose.records import Sheet, SheetColumn, SheetTable, Workbook
from reportgen.render.excel import workbook_bytes
from reportgen.render.sheet_sizes import heading_lines


def _last_column(heading: str, note: str) -> int:
    table = SheetTable(name="T", first_row=4, columns=(SheetColumn(title="Evaluation"),), rows=())
    book = Workbook(
        file_name="t.xlsx",
        title="t",
        subject="s",
        author="a",
        created="2026-01-01",
        sheets=(Sheet(title="T", heading=heading, notes=(note,), tables=(table,)),),
    )
    sheet = openpyxl.load_workbook(io.BytesIO(workbook_bytes(book)))["T"]
    return int(range_boundaries(sheet.print_area.split("!")[-1])[2])


def test_a_heading_or_note_longer_than_the_table_is_printed_whole() -> None:
    assert _last_column("VP-1", "short") == 1
    assert _last_column("VP-1: Repeated inflation to the rated pressure", "short") >= 6
    assert _last_column("VP-1", "No result is on file for this protocol, so that nothing could be evaluated.") >= 6


def test_a_wide_sheet_is_printed_in_parts_that_each_say_what_and_in_which_unit() -> None:
    titles = ("Evaluation", "Unit", *(f"Figure {number}" for number in range(1, 31)))
    table = SheetTable(
        name="T", first_row=4, columns=tuple(SheetColumn(title=title) for title in titles), rows=(("x",) * 32,)
    )
    wide = Sheet(title="T", heading="T", notes=("told",), tables=(table,), page_breaks=(17,), repeated_columns=2)
    book = Workbook(file_name="t.xlsx", title="t", subject="s", author="a", created="2026-01-01", sheets=(wide,))
    sheet = openpyxl.load_workbook(io.BytesIO(workbook_bytes(book)))["T"]
    assert sheet.print_title_cols == "$A:$B"
    assert sheet["C2"].value == "told"  # not in a column that every page repeats
    assert [entry.id for entry in sheet.col_breaks.brk] == [17]
    assert sheet.page_setup.orientation == "landscape"


def test_a_heading_of_long_words_is_not_counted_as_if_its_words_were_broken() -> None:
    assert heading_lines("Outstanding", 14.0) == 1
    assert heading_lines("Standard deviation", 12.0) == 2
