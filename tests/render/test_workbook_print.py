"""What of a sheet reaches the paper."""

from __future__ import annotations

import io

import openpyxl
from openpyxl.utils import range_boundaries

from reportgen.compose.records import Sheet, SheetColumn, SheetTable, Workbook
from reportgen.render.excel import workbook_bytes


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
