"""Workbooks (.xlsx) as rows of cell texts, without losing what a spreadsheet hides.

calamine reads fast but tells an error cell (#DIV/0!) and a formula whose result was never stored apart from nothing:
both come out blank, and a blank means 'not tested' here. So the raw sheet is searched for either, and only where one
turns up is it looked for cell by cell.
"""

from __future__ import annotations

import datetime
import io
import zipfile
from typing import Any

import openpyxl
import python_calamine
from openpyxl.utils import get_column_letter

from reportgen.lab.grid import FileBytes, Grid
from reportgen.problems import Place, Problem, did_you_mean
from reportgen.shown_numbers import show_decimals
from reportgen.workbook_guard import fault_of


def read_sheets(source: FileBytes, declared: str | None) -> tuple[list[Grid], list[Problem]]:
    """The declared sheet, or all sheets in their order when none is declared."""
    fault = fault_of(source.data)
    if fault:
        return [], [_no_workbook(source, ValueError(fault))]
    try:
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(source.data))
        names = list(book.sheet_names)
    except (python_calamine.CalamineError, OSError, ValueError) as error:
        return [], [_no_workbook(source, error)]
    if declared is not None and declared not in names:
        problem = Problem(
            place=Place(source.file),
            found=f"no sheet {declared!r} among {', '.join(map(repr, names))}",
            expected="the sheet that the layout names",
            mend=did_you_mean(declared, names),
        )
        return [], [problem]
    grids, problems = [], []
    for name in [declared] if declared is not None else names:
        try:
            values = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
        except (python_calamine.CalamineError, OSError, ValueError) as error:
            # a chart sheet has no cells: that is no fault of a file whose sheet was not declared
            if declared is not None:
                problems.append(_no_workbook(source, error))
            continue
        grids.append(_grid(source, name, values))
    show_decimals(source.data, {grid.sheet: grid.rows for grid in grids})
    return grids, problems


def _no_workbook(source: FileBytes, error: Exception) -> Problem:
    return Problem(
        place=Place(source.file),
        found=f"a file that does not open as a workbook: {error}",
        expected="an .xlsx workbook without a password",
        mend="save it again as .xlsx from the spreadsheet program, or export the sheet as CSV",
    )


def _grid(source: FileBytes, sheet: str, values: list[list[Any]]) -> Grid:
    rows = [[_TEXT_OF[type(cell)](cell) for cell in row] for row in values]
    return Grid(source.file, sheet, source.source.sha256, rows, range(1, len(rows) + 1), values)


def _number_text(cell: float) -> str:
    """The shortest decimal that names the stored number; whole numbers without a decimal point, as people see them."""
    if cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    return repr(cell)


def _moment_text(cell: datetime.datetime) -> str:
    return cell.date().isoformat() if cell.time() == datetime.time() else cell.isoformat(sep=" ")


class _Texts(dict[type, Any]):
    def __missing__(self, kind: type) -> Any:
        return str


_TEXT_OF = _Texts(
    {
        str: str.strip,
        float: _number_text,
        int: str,
        bool: lambda cell: "yes" if cell else "no",
        datetime.date: datetime.date.isoformat,
        datetime.datetime: _moment_text,
    }
)


def hidden_faults(source: FileBytes, sheet: str) -> list[Problem]:
    """Error cells and formulas without a stored result on one sheet: neither may pass for a blank cell."""
    if not _may_hide(source.data):
        return []
    try:
        shown = openpyxl.load_workbook(io.BytesIO(source.data), data_only=True)[sheet]
        written = openpyxl.load_workbook(io.BytesIO(source.data), data_only=False)[sheet]
    except (KeyError, ValueError, TypeError, OSError, zipfile.BadZipFile, AttributeError, IndexError) as error:
        return [_no_workbook(source, error)]
    problems = []
    for row, pairs in enumerate(zip(shown.iter_rows(), written.iter_rows(), strict=False), start=1):
        for number, (result, formula) in enumerate(zip(*pairs, strict=False), start=1):
            place = Place(source.file, row=row, column=get_column_letter(number), sheet=sheet)
            if result.data_type == "e":
                problems.append(_error_cell(place, result.value))
            elif formula.data_type == "f" and result.value is None:
                problems.append(_no_result(place, getattr(formula.value, "text", formula.value)))
    return problems


def _error_cell(place: Place, shown: object) -> Problem:
    return Problem(
        place=place,
        found=f"the error {shown!r}",
        expected="a value, or a blank cell where there is none",
        mend="mend the formula in the workbook and save it again",
    )


def _no_result(place: Place, formula: object) -> Problem:
    return Problem(
        place=place,
        found=f"the formula {formula!r} without a stored result",
        expected="a formula whose result is stored in the file",
        mend="open the workbook in a spreadsheet program, let it calculate, and save it",
    )


def _may_hide(data: bytes) -> bool:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            for name in archive.namelist():
                if name.startswith("xl/worksheets/") and name.endswith(".xml"):
                    xml = archive.read(name)
                    if b't="e"' in xml or b"<f>" in xml or b"<f " in xml or b"<f/>" in xml:
                        return True
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, RuntimeError):
        return False
    return False
